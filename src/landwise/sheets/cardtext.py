"""Text on a card: what it says in words, and blocks of lines."""

from __future__ import annotations

from dataclasses import dataclass

from landwise.sheets.lettering import line_mm
from landwise.sheets.look import (
    MM_PER_PT,
    Font,
)
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
