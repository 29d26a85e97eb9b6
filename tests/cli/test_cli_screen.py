"""Text and tables on the terminal: widths, what gives way, colour only where it is wanted."""

from __future__ import annotations

import os
import pty
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from landwise.cli.screen import Column, Console, Count, Table, Text, columns_of

WORDS = st.lists(st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Z"]), min_size=1, max_size=12))
HOSTILE = "U1\x1b[2J\x07\rrows"


def plain(lines):
    return ["".join(text for text, _ in line) for line in lines]


def options(*tails):
    table = Table([Column("outline", no_wrap=True), Column("area mm²", "right"), Column("", below=True)])
    for number, tail in enumerate(tails):
        table.add_row(f"SOT-23-{number}", "14.9", tail)
    return table


# Unicode Standard Annex 11: wide and fullwidth letters take two columns, combining marks none.
@pytest.mark.parametrize(
    ("text", "columns"),
    [("µm", 2), ("×1 (0.25…4.5)", 13), ("抵抗", 4), ("ﾃ", 1), ("Ａ", 2), ("e\u0301", 1), ("Гр", 2), ("\u200dA", 1)],
)
def test_a_letter_takes_the_columns_of_the_unicode_annex(text, columns):
    assert columns_of(text) == columns


@given(WORDS, st.integers(20, 60))
def test_lines_keep_their_width_and_every_word(words, width):
    text = " ".join(words)
    lines = plain(Text(text).lines(width, fold=True))
    assert all(columns_of(line) <= width for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())


@given(st.lists(st.tuples(WORDS, WORDS, WORDS), min_size=1, max_size=4), st.integers(30, 130))
def test_a_table_keeps_its_width_and_every_letter(rows, width):
    table = Table([Column("one", no_wrap=True), Column("two words", "right"), Column("", below=True)])
    for row in rows:
        table.add_row(*(" ".join(words) for words in row))
    lines = plain(table.lines(width))
    assert all(columns_of(line) <= width for line in lines)
    given_letters = sorted("onetwowords" + "".join(word for row in rows for words in row for word in words))
    assert sorted("".join("".join(lines).split())) == given_letters


def test_a_path_stays_whole_outside_a_table():
    path = "/".join(["folder"] * 12)
    assert plain(Text(f"report: {path} (annex.html)").lines(40, fold=False)) == ["report:", path, "(annex.html)"]


def test_lines_that_go_on_stand_as_far_in():
    assert plain(Text("  left out a few of them").lines(16, fold=False)) == ["  left out a few", "  of them"]


def test_a_table_gives_way_in_a_stated_order():
    table = options("likely, not seen; terminals as today", "in use")
    wide = plain(table.lines(70))
    assert wide[1] == "SOT-23-0      14.9  likely, not seen; terminals as today"
    broken = plain(table.lines(50))
    assert broken[1:3] == ["SOT-23-0      14.9  likely, not seen; terminals as", "                    today"]
    under = plain(table.lines(36))
    assert under[1:3] == ["SOT-23-0      14.9", "     likely, not seen; terminals as"]
    assert plain(table.lines(15))[:2] == ["outline    area", "            mm²"]
    assert plain(table.lines(11))[2:4] == ["SOT-23 14.9", "-0"]


def test_numbers_stand_under_each_other_at_the_right():
    table = Table([Column("n", "right"), Column("part")])
    table.add_row("7", "U1")
    table.add_row("120", "抵抗")
    assert plain(table.lines(80)) == ["  n  part", "  7  U1", "120  抵抗"]


def test_no_text_of_a_file_reaches_the_terminal_as_an_order():
    assert "\x1b" not in Text(HOSTILE).plain
    assert Text(HOSTILE).plain == "U1�[2J��rows"


def test_an_unknown_style_is_refused():
    with pytest.raises(ValueError, match=r"unknown style 'blue'.*bold"):
        Text("x", style="bold blue")


CODE = """
from landwise.cli.screen import Console, Count, Text
out = Console()
out.print(Text("U3", style="bold").append(" fails", style="red"), "[bold] µ", style="dim")
with Count(Console(stderr=True), "judging") as count:
    count.update(3, 12)
"""


def stored(**environment):
    done = subprocess.run(
        [sys.executable, "-c", CODE],
        capture_output=True,
        check=True,
        env=os.environ | {"PYTHONUTF8": "1"} | environment,
    )
    assert done.stderr == b""
    return done.stdout.decode()


def shown(**environment):
    """Output and error stream as a terminal of 80 columns sees them."""
    master, slave = pty.openpty()
    done = subprocess.run(
        [sys.executable, "-c", CODE],
        stdout=slave,
        stderr=slave,
        check=True,
        env=os.environ | {"PYTHONUTF8": "1", "TERM": "xterm", "COLUMNS": "80"} | environment,
    )
    os.close(slave)
    seen = b""
    while True:
        try:
            piece = os.read(master, 4096)
        except OSError:
            break
        if not piece:
            break
        seen += piece
    os.close(master)
    assert done.returncode == 0
    return seen.decode()


@pytest.fixture(autouse=True)
def _no_wish_of_the_user(monkeypatch):
    for name in ("NO_COLOR", "FORCE_COLOR"):
        monkeypatch.delenv(name, raising=False)


def test_stored_output_holds_no_colour_and_no_count():
    assert stored() == "U3 fails [bold] µ\n"


def test_a_terminal_shows_colour_and_a_count_that_is_cleared():
    seen = shown()
    assert "\x1b[1mU3\x1b[0m\x1b[31m fails\x1b[0m" in seen
    assert "\x1b[2m[bold] µ\x1b[0m" in seen
    assert "judging ━━━━━━━━━━" in seen
    assert seen.endswith("3/12\r\x1b[K")


@pytest.mark.parametrize("wish", [{"NO_COLOR": "1"}, {"TERM": "dumb"}])
def test_colour_is_left_off_where_it_is_not_wanted(wish):
    assert "\x1b[31m" not in shown(**wish)


def test_colour_can_be_asked_for():
    assert "\x1b[31m fails" in stored(FORCE_COLOR="1")


def test_a_count_never_breaks_its_line():
    out = Console(width=40)
    line = Count(out, "judging a part with a name far too long for the terminal").line(3, 12, "2 a second, 5 s left")
    assert columns_of(line) < 40


def test_an_old_stream_gets_numbers_for_letters_it_does_not_have():
    done = subprocess.run(
        [sys.executable, "-m", "landwise", "defaults"],
        capture_output=True,
        check=False,
        env=os.environ | {"PYTHONIOENCODING": "cp1252"},
    )
    assert (done.returncode, done.stderr) == (0, b"")
    assert "in µ\\u03b5" in done.stdout.decode("cp1252")  # the Greek letter, which the code page does not have
