"""Expected defects of parts under a film: joints as the assembly room counts them, and prints an inspection rejects.

Levels come from `assembly/`, the same as a study's, for every part whose family its lands tell. Each kind of part is
worked once a foil and print, however often it stands on the board. One cause counts once: the panes of a pad are one
print, a pair of joints one bridge.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from landwise.assembly.knowledge import default_knowledge
from landwise.assembly.lines import Line
from landwise.assembly.partmodel import part_model
from landwise.assembly.partrates import modelled_draws, over_draws, own_rate
from landwise.errors import LandwiseError
from landwise.lately import Lately
from landwise.memory import is_known, known
from landwise.printing.model import Aperture, Foil, Powder
from landwise.review.catalogued import read_named
from landwise.review.families import PartRead, Spot, apertures_of, printed
from landwise.review.frames import Frames
from landwise.review.model import Component, Floats, Lands

PRINTED_SHARE = 0.5  # a part with fewer of its lands printed is left bare on purpose, or placed by hand
NOTHING = 1e-9  # defects a part with middle inputs: even its worst draws are then far below any other part's
PRINTED_CAUSES = ("bridges", "opens", "moved")  # what a film can change; parts missing or turned are not among them
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
    draws : array or None
        At every draw of what is not known, the same draws for all parts; None where all are alike.
    """

    defects: float
    low: float
    high: float
    bridges: float = 0.0
    opens: float = 0.0
    known: bool = True
    draws: Floats | None = None


UNKNOWN = Level(0.0, 0.0, 0.0, known=False)


@dataclass(frozen=True)
class PartPrinted:
    """A part ready to be worked under any foil: what its lands look like, in its frame, and what prints on each.

    `package` is what a file calls it.
    """

    kind: str
    lands: tuple[Spot, ...]
    centre: tuple[int, ...]
    pitch_mm: float | None
    prints: Prints
    package: str = ""

    @cached_property
    def own(self) -> Key:
        """What tells its lands apart from others'."""
        return (self.kind, _rounded([self.lands]), self.centre, self.package)

    @cached_property
    def key(self) -> Key:
        """What tells it apart, lands and prints."""
        return (self.own, _rounded(self.prints))


@dataclass
class Levels:
    """Works levels and remembers them by what they depend on.

    Parameters
    ----------
    line : Line
        Gives foil technology, scatter, and what its own data say.
    powder : str
    going : callable
        Called before a level is worked; may raise to stop.
    """

    line: Line
    powder: Powder
    going: Callable[[str], None] = field(default=lambda _: None, compare=False)
    _first: dict[Key, PartPrinted] = field(default_factory=dict)
    _reads: dict[Key, PartRead | None] = field(default_factory=dict)
    _levels: dict[Key, Level] = field(default_factory=dict)
    _openings: Lately[tuple[Aperture, ...]] = field(default_factory=lambda: Lately(most=1))

    def meet(self, parts: Iterable[PartPrinted]) -> tuple[PartPrinted, ...]:
        """Parts in the order of the file: of those whose lands are alike the first is read for all.

        Returns these first ones: what is worked in another order, or elsewhere, then comes out the same.
        """
        for part in parts:
            self._first.setdefault(part.own, part)
        return tuple(self._first.values())

    def under(self, part: PartPrinted, foil_um: float) -> Level:
        """A part's level under one foil."""
        key = part.key, foil_um
        if key not in self._levels:
            self.going(f"levels under {foil_um:g} µm")
            self._levels[key] = known(lambda: self._worked(part, foil_um), *self._content(part, foil_um))
        return self._levels[key]

    def has(self, part: PartPrinted, foil_um: float) -> bool:
        """Whether a level need not be worked any more, in this process or on disk."""
        return (part.key, foil_um) in self._levels or is_known(*self._content(part, foil_um))

    def keep(self, part: PartPrinted, foil_um: float, level: Level) -> None:
        """Remember a level that another process worked."""
        self._levels.setdefault((part.key, foil_um), level)

    def _content(self, part: PartPrinted, foil_um: float) -> tuple[object, ...]:
        """All that a level follows from: a board that is reviewed again, with other answers, works none anew."""
        line = self.line
        told = (part.kind, part.lands, part.centre, part.pitch_mm, part.prints, part.package)
        knowledge = line.learned.knowledge if line.learned else None
        learned = (line.learned.rates if line.learned else (), knowledge.key if knowledge else "shipped")
        return (
            "level of a film's part, by name or formula",
            told,
            foil_um,
            line.technology,
            self.powder,
            line.scatter,
            learned,
        )

    def _worked(self, part: PartPrinted, foil_um: float) -> Level:
        reads, own = self._reads, part.own
        if own not in reads:
            one = self._first.get(own, part)
            reads[own] = read_named(one.kind, one.lands, one.centre, one.pitch_mm, one.package)
        read = reads[own]
        if read is None:
            return UNKNOWN
        outer = [k for k in range(len(part.lands)) if k not in part.centre]
        bare = sum(not part.prints[k] for k in outer)
        if bare > PRINTED_SHARE * len(outer):
            return UNKNOWN
        line = self.line
        areas = [one.area_mm2 for one in part.lands]
        # A part is worked under one foil after the other: the outlines of its openings are the same.
        apertures = self._openings.of((read, part), None, lambda: apertures_of(read, part.prints, areas))
        paste = printed(apertures, Foil(foil_um, line.technology), self.powder)
        try:
            model = part_model(read.outline, read.pattern, paste, line.scatter)
        except (LandwiseError, ValueError, ZeroDivisionError, IndexError):
            return UNKNOWN
        if model is None:
            return UNKNOWN
        learned = line.learned
        knowledge = (learned.knowledge if learned else None) or default_knowledge()
        counted = own_rate(read.outline, learned.rates) if learned else None
        by = modelled_draws(model, counted, knowledge=knowledge, nothing=NOTHING)
        if by is None:
            return Level(bare, bare, bare, 0.0, bare)
        draws = sum((by[name] for name in PRINTED_CAUSES), start=np.zeros(len(by["bridges"]))) + bare
        low, high = (float(value) for value in np.quantile(draws, (0.05, 0.95)))
        mean = float(draws.mean())
        bridges, opens = (over_draws(by[name]).value for name in ("bridges", "opens"))
        return Level(mean, min(low, mean), max(high, mean), bridges, opens + bare, draws=draws)


def _rounded(groups: Sequence[Sequence[Spot]]) -> Key:
    return tuple(
        tuple(
            (round(s.x_mm, 2), round(s.y_mm, 2), round(s.length_mm, 3), round(s.width_mm, 3), round(s.area_mm2, 4))
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
