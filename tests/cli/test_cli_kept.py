"""Commands run again: what the first run left in the cache folder is taken, and changes no byte."""

from __future__ import annotations

import pytest

from landwise.cli import main
from landwise.designing.design import Designer
from landwise.memory import forget, keep_on_disk, kept_on

GATE = ["--number", "74LVC1G08", "--present", "SOT-23-5", "--options", "SOT-23-5=0.1, SOT-353=0.09"]


@pytest.fixture
def folder(tmp_path, monkeypatch):
    before = kept_on()
    monkeypatch.setenv("LANDWISE_CACHE", str(tmp_path / "cache"))
    forget()
    yield tmp_path
    keep_on_disk(before)
    forget()


def run(capsys, *argv):
    forget()  # as a new process begins
    try:
        code = main(list(argv))
    except SystemExit as ended:
        code = ended.code
    return code or 0, capsys.readouterr().out


def test_compare_again_works_no_design_and_prints_the_same(capsys, folder, monkeypatch):
    asked = ["compare", *GATE, "--json", "-o", str(folder / "out")]
    first = run(capsys, *asked)
    card = (folder / "out" / "card.svg").read_bytes()
    assert first[0] == 0
    with monkeypatch.context() as patched:
        patched.setattr(Designer, "design", lambda *_: pytest.fail("designed again"))
        assert run(capsys, *asked) == first
        assert (folder / "out" / "card.svg").read_bytes() == card
        moved = run(capsys, *asked, "--max-height", "1.3 mm")
    assert moved[1] != first[1]
    monkeypatch.setenv("LANDWISE_CACHE", "off")
    assert run(capsys, *asked, "--max-height", "1.3 mm") == moved
    assert run(capsys, *asked) == first


@pytest.mark.usefixtures("folder")
def test_the_catalogue_is_read_once_for_a_version(capsys, monkeypatch):
    import landwise.outlines as outlines

    catalogue = __import__("sys").modules["landwise.outlines.catalogue"]
    outlines.catalogue.cache_clear()
    first = run(capsys, "outlines")
    outlines.catalogue.cache_clear()
    monkeypatch.setattr(catalogue, "read_outlines", lambda *_, **__: pytest.fail("read again"))
    assert run(capsys, "outlines") == first
    assert outlines.catalogue()["SO-14"].sources
