"""Text on a card: what it says in words, and blocks of lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from landwise.sheets.cardlayout import AGAINST_LINES, Candidate, at_most
from landwise.sheets.lettering import line_mm, wrapped
from landwise.sheets.look import MM_PER_PT, SMALL, Font
from landwise.sheets.svg import Mark, Text


@dataclass(frozen=True)
class Words:
    title: str
    question: str
    choice: str
    runner_up: str
    footer: str


@dataclass
class Block:
    """Lines of text of one size, with their top at `y` when drawn."""

    lines: tuple[str, ...]
    size_pt: float
    colour: str = "ink"
    font: Font = "sans"

    @property
    def height(self) -> float:
        return len(self.lines) * line_mm(self.size_pt)

    def at(self, x: float, y: float) -> list[Mark]:
        step = line_mm(self.size_pt)
        base = y + 0.8 * self.size_pt * MM_PER_PT + (step - self.size_pt * MM_PER_PT) / 2
        return [
            Text(x, base + n * step, text, self.size_pt, self.colour, self.font)
            for n, text in enumerate(self.lines)
            if text
        ]


@dataclass(frozen=True)
class Row:
    """A label and a cell for each column, without verdicts."""

    label: Block
    cells: tuple[Block, ...]

    @property
    def height(self) -> float:
        return max(block.height for block in (self.label, *self.cells)) + 1.3

    def at(self, x: float, starts: Sequence[float], y: float) -> list[Mark]:
        marks = self.label.at(x, y)
        for cell, start in zip(self.cells, starts, strict=True):
            marks += cell.at(start, y)
        return marks


def against_row(shown: Sequence[Candidate], wides: Sequence[float], label_mm: float) -> Row | None:
    """The ratios of defects under the figures; None where the card doesn't tell any."""
    told = [one.against for one in shown if one.against is not None]
    if not told:
        return None
    cells = tuple(_against(one, wide) for one, wide in zip(shown, wides, strict=True))
    return Row(Block(wrapped(capital(told[0].title), label_mm, SMALL), SMALL, "graphite"), cells)


def _against(one: Candidate, wide: float) -> Block:
    lines = one.against.lines if one.against else ()
    return Block(tuple(line for text in lines for line in at_most(text, wide, AGAINST_LINES)), SMALL)


def capital(text: str) -> str:
    """The text with a capital at its start, as a line that stands alone wants it."""
    return text[:1].upper() + text[1:]
