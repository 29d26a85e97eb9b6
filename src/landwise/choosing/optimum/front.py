"""The trade-off: every choice that can't be bettered in one of cost, area, risk without losing in another."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from landwise.choosing.optimum.model import Array, Problem, Row, Solution
from landwise.choosing.optimum.solve import solve

TINY = 1e-7  # of an axis' span: two points nearer than this are one
MOST_POINTS = 400


@dataclass(frozen=True)
class Axis:
    """One thing to keep small: what each option, each shared decision and each charge adds."""

    name: str
    use: Array
    shared: Array
    unit: str = ""
    charged: Array | None = None


@dataclass(frozen=True)
class Point:
    """One choice of the trade-off with its value on each axis."""

    values: tuple[float, ...]
    found: Solution


def front(
    problem: Problem,
    axes: Sequence[Axis],
    *,
    points: int | None = None,
    most: int = MOST_POINTS,
    stop: Callable[[], bool] | None = None,
) -> tuple[tuple[Point, ...], bool]:
    """The Pareto set of two or three axes.

    Parameters
    ----------
    problem : Problem
        Its limits hold for every point; its cost is not used.
    axes : sequence of Axis
    points : int, optional
        For two axes: this many points evenly spaced over the second axis instead of all of them.
    most : int
        Where to stop when listing all; what is known by then is returned, a few more at times.
    stop : callable, optional
        True ends the listing.

    Returns
    -------
    points : tuple of Point
        By the first axis, then the others.
    complete : bool
        Whether these are all there are.

    Notes
    -----
    Each point is the least of the first axis within bounds on the others, and then the least sum of the
    others at that value, so no other choice is better in one axis and as good in the rest. Bounds start
    at infinity; the point least on the first axis splits the regions that hold it along every other axis,
    until all are empty
    (the usual splitting of search regions by local upper bounds).
    """
    shape = problem.cost.shape
    uses = [np.broadcast_to(axis.use, shape) for axis in axes]
    spans = [max(float(np.ptp(use[problem.allowed])) if problem.allowed.any() else 0.0, 1e-9) for use in uses]

    def least(bounds: Sequence[float]) -> Point | None:
        limited = problem.with_rows(
            *(
                Row(f"axis {axis.name}", use, bound, axis.shared, charged=axis.charged)
                for axis, use, bound in zip(axes[1:], uses[1:], bounds, strict=True)
                if np.isfinite(bound)
            )
        )
        first = solve(replace(limited, cost=np.array(uses[0]), shared_cost=axes[0].shared, charged=axes[0].charged))
        if not first.found:
            return None
        held = Row(
            "axis first",
            uses[0],
            first.value + 1e-9 * max(1.0, abs(first.value)),
            axes[0].shared,
            charged=axes[0].charged,
        )
        rest: Array = sum((use / span for use, span in zip(uses[1:], spans[1:], strict=True)), np.zeros(shape))
        shared: Array = sum(
            (axis.shared / span for axis, span in zip(axes[1:], spans[1:], strict=True)), np.zeros(shape[0])
        )
        once = [_once(problem, axis) / span for axis, span in zip(axes[1:], spans[1:], strict=True)]
        second = solve(
            replace(limited.with_rows(held), cost=rest, shared_cost=shared, charged=np.sum(once, axis=0)),
            known=(first,),
        )
        best = second if second.found else first
        due = problem.opened(best.choice)
        values = tuple(
            float(use[best.decision, np.arange(shape[1]), list(best.choice)].sum() + axis.shared[best.decision])
            + float(_once(problem, axis) @ due)
            for axis, use in zip(axes, uses, strict=True)
        )
        return Point(values, best)

    if points is not None and len(axes) == 2:
        return _spaced(problem, axes, uses, least, points), False
    found: list[Point] = []
    # Best point of each region still open; regions without a choice are dropped at once.
    zones: dict[tuple[float, ...], Point] = {}
    waiting: list[tuple[float, ...]] = [(float("inf"),) * (len(axes) - 1)]
    while waiting or zones:
        for zone in waiting:
            if stop is not None and stop():
                return _sorted(found), False
            point = least(zone)
            if point is not None:
                zones[zone] = point
        if not zones:
            break
        # The best of an open region is on the trade-off: enough of them known means too many in all.
        if len(found) + len({one.values for one in zones.values()}) > most:
            return _sorted([*found, *{one.values: one for one in zones.values()}.values()]), False
        # The least of all open regions: nothing left anywhere is better on the first axis, so what it
        # bounds from below can be cut off every region that holds it.
        point = min(zones.values(), key=lambda one: one.values)
        found.append(point)
        left = _split(list(zones), point.values[1:], spans[1:])
        waiting = [zone for zone in left if zone not in zones]
        zones = {zone: zones[zone] for zone in left if zone in zones}
    return _sorted(found), True


def _once(problem: Problem, axis: Axis) -> Array:
    return np.zeros(len(problem.charges)) if axis.charged is None else axis.charged


def _split(zones: Sequence[tuple[float, ...]], at: Sequence[float], spans: Sequence[float]) -> list[tuple[float, ...]]:
    """Regions left once a point is known: those that hold it are cut below it along each axis."""
    cut = []
    for zone in zones:
        if not all(value <= bound for value, bound in zip(at, zone, strict=True)):
            cut.append(zone)
            continue
        for axis, (value, span) in enumerate(zip(at, spans, strict=True)):
            below = value - max(TINY * span, 4e-9 * max(1.0, abs(value)))
            cut.append((*zone[:axis], below, *zone[axis + 1 :]))
    unique = list(dict.fromkeys(cut))
    return [
        zone
        for zone in unique
        if not any(other != zone and all(z <= o for z, o in zip(zone, other, strict=True)) for other in unique)
    ]


def _spaced(
    problem: Problem,
    axes: Sequence[Axis],
    uses: Sequence[Array],
    least: Callable[[Sequence[float]], Point | None],
    points: int,
) -> tuple[Point, ...]:
    first = least((float("inf"),))
    lowest = solve(replace(problem, cost=np.array(uses[1]), shared_cost=axes[1].shared, charged=axes[1].charged))
    if first is None or not lowest.found:
        return ()
    found = [first]
    for bound in np.linspace(first.values[1], lowest.value, points)[1:]:
        point = least((float(bound) + 1e-9 * max(1.0, abs(float(bound))),))
        if point is not None and not any(np.allclose(point.values, other.values, rtol=1e-9) for other in found):
            found.append(point)
    return _sorted(found)


def _sorted(found: Sequence[Point]) -> tuple[Point, ...]:
    return tuple(sorted(found, key=lambda point: point.values))
