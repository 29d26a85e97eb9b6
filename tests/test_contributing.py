"""The pages for contributors do what they say: examples run as printed, and the walk is the house as it stands."""

from __future__ import annotations

import doctest
import re
from pathlib import Path

import pytest

from landwise.cli import main
from test_imports import ROOMS

PAGES = Path(__file__).resolve().parents[1] / "docs" / "contributing"
BLOCK = re.compile(r"```(toml|python)\n(.*?)```", re.S)


def played(page, folder):
    """Write the files of a page and run its Python, block after block; the names that it leaves."""
    names = {"__name__": page.stem}
    for kind, text in BLOCK.findall(page.read_text(encoding="utf-8")):
        if kind == "toml":
            (folder / text.partition("\n")[0].removeprefix("# ")).write_text(text, encoding="utf-8")
        else:
            exec(compile(text, page.name, "exec"), names)
    return names


@pytest.mark.parametrize("name", sorted(page.stem for page in PAGES.glob("add_*.md")))
def test_the_example_of_the_page_runs_as_printed(name, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    page = PAGES / f"{name}.md"
    assert "assert" in page.read_text(encoding="utf-8")
    names = played(page, tmp_path)
    for value in list(names.values()):
        if callable(value) and getattr(value, "__module__", "") == name:
            for example in doctest.DocTestFinder().find(value, globs=names):
                assert doctest.DocTestRunner(optionflags=doctest.ELLIPSIS).run(example).failed == 0


def test_the_outline_of_its_page_passes_the_check(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    played(PAGES / "add_outline.md", tmp_path)
    with pytest.raises(SystemExit) as end:
        main(["outlines", "check", "mine.toml"])
    assert end.value.code == 0
    assert "SO-10-mine" in capsys.readouterr().out


def test_files_and_modules_that_the_pages_name_are_there():
    root = PAGES.parents[1]
    for page in [*PAGES.glob("*.md"), root / "CONTRIBUTING.md"]:
        for name in re.findall(r"`((?:src|tests|docs|examples)/[\w/.]+)`", page.read_text(encoding="utf-8")):
            assert (root / name).exists(), f"{page.name}: {name}"


def test_the_walk_names_every_room_in_its_order_and_where_to_begin():
    walk = (PAGES / "house.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (`.*?`) \| .*? \| (.*?) \|$", walk, re.M)
    assert tuple(name for cell, _ in rows for name in re.findall(r"`(\w+)`", cell)) == ROOMS
    source = PAGES.parents[1] / "src" / "landwise"
    for cell, begin in rows[1:]:
        for file in re.findall(r"`([\w/.]+)`", begin):
            assert (source / cell.strip("`") / file).is_file(), f"{cell}: {file}"


def test_whoever_takes_a_sample_is_run_whole_and_named_on_the_page():
    tests = Path(__file__).parent
    root = tests.parent
    sampling = re.compile(r"^from whole import|environ\.get\(\"LANDWISE_WHOLE\"\)", re.M)
    files = {path for path in tests.rglob("test_*.py") if sampling.search(path.read_text(encoding="utf-8"))}
    recipe = next(line for line in (root / "Makefile").read_text(encoding="utf-8").splitlines() if "WHOLE=1" in line)
    assert len(files) > 10
    assert {path.relative_to(root).as_posix() for path in files} == set(re.findall(r"tests/\S+\.py", recipe))
    told = (PAGES / "house.md").read_text(encoding="utf-8")
    assert [path.name for path in files if path.name not in told] == []
