"""Text, tables and a moving count on the terminal: bold, dim and four colours, kept to its width.

Small enough to own: what a library for whole screens brings weighs twelve megabytes, most of it for colouring
program text.
"""

from __future__ import annotations

import os
import re
import shutil
import sys
import time
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from types import TracebackType
from typing import IO, Literal

import click

Justify = Literal["left", "right"]
Piece = tuple[str, str]  # text and its style
STORED_WIDTH = 120  # columns where the output is no terminal
LEAST_WIDTH = 20
LEAST_COLUMN = 6  # a column whose words must be broken keeps this much
LEAST_TEXT = 24  # below this a sentence reads better under its row than beside it
WIDE_GAP, NARROW_GAP = 2, 1
INDENT = "     "
BAR = 40
REDRAWN_S = 0.1
_CODES = {"bold": "1", "dim": "2", "red": "31", "yellow": "33", "cyan": "36"}
_WORD = re.compile(r"\s*\S+|\s+$")
_HARMLESS = {0x09: " " * 4, 0x0A: "\n"} | dict.fromkeys([*range(9), *range(11, 32), 127, *range(128, 160)], "�")


def columns_of(text: str) -> int:
    """How many columns of a terminal a text takes.

    Examples
    --------
    >>> columns_of("80 µm"), columns_of("抵抗"), columns_of("e\u0301")
    (5, 4, 1)
    """
    if text.isascii():
        return len(text)
    return sum(_columns(letter) for letter in text)


def _columns(letter: str) -> int:
    if unicodedata.category(letter) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(letter) in "WF" else 1


class Text:
    """A text of one line or more whose pieces may differ in style.

    A style is words out of bold, dim, red, yellow and cyan. What came from a file is shown with its control
    characters replaced, so that no bill can move the cursor.

    Examples
    --------
    >>> Text("U3", style="bold").append(" stays").plain
    'U3 stays'
    """

    def __init__(self, text: str = "", style: str = "") -> None:
        self.pieces: list[Piece] = []
        self.append(text, style)

    def append(self, text: str, style: str = "") -> Text:
        """Put a piece behind; returns itself."""
        unknown = set(style.split()) - _CODES.keys()
        if unknown:
            raise ValueError(f"unknown style {' '.join(sorted(unknown))!r}; known: {', '.join(_CODES)}")
        if text:
            self.pieces.append((text.translate(_HARMLESS), style))
        return self

    def join(self, other: Text) -> Text:
        """Put another text behind; returns itself."""
        self.pieces += other.pieces
        return self

    @property
    def plain(self) -> str:
        """The text alone."""
        return "".join(text for text, _ in self.pieces)

    def __str__(self) -> str:
        return self.plain

    def styled(self, style: str) -> Text:
        """The same with a style where a piece has none."""
        made = Text()
        made.pieces = [(text, own or style) for text, own in self.pieces]
        return made

    def lines(self, width: int, *, fold: bool) -> list[list[Piece]]:
        """Its pieces line by line, broken between words; a word too long is broken only where asked.

        Lines that go on stand as far in as the first.
        """
        made: list[list[Piece]] = []
        for given in self._split():
            letters = [(letter, style) for text, style in given for letter in text]
            plain = "".join(letter for letter, _ in letters)
            for start, end, indent in _breaks(plain, width, fold):
                made.append(_joined([(" ", "")] * indent + letters[start:end]))
        return made

    def _split(self) -> list[list[Piece]]:
        lines: list[list[Piece]] = [[]]
        for text, style in self.pieces:
            first, *others = text.split("\n")
            lines[-1].append((first, style))
            lines += [[(other, style)] for other in others]
        return lines


def _joined(letters: Sequence[Piece]) -> list[Piece]:
    pieces: list[Piece] = []
    for letter, style in letters:
        if pieces and pieces[-1][1] == style:
            pieces[-1] = (pieces[-1][0] + letter, style)
        else:
            pieces.append((letter, style))
    return pieces


def _breaks(plain: str, width: int, fold: bool) -> Iterator[tuple[int, int, int]]:
    """Start, end and indent of each line of one paragraph."""
    if columns_of(plain) <= width:
        yield 0, len(plain), 0
        return
    indent = min(len(plain) - len(plain.lstrip(" ")), width // 3)
    start, end, inset = 0, 0, 0
    for word in _WORD.finditer(plain):
        if start != end and inset + columns_of(plain[start : word.end()].rstrip()) > width:
            yield start, end, inset
            start, inset = word.end() - len(word[0].lstrip()), indent
        end = word.end()
        while fold and inset + columns_of(plain[start:end]) > width:
            cut = start + max(1, _fitting(plain[start:end], width - inset))
            yield start, cut, inset
            start, inset = cut, indent
    if start != end:
        yield start, end, inset


def _fitting(text: str, width: int) -> int:
    """How many letters of a text fit into so many columns."""
    taken = 0
    for count, letter in enumerate(text):
        taken += _columns(letter)
        if taken > width:
            return count
    return len(text)


@dataclass
class Column:
    """One column of a table and its cells.

    Parameters
    ----------
    name : str
        Its head.
    justify : {"left", "right"}
    no_wrap : bool
        Whether its cells stay on one line; a head of several words may be broken all the same.
    most : int, optional
        Columns of the terminal that it may take.
    below : bool
        Whether its cells may stand on lines of their own under their row, where a narrow terminal needs that.
    """

    name: str
    justify: Justify = "left"
    no_wrap: bool = False
    most: int | None = None
    below: bool = False
    cells: list[Text] = field(default_factory=list)

    @property
    def widest(self) -> int:
        """Columns of the terminal that it would like."""
        wide = max((columns_of(line) for text in self._texts() for line in text.splitlines()), default=0)
        return wide if self.most is None else min(wide, self.most)

    @property
    def least(self) -> int:
        """Columns below which words would be broken, or a text be squeezed into a thread."""
        heading, *texts = self._texts()
        unbroken = [heading.split(), *([text] if self.no_wrap else text.split() for text in texts)]
        wide = max((columns_of(word) for words in unbroken for word in words), default=0)
        return min(self.widest, max(wide, LEAST_TEXT) if self.below else wide)

    def _texts(self) -> list[str]:
        return [self.name, *(cell.plain for cell in self.cells)]


class Table:
    """Columns without lines between them, heads in bold.

    Parameters
    ----------
    columns : sequence of Column
    heads : bool
        Whether the heads are shown.

    Examples
    --------
    >>> table = Table([Column("part"), Column("n", "right")])
    >>> table.add_row("U3", "12")
    >>> ["".join(text for text, _ in line) for line in table.lines(80)]
    ['part   n', 'U3    12']
    """

    def __init__(self, columns: Sequence[Column], *, heads: bool = True) -> None:
        self.heads = heads
        self.columns = list(columns)

    def add_row(self, *cells: str | Text) -> None:
        """A further row, one cell for each column."""
        for column, cell in zip(self.columns, cells, strict=True):
            column.cells.append(cell if isinstance(cell, Text) else Text(cell))

    def lines(self, width: int) -> Iterator[list[Piece]]:
        """The table line by line for so many columns of the terminal."""
        beside, gap, widths = self._layout(width)
        under = [column for column in self.columns if column not in beside]
        if self.heads:
            yield from _row([Text(column.name, style="bold") for column in beside], beside, widths, gap)
        for at in range(len(self.columns[0].cells)):
            yield from _row([column.cells[at] for column in beside], beside, widths, gap)
            for column in under:
                if column.cells[at].plain:
                    yield from Text(INDENT).join(column.cells[at]).lines(width, fold=True)

    def _layout(self, width: int) -> tuple[list[Column], int, list[int]]:
        """Which columns stand side by side, the gap between them, how wide each is.

        As they are where that fits; else texts are broken between words, then stand under their row, then the gaps
        shrink, and only then words are broken.
        """
        apart = [column for column in self.columns if not column.below]
        for gap in (WIDE_GAP, NARROW_GAP):
            for beside in (self.columns, apart):
                least = [column.least for column in beside]
                room = width - gap * (len(beside) - 1)
                if sum(least) <= room:
                    return beside, gap, _given([column.widest for column in beside], least, room)
        least = [min(column.least, LEAST_COLUMN) for column in apart]
        return apart, NARROW_GAP, _given([column.least for column in apart], least, room)


def _given(wanted: Sequence[int], least: Sequence[int], room: int) -> list[int]:
    """What each column gets of the room: the widest give way first, none below its least."""
    given = list(wanted)
    while sum(given) > room:
        free = [at for at, wide in enumerate(given) if wide > least[at]]
        if not free:
            break
        given[max(free, key=lambda at: given[at])] -= 1
    return given


def _row(cells: Sequence[Text], columns: Sequence[Column], widths: Sequence[int], gap: int) -> Iterator[list[Piece]]:
    broken = [cell.lines(width, fold=True) for cell, width in zip(cells, widths, strict=True)]
    for at in range(max((len(lines) for lines in broken), default=0)):
        made: list[Piece] = []
        for column, lines, width in zip(columns, broken, widths, strict=True):
            piece = lines[at] if at < len(lines) else []
            space = (" " * (width - sum(columns_of(text) for text, _ in piece)), "")
            made += [(" " * gap, "")] if made else []
            made += [space, *piece] if column.justify == "right" else [*piece, space]
        yield _trimmed(made)


def _trimmed(pieces: Sequence[Piece]) -> list[Piece]:
    """Without blanks at the end."""
    kept = list(pieces)
    while kept:
        text, style = kept.pop()
        if text.rstrip():
            return [*kept, (text.rstrip(), style)]
    return kept


class Console:
    """Where text goes: a terminal in colour at its width, or stored output without.

    Parameters
    ----------
    stderr : bool
        The error stream instead of the output.
    width : int, optional
        Columns; read from the terminal unless given.

    Notes
    -----
    Colour is left off where NO_COLOR is set, where the terminal calls itself dumb, and where there is none;
    FORCE_COLOR asks for it all the same.
    """

    def __init__(self, *, stderr: bool = False, width: int | None = None) -> None:
        self.stderr = stderr
        stream = self._stream
        self.is_terminal = bool(stream.isatty())
        plain = bool(os.environ.get("NO_COLOR")) or os.environ.get("TERM") == "dumb"
        self.in_colour = (self.is_terminal or bool(os.environ.get("FORCE_COLOR"))) and not plain
        asked = shutil.get_terminal_size((STORED_WIDTH, 25)).columns if self.is_terminal else STORED_WIDTH
        self.width = max(LEAST_WIDTH, width or asked)

    @property
    def _stream(self) -> IO[str]:
        return sys.stderr if self.stderr else sys.stdout

    def print(self, *things: str | Text | Table, style: str = "", end: str = "\n") -> None:
        """Texts side by side with a blank between them, or a table; a style holds where a text has none of its own.

        Long lines are broken between words; a word longer than a line, such as a path, stays whole.
        """
        joined = Text()
        lines: list[list[Piece]] = []
        for number, thing in enumerate(things):
            if isinstance(thing, Table):
                lines += thing.lines(self.width)
                continue
            piece = thing if isinstance(thing, Text) else Text(thing)
            joined.append(" " * (number > 0)).join(piece.styled(style))
        if joined.pieces or not lines:
            lines += joined.lines(self.width, fold=False)
        drawn = "\n".join(self._drawn(line) for line in lines)
        click.echo(drawn + end, err=self.stderr, color=self.in_colour, nl=False)

    def _drawn(self, line: Sequence[Piece]) -> str:
        if not self.in_colour:
            return "".join(text for text, _ in line)
        return "".join(
            f"\x1b[{';'.join(_CODES[word] for word in style.split())}m{text}\x1b[0m" if style else text
            for text, style in line
        )


class Count:
    """How far a long run is, on one line that is redrawn and cleared at the end; silent where there is no terminal.

    Parameters
    ----------
    out : Console
    what : str
        What is being counted, to begin with.
    """

    def __init__(self, out: Console, what: str) -> None:
        self.out, self.what = out, what
        self._drawn = -1.0
        self._shown = False

    def __enter__(self) -> Count:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()

    def update(self, done: int, total: int, what: str | None = None, tail: str = "") -> None:
        """Say how many are done of how many, of what, and what stands behind it."""
        self.what = what or self.what
        now = time.monotonic()
        if not self.out.is_terminal or (now - self._drawn < REDRAWN_S and done < total):
            return
        self._drawn, self._shown = now, True
        click.echo("\r\x1b[K" + self.line(done, total, tail), err=self.out.stderr, color=True, nl=False)

    def say(self, what: str) -> None:
        """Say what is being done where nothing is counted."""
        self._drawn = -1.0
        self.update(0, 0, what)

    def line(self, done: int, total: int, tail: str = "") -> str:
        """The line as it is drawn, never wider than the terminal."""
        filled = round(BAR * min(1.0, done / total)) if total > 0 else 0
        count = f"{done}/{total}" if total > 0 else ""
        bar = "━" * filled + "·" * (BAR - filled) if total > 0 else ""
        words = [Text(self.what).plain, bar, count, tail]
        if columns_of(" ".join(words)) >= self.out.width:
            del words[1]
        whole = " ".join(word for word in words if word)
        return whole[: _fitting(whole, self.out.width - 1)]

    def stop(self) -> None:
        """Clear the line."""
        if self._shown:
            click.echo("\r\x1b[K", err=self.out.stderr, color=True, nl=False)
            self._shown = False
