"""Which outlines can house a function, and in which a logic family is usually offered."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Literal

from landwise.outlines.catalogue import catalogue
from landwise.outlines.model import Outline

Supply = Literal["usual", "rare", "not known"]
# A little-logic part may leave terminals unused: single gates of five terminals are sold in six-terminal
# leadless bodies with one unconnected (Texas Instruments SCES217: the six-terminal drawings of a
# five-terminal gate). Larger parts are not sold with spare terminals.
LARGEST_WITH_SPARE = 5


def fits(outline: Outline, terminals_needed: int) -> bool:
    """Whether an outline houses a function of that many terminals, by count.

    >>> from landwise.outlines.catalogue import find
    >>> fits(find("SON-6-1.45x1.0"), 5), fits(find("SO-16"), 14)
    (True, False)
    """
    if outline.terminals == terminals_needed:
        return True
    spare = outline.terminals - terminals_needed
    return spare == 1 and terminals_needed <= LARGEST_WITH_SPARE and outline.family == "leadless dual"


def proposals(terminals_needed: int, own: Iterable[Outline] = ()) -> tuple[Outline, ...]:
    """Every outline of the catalogue (and of the user) that houses so many terminals, smallest body first."""
    known = {**catalogue(), **{outline.name: outline for outline in own}}
    found = [outline for outline in known.values() if fits(outline, terminals_needed)]
    return tuple(sorted(found, key=lambda outline: (outline.body_area_mm2, outline.name)))


@dataclass(frozen=True)
class SupplyRow:
    """One row of the supply table."""

    letters: frozenset[str]
    usual: tuple[str, ...]
    reason: str


@cache
def never_usual() -> frozenset[str]:
    """Outlines that no row of the table calls usual, whatever their names begin with."""
    text = resources.files("landwise.outlines").joinpath("supply.toml").read_text(encoding="utf-8")
    return frozenset(tomllib.loads(text)["not_usual"])


@cache
def supply_table() -> tuple[SupplyRow, ...]:
    """The table of `supply.toml`."""
    text = resources.files("landwise.outlines").joinpath("supply.toml").read_text(encoding="utf-8")
    return tuple(
        SupplyRow(frozenset(row["letters"]), tuple(row["usual"]), row["reason"])
        for row in tomllib.loads(text)["supply"]
    )


def usual_supply(letters: str, outline: Outline) -> Supply:
    """Whether a logic family is usually offered in an outline's package style.

    Parameters
    ----------
    letters : str
        Family letters of the part number, such as `HCT`; `little` for one- to three-gate parts; a text the
        table does not hold gives "not known".

    Notes
    -----
    Recalled from the trade's catalogues (`from memory`): a flag for the buyer, not a fact about stock.

    Examples
    --------
    >>> from landwise.outlines.catalogue import find
    >>> usual_supply("F", find("DIP-20")), usual_supply("F", find("QFN-20-2.5x4.5"))
    ('usual', 'rare')
    """
    for row in supply_table():
        if letters in row.letters:
            usual = outline.name.startswith(row.usual) and outline.name not in never_usual()
            return "usual" if usual else "rare"
    return "not known"
