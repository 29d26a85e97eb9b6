"""Why a design is the one it is: what binds it, what stands beside it, and what each micrometre would buy."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from landwise.designing.case import LEAST_WEB_MM, Case, scored
from landwise.designing.design import Design, Designer, maker_row, plain_row, reduced_row
from landwise.designing.frame import measured
from landwise.designing.margins import WAYS, margin_of, worked
from landwise.designing.points import centres_of
from landwise.designing.search import lattice_steps
from landwise.designing.stacked import Line
from landwise.designing.variables import HEEL, TOE, WIDTH, Changes, openings_of
from landwise.printing.paste import least_opening_um
from landwise.printing.transfer import holding_area_ratio
from landwise.shapes import Placed, least_gap_mm

Array = NDArray[np.float64]
Key = Literal[
    "bridge",
    "open",
    "float",
    "tilt",
    "skew",
    "area ratio",
    "powder",
    "web",
    "pane web",
    "mask",
    "toe",
    "paste",
    "standoff",
    "size",
]
NEAR = 0.02  # share of a limit within which it binds
FOIL_STEP_UM = 5.0
SCATTER_STEP = 0.10  # share by which an offset is made smaller
Offset = Literal["print", "placement"]


@dataclass(frozen=True)
class Binding:
    """One thing that holds a design where it is.

    Parameters
    ----------
    key : str
        A way to fail (the nearest one), or the limit that is met.
    terminal, other : str
        Where; the second terminal of a pair, otherwise empty.
    value, limit : float
        Both in `unit`.
    """

    key: Key
    terminal: str
    other: str
    value: float
    limit: float
    unit: str


@dataclass(frozen=True)
class Beside:
    """Another print of the same part on the same foil.

    `kind` is `one to one`, `a tenth less`, `a fifth less`, `maker's` or `designed`; `margin` in standard deviations.
    """

    kind: Literal["one to one", "a tenth less", "a fifth less", "maker's", "designed"]
    changes: Changes
    margin: float


@dataclass(frozen=True)
class Buys:
    """What would widen a design's margin. [standard deviations per µm]

    Parameters
    ----------
    thinner_foil, thicker_foil : float
        Per micrometre of foil, with the openings as they are.
    print_offset, placement_offset : float
        Per micrometre that what 99.7 % stay within gets smaller.
    """

    thinner_foil: float
    thicker_foil: float
    print_offset: float
    placement_offset: float


@dataclass(frozen=True)
class Reasons:
    """Everything about a design that does not change it."""

    binds: tuple[Binding, ...]
    beside: tuple[Beside, ...]
    buys: Buys


def reasons_of(designer: Designer, design: Design) -> Reasons | None:
    """Why a design is as it is; None where none is worked.

    Parameters
    ----------
    designer : Designer
        That made it.
    design : Design

    Examples
    --------
    >>> from landwise.assembly.scatter import scatter
    >>> from landwise.designing.stacked import Line
    >>> from landwise.lands import land_pattern
    >>> from landwise.outlines import find
    >>> part = find("TVSOP-14")
    >>> designer = Designer(part, land_pattern(part), Line(scatter(0.03, 0.05)))
    >>> found = reasons_of(designer, designer.design(100))
    >>> found.binds[0].key, "powder" in [one.key for one in found.binds]
    ('bridge', True)
    """
    case = designer.case(design.foil.thickness_um)
    if case is None:
        return None
    row = design.changes.row
    return Reasons(tuple(_binds(designer, case, row)), tuple(_beside(designer, case, row)), _buys(case, row))


def _binds(designer: Designer, case: Case, row: Array) -> Iterator[Binding]:
    centres = case.centres_of_row(row)
    table = measured(case.frame, row[None])
    rates = case.rates(table, centres)
    ways = {key: value for key, value in rates.by_mechanism(0).items() if key != "skew"}
    # one of the ways by its key, which `min` makes any text of
    nearest: Any = min(WAYS[:-1], key=lambda key: ways[key])
    first, second = _where(case, row, nearest)
    yield Binding(nearest, first, second, ways[nearest], float(margin_of(1e-4)), "sd")
    base = case.frame.base
    holding = holding_area_ratio(case.line.technology, case.line.powder)
    least = least_opening_um(case.line.powder)
    for number, sizes in table.sizes.items():
        stand, name = case.frame.stands[number], base.joints[number].terminal
        if stand.alike != number:
            continue
        ratio = float(rates.ratio[number][0])
        if holding is not None and ratio <= holding * (1 + NEAR):
            yield Binding("area ratio", name, "", ratio, holding, "")
        narrow = 1000 * float(sizes.narrow[0])
        if stand.kind != "pad" and narrow <= least * (1 + NEAR):
            yield Binding("powder", name, "", narrow, least, "um")
        today = float(case.rates(case.base_table, centres).metal[number][0, 0])
        share = float(rates.metal[number][0, 0]) / today if today else 1.0
        if case.floor.metal and stand.kind != "pad" and share <= case.floor.metal * (1 + NEAR):
            yield Binding("paste", name, "", share, case.floor.metal, "")
        if stand.kind == "pad":
            bars = 1000 * least_gap_mm(_panes(designer, row))
            if bars <= 1000 * case.frame.rules.pane_bar_mm * (1 + NEAR):
                yield Binding("pane web", name, "", bars, 1000 * case.frame.rules.pane_bar_mm, "um")
    for facing, apart in zip(case.frame.facing, table.pairs, strict=True):
        if float(apart.gap[0]) <= LEAST_WEB_MM * (1 + NEAR):
            one, other = (base.joints[n].terminal for n in (facing.first, facing.second))
            yield Binding("web", one, other, 1000 * float(apart.gap[0]), 1000 * LEAST_WEB_MM, "um")
    if case.floor.standoff_um and float(rates.seat_um[0, 0]) <= case.floor.standoff_um * (1 + NEAR):
        yield Binding("standoff", "", "", float(rates.seat_um[0, 0]), case.floor.standoff_um, "um")
    yield from _ends(case, row)


def _panes(designer: Designer, row: Array) -> tuple[Placed, ...]:
    made = openings_of(designer.pattern.lands, designer.outline, Changes.of(row), designer.rules)
    return next((one.openings for one in made if one.terminal == "EP"), ())


def _ends(case: Case, row: Array) -> Iterator[Binding]:
    """Variables that stand at the end of what they may."""
    low, high = case.bounds
    steps = lattice_steps(case)
    first = next((case.frame.base.joints[n].terminal for n, s in case.frame.stands.items() if s.kind != "pad"), "")
    for column in (WIDTH, TOE, HEEL):
        if high[column] - low[column] < 1e-9:
            continue
        if row[column] >= high[column] - steps[column] and column != HEEL:
            key: Key = "toe" if column == TOE else "mask"
            yield Binding(key, first, "", 1000 * float(row[column]), 1000 * float(high[column]), "um")
        elif column == HEEL and row[column] <= low[column] + steps[column]:
            yield Binding("mask", first, "", 1000 * float(row[column]), 1000 * float(low[column]), "um")
        elif column == WIDTH and row[column] <= low[column] + steps[column]:
            yield Binding("size", first, "", 1000 * float(row[column]), 1000 * float(low[column]), "um")


def _where(case: Case, row: Array, way: str) -> tuple[str, str]:
    """The pair that bridges most readily, or the joint that opens most readily."""
    frame, names = case.frame, [joint.terminal for joint in case.frame.base.joints]
    if way == "bridge" and frame.facing:
        rates = []
        for k, facing in enumerate(frame.facing):
            one = replace(frame, facing=(facing,))
            table = measured(one, row[None])
            (centres,) = centres_of(one, table, case.foil_um, case.line, case.pastes[:1])
            found = worked(one, table, case.foil_um, case.line, [(case.pastes[0], centres)], balance=case.balance)
            rates.append((float(found.bridges[0, 0]), -k))
        facing = frame.facing[-max(rates)[1]]
        return names[facing.first], names[facing.second]
    counted = {n: s for n, s in frame.stands.items() if s.count}
    if way == "float":
        return next((names[n] for n, s in frame.stands.items() if s.kind == "pad"), ""), ""
    table = measured(frame, row[None])
    # The opening that releases worst opens first.
    number = min(counted, key=lambda n: float(table.sizes[n].slender[0]))
    return names[number], ""


def _beside(designer: Designer, case: Case, row: Array) -> Iterator[Beside]:
    frame = case.frame
    rows = {
        "one to one": plain_row(frame),
        "a tenth less": reduced_row(frame, 0.1),
        "a fifth less": reduced_row(frame, 0.2),
        "maker's": maker_row(designer.outline, designer.pattern),
        "designed": row,
    }
    known = {key: value for key, value in rows.items() if value is not None}
    found = case.alone(scored(case, np.array(list(known.values())), case.centres_of_row(row)))
    for k, (key, made) in enumerate(known.items()):
        # The keys of `rows` above are its literals.
        yield Beside(key, Changes.of(made), float(found.margins[0, k]))  # type: ignore[arg-type]


def _buys(case: Case, row: Array) -> Buys:
    table = measured(case.frame, row[None])
    centres = case.centres_of_row(row)[0]

    def margin(foil_um: float, line: Line | None = None) -> float:
        at = [(case.pastes[0], centres)]
        found = worked(case.frame, table, foil_um, line or case.line, at, balance=case.balance)
        return float(found.margin[0, 0])

    here, scatter = margin(case.foil_um), case.line.scatter
    thin, thick = margin(case.foil_um - FOIL_STEP_UM), margin(case.foil_um + FOIL_STEP_UM)
    closer = {
        "print": replace(scatter, print_mm=scatter.print_mm * (1 - SCATTER_STEP)),
        "placement": replace(scatter, placement_mm=scatter.placement_mm * (1 - SCATTER_STEP)),
    }
    by_um = {
        key: (margin(case.foil_um, replace(case.line, scatter=one)) - here)
        / (3000 * SCATTER_STEP * (scatter.print_mm if key == "print" else scatter.placement_mm))
        for key, one in closer.items()
    }
    return Buys((thin - here) / FOIL_STEP_UM, (thick - here) / FOIL_STEP_UM, by_um["print"], by_um["placement"])
