"""One option on one foil: what a design is scored by, and the limits that it keeps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from landwise.designing.bounds import bounds_of
from landwise.designing.curves import Curve, prior_curve
from landwise.designing.frame import Frame, Table, measured
from landwise.designing.lockstep import Around, Rated, Search, alone
from landwise.designing.margins import Rates, worked
from landwise.designing.points import Centres
from landwise.designing.stacked import Line
from landwise.designing.variables import CENTRE, CORNER, HEEL, ROUND, TOE, WIDTH
from landwise.joints.settling import TARGET_UM
from landwise.printing.paste import least_opening_um
from landwise.printing.transfer import failing_area_ratio, holding_area_ratio

Array = NDArray[np.float64]
T = TypeVar("T")
LEAST_WEB_MM = 0.10  # of foil between openings of two terminals (web-between-openings)
PER_TENTH = 0.05  # standard deviations that a change of a tenth of a side must gain, so that nothing moves for nothing
STEEP = 60.0  # standard deviations taken off for a limit missed by all of it
OF_PRINT = ("bounds", "base_table", "base_rates", "centres", "pastes", "_around")  # of a case, worked once
ENDS: tuple[Literal["mean", "low", "high"], ...] = ("mean", "low", "high")


@dataclass(frozen=True)
class Floor:
    """What a design must keep of the print that it is held against.

    Parameters
    ----------
    metal : float
        Least share of each edge joint's solder.
    standoff_um : float
        Least height of a part that rests on its paste. [µm]
    """

    metal: float = 0.0
    standoff_um: float = 0.0


@dataclass(frozen=True)
class Case:
    """One option on one foil of one line, with the print that its design is held against.

    Parameters
    ----------
    frame : Frame
    foil_um : float
        [µm]
    line : Line
    base : array
        The row of that print.
    floor : Floor
    balance : float
        Height of a leadless part by the balance of forces over what the solder alone would fill, of that print.
    """

    frame: Frame
    foil_um: float
    line: Line
    base: Array
    floor: Floor = field(default_factory=Floor)
    balance: float = 1.0

    @cached_property
    def bounds(self) -> tuple[Array, Array]:
        """Least and largest value of every variable; equal where it is none of this part's."""
        return bounds_of(self.frame, self.line, self.base)

    @cached_property
    def base_table(self) -> Table:
        """What the print to be held against measures."""
        return measured(self.frame, self.base[None])

    @cached_property
    def base_rates(self) -> Rates:
        """Its defects, in the middle and at both ends of the transfer's band."""
        return self.rates(self.base_table, self.centres)

    @cached_property
    def centres(self) -> tuple[Centres, ...]:
        """Design points of that print, in the middle and at both ends of the transfer's band."""
        return self.alone(self._first_centres())

    def _first_centres(self) -> Search[tuple[Centres, ...]]:
        first: tuple[Centres, ...] = yield self.around(self.base, self.pastes[:1])
        others: tuple[Centres, ...] = yield self.around(self.base, self.pastes[1:], first * len(self.pastes[1:]))
        return first + others

    def settled(self) -> Search[None]:
        """Find what else is worked when first asked for: `centres` and `base_rates`."""
        known = vars(self)
        if "centres" not in known:
            known["centres"] = yield from self._first_centres()
        if "base_rates" not in known:
            _, known["base_rates"] = yield self.rated(self.base[None], self.centres)

    def alone(self, search: Search[T]) -> T:
        """What a search comes to without others beside it."""
        return alone(self.frame, self.line, search)

    def around(self, row: Array, pastes: tuple[Curve, ...], near: Sequence[Centres] = ()) -> Around:
        """Asks for design points of a design, found from those of a like one."""
        return Around(self.foil_um, row, pastes, tuple(near))

    def rated(self, designs: Array, centres: Sequence[Centres], pastes: Sequence[Curve] = ()) -> Rated:
        """Asks for what designs measure and their defects, in the middle and at both ends where no curves are given."""
        cases = zip(pastes or self.pastes, centres, strict=True)
        return Rated(self.foil_um, self.balance, designs, tuple(cases))

    def search_centres(self, row: Array) -> Search[tuple[Centres, ...]]:
        """Design points around one design, kept once found."""
        key = row.tobytes()
        if key not in self._around:
            self._around[key] = yield self.around(row, self.pastes, self.centres)
        return self._around[key]

    def centres_of_row(self, row: Array) -> tuple[Centres, ...]:
        """The same at once."""
        return self.alone(self.search_centres(row))

    @cached_property
    def _around(self) -> dict[bytes, tuple[Centres, ...]]:
        return {}

    @cached_property
    def pastes(self) -> tuple[Curve, ...]:
        """The prior's transfer in its middle and at both ends."""
        return tuple(prior_curve(self.line.technology, self.line.powder, end) for end in ENDS)

    def held_to(self, floor: Floor) -> Case:
        """The same case with another floor, which nothing that was worked of its print depends on."""
        found = replace(self, floor=floor)
        vars(found).update({name: worth for name, worth in vars(self).items() if name in OF_PRINT})
        return found

    def rates(self, table: Table, centres: Sequence[Centres]) -> Rates:
        """Defects of every design of a table."""
        cases = list(zip(self.pastes, centres, strict=True))
        return worked(self.frame, table, self.foil_um, self.line, cases, balance=self.balance)


@dataclass(frozen=True)
class Scored:
    """Designs with their margins and what limits them, arrays over designs.

    Parameters
    ----------
    score : array
        What is made largest. [standard deviations]
    margins : array
        In the middle and at both ends of the transfer's band. (3, designs)
    before : array
        Of the print that is held against, worked with the same numbers. (3,)
    missed : mapping of str to array
        Share by which each limit is missed; zero where it holds.
    """

    designs: Array
    score: Array
    margins: Array
    before: Array
    missed: Mapping[str, Array]
    rates: Rates


def scored(case: Case, designs: Array, centres: Sequence[Centres] | None = None) -> Search[Scored]:
    """Score designs: the mean margin over the transfer's band, less what misses a limit, less what moves for little."""
    answer: tuple[Table, Rates] = yield case.rated(np.vstack([case.base, designs]), centres or case.centres)
    table, rates = answer
    margins = rates.margin
    missed = limits(case, table, rates)
    # A design that gains in the middle and loses at one end of what is known gains from the model's error.
    loses = np.maximum(0.0, margins[:, :1] - margins).sum(axis=0)
    score = margins.mean(axis=0) - 2 * loses - STEEP * sum(missed.values())
    score = score - PER_TENTH * 10 * _moved(case, table.designs)
    kept = {key: value[1:] for key, value in missed.items()}
    return Scored(designs, score[1:], margins[:, 1:], margins[:, 0], kept, rates)


def _moved(case: Case, designs: Array) -> Array:
    """How far a design moves from its land, in shares of the sides it moves; corners count little."""
    found = np.zeros(len(designs))
    edges = [s.land.place.shape for s in case.frame.stands.values() if s.kind == "edge"]
    if edges:
        found += np.abs(designs[:, WIDTH]) / min(one.width_mm for one in edges)
        length = min(one.length_mm for one in edges)
        # Both ends together as one length, so that a shortening has one cheapest way: half of it at either end.
        found += np.hypot(designs[:, TOE], designs[:, HEEL]) / length
        found += 0.1 * np.abs(designs[:, CORNER])
    for stand in case.frame.stands.values():
        if stand.kind == "pad":
            found += 0.2 * np.abs(designs[:, CENTRE] - case.base[CENTRE])
        elif stand.kind == "middle":
            found += np.abs(designs[:, CENTRE]) / stand.land.place.shape.length_mm + 0.05 * (1 - designs[:, ROUND])
        elif stand.kind == "ball" and not edges:
            found += np.abs(designs[:, WIDTH]) / stand.land.place.shape.length_mm + 0.05 * (1 - designs[:, ROUND])
            break
    return found


def limits(case: Case, table: Table, rates: Rates) -> dict[str, Array]:
    """By what share each limit is missed; none is stricter than the print held against, the first row. (designs,)"""
    frame, line = case.frame, case.line
    base = case.base_table
    releases = (
        holding_area_ratio(line.technology, line.powder) or 1.0,
        failing_area_ratio(line.technology, line.powder),
    )
    least = least_opening_um(line.powder) / 1000
    size = len(table.designs)
    found = {key: np.zeros(size) for key in ("area ratio", "powder", "web", "paste", "standoff", "length")}

    def miss(key: str, value: Array, limit: float) -> None:
        if limit > 0:
            np.maximum(found[key], np.maximum(0.0, 1 - value / limit), out=found[key])

    for number, sizes in table.sizes.items():
        was = base.sizes[number]
        today = float(was.slender[0]) / case.foil_um * 1000
        # An opening keeps the word its release has today: it holds, it does not fail, or it gets no worse.
        least_ratio = next((one for one in releases if today >= one), today)
        miss("area ratio", rates.ratio[number], least_ratio * (1 - 1e-9))
        if frame.stands[number].kind != "pad":
            miss("powder", sizes.narrow, min(least, float(was.narrow[0])) * (1 - 1e-9))
            miss("paste", rates.metal[number][0], case.floor.metal * float(rates.metal[number][0, 0]))
    for apart, before in zip(table.pairs, base.pairs, strict=True):
        miss("web", apart.gap, min(LEAST_WEB_MM, float(before.gap[0])) * (1 - 1e-9))
    if frame.base.rest.kind in ("film", "float"):
        miss("standoff", rates.seat_um[0], case.floor.standoff_um)
    if frame.base.rest.kind == "float":
        most = max(TARGET_UM[1], float(rates.seat_um[0, 0]))
        np.maximum(found["standoff"], np.maximum(0.0, rates.seat_um[0] / most - 1), out=found["standoff"])
    return found
