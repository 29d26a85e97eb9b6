"""The documents can't drift from the code."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from landwise.cli import COMMANDS
from landwise.study.file import StudyFile
from landwise.version import __version__

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text()


def test_every_command_stands_in_the_readme():
    assert [name for name in COMMANDS if f"landwise {name}" not in README] == []


def test_every_study_field_stands_in_its_page():
    page = (ROOT / "docs" / "study_file.md").read_text()
    missing = []
    for name, field in StudyFile.model_fields.items():
        inner = getattr(field.annotation, "model_fields", {})
        missing += [f"{name}.{key}" for key in inner if f"`{key}`" not in page and f"[{name}.{key}]" not in page]
    assert missing == []


def test_links_of_the_documents_lead_somewhere():
    for page in [ROOT / "README.md", *(ROOT / "docs").glob("*.md")]:
        for target in re.findall(r"\]\((?!https?:)([^)#]+)\)", page.read_text()):
            assert (page.parent / target).exists(), f"{page.name}: {target}"


def test_change_log_and_package_agree_on_the_version():
    assert f"## {__version__}" in (ROOT / "CHANGELOG.md").read_text()
    assert f'version = "{__version__}"' in (ROOT / "pyproject.toml").read_text()


@pytest.mark.parametrize("script", ["make_schemas.py", "make_lands_compared.py", "make_transfer_page.py"])
def test_generated_pages_are_fresh(script):
    made = subprocess.run(
        [sys.executable, str(ROOT / "docs" / script), "--check"], capture_output=True, text=True, check=False
    )
    assert made.returncode == 0, made.stdout + made.stderr


def test_the_readmes_python_runs(monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    code = re.search(r"```python\n(.*?)```", README, re.S)
    assert code is not None
    exec(code[1], {})
    assert "TSSOP" in capsys.readouterr().out


def test_pins_name_no_index_and_no_machine():
    pins = (ROOT / "constraints.txt").read_text()
    assert "://" not in pins
    assert all(re.fullmatch(r"[a-z0-9-]+==[\w.]+", line) for line in pins.split())


def test_the_example_says_that_it_is_invented():
    assert "INVENTED" in (ROOT / "examples" / "logger" / "board.toml").read_text()
