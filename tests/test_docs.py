"""The documents can't drift from the code."""

from __future__ import annotations

import importlib.util
import logging
import re
import shlex
import subprocess
import sys
from pathlib import Path

import click
import griffe
import pytest
import yaml

from landwise.cli import COMMANDS, app
from landwise.evidence import all_formulas
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
    for page in [ROOT / "README.md", ROOT / "CONTRIBUTING.md", *(ROOT / "docs").rglob("*.md")]:
        for target in re.findall(r"\]\((?!https?:)([^)#]+)\)", page.read_text()):
            assert (page.parent / target).exists(), f"{page.name}: {target}"


def test_every_picture_of_the_documents_is_made_by_a_script_and_shown():
    texts = [page.read_text() for page in (ROOT / "README.md", *(ROOT / "docs").rglob("*.md"))]
    linked = set(re.findall(r"\]\((?:docs/)?pictures/([^)]+)\)", "".join(texts)))
    spec = importlib.util.spec_from_file_location("make_pictures", ROOT / "docs" / "make_pictures.py")
    made = importlib.util.module_from_spec(spec)
    sys.modules["make_pictures"] = made  # dataclasses look their module up
    spec.loader.exec_module(made)
    # One picture is drawn by the script that measures what it shows.
    measured = {"choice_growth.svg"}
    assert all(name in (ROOT / "docs" / "make_choice_growth.py").read_text() for name in measured)
    assert linked == {path.name for path in (ROOT / "docs" / "pictures").iterdir()} == measured | set(made.PICTURES)


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


# The site.


def nav_pages(nav):
    for entry in nav:
        for inner in entry.values() if isinstance(entry, dict) else [entry]:
            yield from nav_pages(inner) if isinstance(inner, list) else [inner]


def test_every_page_stands_in_the_navigation_of_the_site_and_nothing_else_does():
    nav = yaml.safe_load((ROOT / "mkdocs.yml").read_text(encoding="utf-8"))["nav"]
    pages = {page.relative_to(ROOT / "docs").as_posix() for page in (ROOT / "docs").rglob("*.md")}
    assert set(nav_pages(nav)) == pages


def commands_of(text):
    """Every landwise command line that a page shows."""
    for line in re.findall(r"^landwise (.+)$|`landwise ([^`]+)`", text, re.M):
        yield shlex.split((line[0] or line[1]).partition(" #")[0])


@pytest.mark.parametrize("page", ["README.md", "docs/tutorial.md", "docs/howto.md", "docs/review.md", "docs/theory.md"])
def test_commands_that_the_pages_show_have_these_options(page):
    context = click.Context(app, info_name="landwise")
    for name, *words in commands_of((ROOT / page).read_text(encoding="utf-8")):
        command = app.get_command(context, name)
        assert name == "COMMAND" or command is not None, name
        known = {option for one in getattr(command, "params", ()) for option in (*one.opts, *one.secondary_opts)}
        if isinstance(command, click.Group):
            known |= {option for one in command.commands.values() for param in one.params for option in param.opts}
        used = {word for word in words if re.fullmatch(r"--?[a-z][\w-]*", word)} - {"--help"}
        assert used <= known, f"{page}: landwise {name} {used - known}"


def test_the_pages_made_from_the_code_hold_every_command_formula_and_module():
    spec = importlib.util.spec_from_file_location("site_pages", ROOT / "docs" / "site" / "pages.py")
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    pages = {file: text for file, (_, text) in made.made_pages().items()}
    assert all(f"## landwise {name}" in pages["reference/commands.md"] for name in COMMANDS)
    assert all(f"## {key}" in pages["reference/formulas.md"] for key in all_formulas())
    assert "::: landwise.lands.pattern\n" in pages["reference/api_lands.md"]
    assert "::: landwise.choosing.optimum.model\n" in pages["reference/api_choosing.md"]


def test_every_command_stands_among_what_you_want():
    page = (ROOT / "docs" / "howto.md").read_text(encoding="utf-8")
    assert [name for name in COMMANDS if f"`landwise {name}" not in page] == []


def docstrings(module):
    """Every docstring of a module and of all below it."""
    for member in module.members.values():
        if member.is_alias:
            continue
        if member.docstring:
            yield member.path, member.docstring
        if member.is_module or member.is_class:
            yield from docstrings(member)


def test_docstrings_read_as_the_strict_build_of_the_site_wants_them(caplog):
    """`make docs` stops at a parameter that is none, and at brackets of an example that stands outside its heading."""
    made = griffe.load("landwise", search_paths=[ROOT / "src"], docstring_parser="numpy", allow_inspection=False)
    linked = []
    with caplog.at_level(logging.WARNING, logger="griffe"):
        for path, docstring in docstrings(made):
            said = [str(one.value) for one in docstring.parsed if one.kind is griffe.DocstringSectionKind.text]
            linked += [path for text in said if re.search(r"\]\s?\[", re.sub(r"`[^`]*`", "", text))]
    assert [record.getMessage() for record in caplog.records if "griffe" in record.name] == []
    assert linked == []


def test_the_site_builds_and_loads_nothing_from_outside(tmp_path):
    """Without the reference of the rooms, which takes as long as all else: `make docs` builds that too."""
    settings = yaml.safe_load((ROOT / "mkdocs.yml").read_text(encoding="utf-8"))
    settings |= {"docs_dir": str(ROOT / "docs"), "site_dir": str(tmp_path / "site"), "hooks": [], "plugins": ["search"]}
    (tmp_path / "mkdocs.yml").write_text(yaml.safe_dump(settings), encoding="utf-8")
    built = subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "--strict", "--quiet", "-f", str(tmp_path / "mkdocs.yml")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert built.returncode == 0, built.stderr
    page = (tmp_path / "site" / "theory.html").read_text(encoding="utf-8")
    loaded = re.findall(r"<(?:script|img|link)[^>]*(?:src|href)=\"([^\"]+)\"", page)
    assert loaded
    assert not [address for address in loaded if "//" in address]
