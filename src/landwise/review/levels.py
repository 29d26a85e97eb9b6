"""Expected defects of parts under a film: joints as the assembly room counts them, and prints an inspection rejects.

Levels come from `assembly/`, the same as a study's, for every part whose family its lands tell. Each kind of part is
worked once a foil and print, however often it stands on the board. One cause counts once: the panes of a pad are one
print, a pair of joints one bridge.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from landwise.assembly.lines import Line
from landwise.assembly.partmodel import part_model
from landwise.assembly.partrates import part_rates
from landwise.assembly.scatter import scatter
from landwise.errors import LandwiseError
from landwise.printing.model import Foil, Powder
from landwise.review.families import PartRead, Spot, printed, read_part
from landwise.review.frames import Frames
from landwise.review.model import Component, Floats, Lands

PRINTED_SHARE = 0.5  # a part with fewer of its lands printed is left bare on purpose, or placed by hand
MOST_LANDS = 400  # of a grid: joints far from its corners add nothing new, so a larger one is counted by its share
Key = tuple[object, ...]
Prints = tuple[tuple[Spot, ...], ...]


@dataclass(frozen=True)
class Level:
    """Expected defects of one part on one board, with the 90 % range that uncertain inputs leave.

    Parameters
    ----------
    defects, low, high : float
        Joints that bridge, stay open or stand skewed, and lands without paste. [defects a part]
    bridges, opens : float
        [defects a part]
    known : bool
        Whether it comes from the assembly room; False for parts whose family the lands don't tell.
    """

    defects: float
    low: float
    high: float
    bridges: float = 0.0
    opens: float = 0.0
    known: bool = True


UNKNOWN = Level(0.0, 0.0, 0.0, known=False)


@dataclass
class Levels:
    """Works levels and remembers them by what they depend on.

    Parameters
    ----------
    line : Line
        Gives foil technology, print and placement offset.
    powder : str
    """

    line: Line
    powder: Powder
    _reads: dict[Key, PartRead | None] = field(default_factory=dict)
    _levels: dict[Key, Level] = field(default_factory=dict)

    def of(
        self, kind: str, lands: Sequence[Spot], centre: Sequence[int], pitch_mm: float | None, prints: Prints
    ) -> _Part:
        """A part ready to be worked under any foil."""
        return _Part(self, kind, tuple(lands), tuple(centre), pitch_mm, prints)


@dataclass(frozen=True)
class _Part:
    levels: Levels
    kind: str
    lands: tuple[Spot, ...]
    centre: tuple[int, ...]
    pitch_mm: float | None
    prints: Prints

    def under(self, foil_um: float) -> Level:
        """Its level under one foil."""
        own: Key = (self.kind, _rounded([self.lands]), self.centre)
        key: Key = (own, _rounded(self.prints), foil_um)
        kept = self.levels._levels
        if key not in kept:
            kept[key] = self._worked(own, foil_um)
        return kept[key]

    def _worked(self, own: Key, foil_um: float) -> Level:
        reads = self.levels._reads
        if own not in reads:
            reads[own] = _read(self.kind, self.lands, self.centre, self.pitch_mm)
        read = reads[own]
        if read is None:
            return UNKNOWN
        outer = [k for k in range(len(self.lands)) if k not in self.centre]
        bare = sum(not self.prints[k] for k in outer)
        if bare > PRINTED_SHARE * len(outer):
            return UNKNOWN
        line = self.levels.line
        areas = [one.area_mm2 for one in self.lands]
        paste = printed(read, self.prints, areas, Foil(foil_um, line.technology), self.levels.powder)
        try:
            model = part_model(
                read.outline, read.pattern, paste, scatter(line.print_offset_mm, line.placement_offset_mm)
            )
        except (LandwiseError, ValueError, ZeroDivisionError, IndexError):
            return UNKNOWN
        if model is None:
            return UNKNOWN
        found = part_rates(model)
        return Level(
            found.defects.value + bare,
            min(found.defects.low, found.defects.value) + bare,
            max(found.defects.high, found.defects.value) + bare,
            found.bridges.value,
            found.opens.value + bare,
        )


def _read(kind: str, lands: Sequence[Spot], centre: Sequence[int], pitch_mm: float | None) -> PartRead | None:
    try:
        return read_part(kind, lands, centre, pitch_mm)
    except (LandwiseError, ValueError):
        # Lands that no outline of the family can have: its level stays unknown, and the part is judged by its prints.
        return None


def _rounded(groups: Sequence[Sequence[Spot]]) -> Key:
    return tuple(
        tuple(
            (round(s.x_mm, 3), round(s.y_mm, 3), round(s.length_mm, 3), round(s.width_mm, 3), round(s.area_mm2, 4))
            for s in group
        )
        for group in groups
    )


def spots_of(part: Component, lands: Lands, where: Frames) -> tuple[Spot, ...]:
    """A part's lands in its frame."""
    return tuple(
        Spot(
            float(where.x_mm[k]),
            float(where.y_mm[k]),
            float(lands.length_mm[k]),
            float(lands.width_mm[k]),
            float(where.turned_deg[k]),
            float(lands.area_mm2[k]),
        )
        for k in part.lands
    )


def summed(levels: Mapping[int, Level], counts: Mapping[int, int] | None = None) -> tuple[float, float, float]:
    """Defects of many parts together: value, low, high."""
    values = [(one.defects, one.low, one.high) for one in levels.values() if one.known]
    if counts is not None:
        values = [
            (counts[k] * one.defects, counts[k] * one.low, counts[k] * one.high)
            for k, one in levels.items()
            if one.known
        ]
    table: Floats = np.array(values, dtype=np.float64).reshape(-1, 3)
    total = table.sum(axis=0)
    return float(total[0]), float(total[1]), float(total[2])
