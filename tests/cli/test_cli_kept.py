"""Commands run again: what the first run left in the cache folder is taken, and changes no byte."""

from __future__ import annotations

import shutil

import pytest

from landwise.cli import main
from landwise.designing.design import Designer
from landwise.memory import forget, keep_on_disk, kept_on

GATE = ["--number", "74LVC1G08", "--present", "SOT-23-5", "--options", "SOT-23-5=0.1, SOT-353=0.09"]
GATE += ["--foils", "100 um"]  # each foil more is a design more for each


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
        patched.setattr(Designer, "designs", lambda *_: pytest.fail("designed again"))
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


BOARD = """landwise = 1
[board]
name = "two gates (invented)"
length = "40 mm"
width = "30 mm"
[line]
foils = ["100 um"]
foil = "100 um"
print = "as lands"
[want]
max_height = "3 mm"
[[part]]
refs = ["U1", "U2"]
number = "1G08"
family = "LVC"
package = "SOT-23-5"
options = [{ outline = "SOT-23-5", price = 0.03 }, { outline = "SC-70-5", price = 0.02 }]
"""
MOVED = {
    "a limit": ('max_height = "3 mm"', 'max_height = "1.2 mm"'),
    "a price": ("price = 0.02", "price = 0.035"),
    "a part's function": ('"1G08"', '"1G32"'),
}


def files_of(folder):
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_a_board_asked_again_writes_the_bytes_of_a_first_run(capsys, folder, monkeypatch):
    def studied(text, cache):
        (folder / "board.toml").write_text(text)
        shutil.rmtree(folder / "out", ignore_errors=True)
        monkeypatch.setenv("LANDWISE_CACHE", str(folder / cache))
        code, said = run(capsys, "study", str(folder / "board.toml"), "-j", "1", "-o", str(folder / "out"))
        assert code == 0
        return said, files_of(folder / "out")

    first = studied(BOARD, "again")
    for what, (old, new) in MOVED.items():
        moved = BOARD.replace(old, new)
        again, cold = studied(moved, "again"), studied(moved, f"cold for {what}")
        assert again[0] == cold[0]
        assert again[1].keys() == cold[1].keys()
        assert [name for name, content in again[1].items() if cold[1][name] != content] == [], what
        assert again != first, what
