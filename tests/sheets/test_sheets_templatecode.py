"""Templates are compiled once and kept where Python keeps compiled modules; a page is the same from either."""

from __future__ import annotations

import sys

import jinja2
import pytest

from landwise.sheets.templatecode import compiled_once


@pytest.fixture(autouse=True)
def _keeping(tmp_path, monkeypatch):
    monkeypatch.setattr(sys, "pycache_prefix", str(tmp_path / "compiled"))
    monkeypatch.setattr(sys, "dont_write_bytecode", False)


def page(folder, **options):
    """A page from the folder's template, and how many templates were compiled for it."""
    made = jinja2.Environment(loader=jinja2.FileSystemLoader(folder), **options)
    count = []
    plain = made.compile

    def counted(*args, **kwargs):
        count.append(args)
        return plain(*args, **kwargs)

    made.compile = counted
    return compiled_once(made).get_template("a.j2").render(name="<b>"), len(count)


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "templates").mkdir()
    (tmp_path / "templates" / "a.j2").write_text("Hello {{ name }}.", encoding="utf-8")
    return tmp_path / "templates"


def kept(folder):
    return sorted(path for path in folder.parent.joinpath("compiled").rglob("*") if path.is_file())


def test_the_second_page_compiles_nothing(folder):
    assert page(folder) == ("Hello <b>.", 1)
    assert page(folder) == ("Hello <b>.", 0)


def test_a_changed_template_or_option_is_compiled_again(folder):
    page(folder)
    assert page(folder, autoescape=True) == ("Hello &lt;b&gt;.", 1)
    (folder / "a.j2").write_text("Bye {{ name }}.", encoding="utf-8")
    assert page(folder, autoescape=True) == ("Bye &lt;b&gt;.", 1)


@pytest.mark.parametrize("wrong", [b"", b"\0" * 40, b"cos\nsystem\n", "half"])
def test_what_can_not_be_read_is_compiled_again(folder, wrong):
    page(folder)
    (file,) = kept(folder)
    file.write_bytes(file.read_bytes()[:-9] if wrong == "half" else wrong)
    assert page(folder) == ("Hello <b>.", 1)
    assert page(folder) == ("Hello <b>.", 0)


def test_nothing_is_written_where_python_writes_nothing(folder, monkeypatch):
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    assert page(folder) == page(folder) == ("Hello <b>.", 1)
    assert kept(folder) == []


def test_where_nothing_can_be_written_the_page_is_made_all_the_same(folder, tmp_path):
    (tmp_path / "compiled").write_text("a file where the folder would be")
    assert page(folder) == page(folder) == ("Hello <b>.", 1)


def test_a_python_that_keeps_no_compiled_modules_makes_the_page_all_the_same(folder, monkeypatch):
    """`importlib.util.cache_from_source` raises NotImplementedError there (Python's documentation of importlib)."""
    monkeypatch.setattr(sys.implementation, "cache_tag", None)
    assert page(folder) == page(folder) == ("Hello <b>.", 1)
    assert kept(folder) == []
