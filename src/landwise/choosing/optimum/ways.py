"""One choice over grouping and options: each set of parts may come in one of several ways.

A way is a list of parts that would be on the board together; a set takes exactly one way. Every set becomes one part
whose options are a way with an option for each of its parts, so the search and its proof are those of a plain choice.
Options that another one of the same part always does as well as, whatever the rest of the board, are left out first.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import prod

import numpy as np

from landwise.choosing.optimum.model import OUTLINES, Array, Ban, Charge, Mask, Problem, Row, Solution
from landwise.errors import InputError

WAY = "grouping"
MOST_COMBINED = 20_000  # combined options of one set; beyond it the tables of the choice no longer fit the memory
Ways = tuple[tuple[int, ...], ...]


@dataclass(frozen=True)
class Combined:
    """What one combined option stands for: the way, and the option of each of its parts."""

    way: int
    options: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Composed:
    """A choice whose parts are the fixed parts, in their order, then the sets.

    Parameters
    ----------
    problem : Problem
    fixed : tuple of int
        The parts of the whole that are on the board in any case.
    combined : tuple of tuple of Combined
        What the options of each set stand for.
    """

    problem: Problem
    fixed: tuple[int, ...]
    combined: tuple[tuple[Combined, ...], ...]

    def ways(self, found: Solution) -> tuple[int, ...]:
        """The way of each set in a solution."""
        picked = found.choice[len(self.fixed) :]
        return tuple(some[k].way for some, k in zip(self.combined, picked, strict=True))

    def options(self, found: Solution) -> dict[int, int]:
        """The option of every part that is on the board."""
        taken = dict(zip(self.fixed, found.choice, strict=False))
        for some, k in zip(self.combined, found.choice[len(self.fixed) :], strict=True):
            taken |= dict(some[k].options)
        return taken

    def held(self, ways: Mapping[int, int]) -> Problem:
        """The same choice with some sets held in one way each."""
        out: Mask = np.zeros(self.problem.exists.shape, dtype=bool)
        for one, way in ways.items():
            for k, combined in enumerate(self.combined[one]):
                out[len(self.fixed) + one, k] = combined.way != way
        ban = Ban(WAY, np.broadcast_to(out, self.problem.cost.shape))
        return replace(self.problem, bans=(*self.problem.bans, ban))


def composed(problem: Problem, sets: Sequence[Ways]) -> Composed:
    """The choice over ways and options as a plain choice.

    Parameters
    ----------
    problem : Problem
        All parts of all ways, as if all were on the board.
    sets : sequence of ways
        For each set its ways, each the parts it puts on the board. A part stands in one way only.

    Raises
    ------
    InputError
        For a part in two ways or in a group, or a set with too many combined options.

    Notes
    -----
    Costs and sums are sums over parts, so a combined option has the sum of its parts'; it needs every charge that one
    of its parts needs; it is out where one of its parts is. A limit on different outlines becomes a sum over charges of
    no cost, one for each outline. A part's option is dropped where another has no higher cost and use in any decision
    where it is allowed, counting in full every charge that the other needs in addition: exchanging it never harms.

    Examples
    --------
    Two parts of 1.0 each or one of 1.5:

    >>> from landwise.choosing.optimum.solve import solve
    >>> one = Problem(np.array([[[1.0], [1.0], [1.5]]]), np.zeros(1), np.ones((3, 1), bool), np.zeros((3, 1), int))
    >>> made = composed(one, [((0, 1), (2,))])
    >>> found = solve(made.problem)
    >>> found.value, made.ways(found), made.options(found)
    (1.5, (1,), {2: 0})
    """
    members = [p for ways in sets for way in ways for p in way]
    if len(set(members)) != len(members):
        raise InputError("a part stands in two ways")
    if set(members) & {p for group in problem.groups for p in group}:
        raise InputError("a part whose outline is tied to others can't be regrouped")
    fixed = tuple(p for p in range(problem.parts) if p not in set(members))
    counted = _with_outlines_charged(problem)
    combined = tuple(_combined(counted, ways) for ways in sets)
    return Composed(_tables(counted, fixed, combined), fixed, combined)


def _with_outlines_charged(problem: Problem) -> Problem:
    """A limit on different outlines as a sum over charges, so that a combined option may bring several."""
    if problem.most_outlines is None:
        return problem
    numbers = sorted({int(one) for one in problem.outline[problem.exists]})
    added = tuple(Charge(f"{OUTLINES} {n}", problem.exists & (problem.outline == n)) for n in numbers)
    charged = np.concatenate([problem.due, np.zeros(len(added))])
    rows = tuple(
        row if row.charged is None else replace(row, charged=np.concatenate([row.charged, np.zeros(len(added))]))
        for row in problem.rows
    )
    counts = np.concatenate([np.zeros(len(problem.charges)), np.ones(len(added))])
    limit = Row(OUTLINES, np.zeros((1, 1, 1)), float(problem.most_outlines), charged=counts)
    return replace(
        problem, rows=(*rows, limit), charges=(*problem.charges, *added), charged=charged, most_outlines=None
    )


def _combined(problem: Problem, ways: Ways) -> tuple[Combined, ...]:
    found: list[Combined] = []
    for number, way in enumerate(ways):
        kept = [undominated(problem, p) for p in way]
        if len(found) + prod(len(some) for some in kept) > MOST_COMBINED:
            raise InputError(
                "too many ways to combine the packages of parts that may be regrouped",
                expected=f"at most {MOST_COMBINED}: fewer gates in one set, or options named for each part",
            )
        found += [Combined(number, tuple(zip(way, picked, strict=True))) for picked in itertools.product(*kept)]
    return tuple(found)


def undominated(problem: Problem, p: int) -> list[int]:
    """Options of a part that no other one does as well as whatever else is chosen."""
    allowed = problem.allowed[:, p]
    options = [int(k) for k in np.flatnonzero(allowed.any(axis=0))]
    uses = [np.broadcast_to(row.use, problem.cost.shape)[:, p] for row in problem.rows]
    needs = np.array([charge.mask[p] for charge in problem.charges], dtype=bool).reshape(-1, problem.cost.shape[2])

    def as_good(one: int, other: int) -> bool:
        """Whether `one` may stand for `other` on every board."""
        where = allowed[:, other]
        if (where & ~allowed[:, one]).any():
            return False
        added = needs[:, one] & ~needs[:, other]
        if (problem.cost[where, p, one] + problem.due @ added > problem.cost[where, p, other]).any():
            return False
        for row, use in zip(problem.rows, uses, strict=True):
            more = 0.0 if row.charged is None else float(row.charged @ added)
            if (use[where, one] + more > use[where, other]).any():
                return False
        return True

    kept: list[int] = []
    for k in options:
        if any(as_good(other, k) for other in kept):
            continue
        kept = [other for other in kept if not as_good(k, other)] + [k]
    return kept


def _tables(problem: Problem, fixed: Sequence[int], combined: Sequence[Sequence[Combined]]) -> Problem:
    parts = len(fixed) + len(combined)
    width = max([problem.cost.shape[2] if fixed else 1, *(max(1, len(some)) for some in combined)])
    own = problem.cost.shape[2]

    def summed(table: Array) -> Array:
        whole = np.broadcast_to(table, (table.shape[0], *problem.cost.shape[1:]))
        made = np.zeros((len(whole), parts, width))
        made[:, : len(fixed), : min(own, width)] = whole[:, list(fixed), :width]
        for n, some in enumerate(combined, start=len(fixed)):
            for k, one in enumerate(some):
                for p, option in one.options:
                    made[:, n, k] += whole[:, p, option]
        return made

    def either(mask: Mask) -> Mask:
        """Whether any part of an option is marked; (…, parts, options)."""
        whole = mask.reshape(-1, *mask.shape[-2:])
        made: Mask = np.zeros((len(whole), parts, width), dtype=bool)
        made[:, : len(fixed), : min(own, width)] = whole[:, list(fixed), :width]
        for n, some in enumerate(combined, start=len(fixed)):
            for k, one in enumerate(some):
                for p, option in one.options:
                    made[:, n, k] |= whole[:, p, option]
        return made.reshape(*mask.shape[:-2], parts, width)

    exists: Mask = np.zeros((parts, width), dtype=bool)
    outline = np.full((parts, width), -1, dtype=np.int64)
    exists[: len(fixed), : min(own, width)] = problem.exists[list(fixed), :width]
    outline[: len(fixed), : min(own, width)] = problem.outline[list(fixed), :width]
    next_number = int(problem.outline.max(initial=0)) + 1
    for n, some in enumerate(combined, start=len(fixed)):
        exists[n, : len(some)] = True
        outline[n, : len(some)] = range(next_number, next_number + len(some))
        next_number += len(some)
    place = {p: n for n, p in enumerate(fixed)}
    return Problem(
        cost=summed(problem.cost),
        shared_cost=problem.shared_cost,
        exists=exists,
        outline=outline,
        rows=tuple(replace(row, use=summed(row.use)) for row in problem.rows),
        bans=tuple(Ban(ban.name, either(np.broadcast_to(ban.mask, problem.cost.shape))) for ban in problem.bans),
        groups=tuple(tuple(place[p] for p in group) for group in problem.groups),
        charges=tuple(Charge(charge.name, either(charge.mask)) for charge in problem.charges),
        charged=problem.charged,
    )
