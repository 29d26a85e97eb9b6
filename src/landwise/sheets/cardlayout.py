"""What a comparison card shows and at what size: candidates, their order, the sheet and the scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from landwise.errors import InputError
from landwise.evidence.figures import Verdict
from landwise.lands.model import LandPattern
from landwise.outlines.model import Outline
from landwise.printing.model import Print
from landwise.sheets.lettering import shortened, wrapped
from landwise.sheets.look import (
    SMALL,
    Font,
)
from landwise.sheets.profile import SideView, SolderProfile, side_view
from landwise.sheets.svg import Picture

A4, A3 = (297.0, 210.0), (420.0, 297.0)


MARGIN = 11.0


SCALES = (50.0, 40.0, 30.0, 25.0, 20.0, 15.0, 12.0, 10.0, 8.0, 6.0, 5.0, 4.0, 3.0, 2.5, 2.0, 1.5, 1.0)


FIGURES = 5


MOST_SHOWN = 9


MOST_ON_A4 = 5


GUTTER = 5.0  # between columns


LEAST_COLUMN = 31.0


LABEL_SHARES = (0.17, 0.15, 0.13, 0.11)  # of the sheet's width, for the figures' names


GOOD_SCALE = 2.5  # below this fine leads run together: a larger sheet is taken instead


RULE_ZONE = 9.0  # from the ground line to the top of the highest side view


SENTENCE_LINES = 5  # of a verdict's sentence


FIGURE_LINES = 3  # of a figure's value


AGAINST_LINES = 2  # of one ratio


@dataclass(frozen=True)
class Against:
    """Ratios of defects, a line each, with what they stand against."""

    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True)
class Candidate:
    """One package on the card.

    Parameters
    ----------
    outline, pattern, print_
        What is drawn.
    figures : tuple of (title, text, verdict)
        Exactly five, the same titles for every candidate; no verdict where there is nothing to keep.
    verdict, why
        Of the whole, with one sentence.
    area_text : str
        Area, and what it saves against the part in use: `22 mm², saves 60 %`.
    is_choice, is_present : bool
        Whether this one is chosen, and whether it is in use today.
    name : str
        Printed instead of the outline's name, such as a part number with its package.
    solder : SolderProfile, optional
        Computed solder for the side view.
    against : Against, optional
        How often its joints fail over those of another.
    """

    outline: Outline
    pattern: LandPattern
    print_: Print | None
    figures: tuple[tuple[str, str, Verdict | None], ...]
    verdict: Verdict
    why: str
    area_text: str = ""
    is_choice: bool = False
    is_present: bool = False
    name: str = ""
    solder: SolderProfile | None = None
    against: Against | None = None

    def __post_init__(self) -> None:
        if len(self.figures) != FIGURES:
            raise InputError(
                "a candidate of the card needs its headline figures",
                place=self.title,
                found=str(len(self.figures)),
                expected=f"exactly {FIGURES}",
            )

    @property
    def title(self) -> str:
        """The name that stands over the column."""
        return self.name or self.outline.name


@dataclass(frozen=True)
class Card:
    """A laid-out card: its picture, its paper, its scale, and who is on it."""

    picture: Picture
    size_mm: tuple[float, float]
    magnification: float
    shown: tuple[Candidate, ...]
    left_out: int


def ranked_first(candidates: Sequence[Candidate], count: int) -> list[Candidate]:
    """The first `count`, but never without the choice and the part in use."""
    must = [one for one in candidates if one.is_choice or one.is_present]
    others = [one for one in candidates if one not in must]
    kept = [*must[:count], *others[: max(0, count - len(must))]]
    return [one for one in candidates if any(one is other for other in kept)]


def at_most(text: str, width: float, lines: int, size_pt: float = SMALL, font: Font = "sans") -> tuple[str, ...]:
    """Text in at most so many lines; what is cut shows an ellipsis."""
    broken = wrapped(text, width, size_pt, font)
    if len(broken) <= lines:
        return broken
    rest = " ".join(broken[lines - 1 :])
    return (*broken[: lines - 1], shortened(rest, width, size_pt, font))


class Views:
    """The side views of some candidates at each scale, drawn once for every sheet that they are tried on."""

    def __init__(self, shown: Sequence[Candidate]) -> None:
        self.shown = shown
        self._drawn: dict[float, list[SideView]] = {}

    def at(self, m: float) -> list[SideView]:
        """One view a candidate."""
        if m not in self._drawn:
            self._drawn[m] = [
                side_view(one.outline, one.pattern, one.print_, magnification=m, solder=one.solder)
                for one in self.shown
            ]
        return self._drawn[m]
