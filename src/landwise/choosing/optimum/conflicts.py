"""Why nothing fits: the smallest set of limits that can't all be kept.

Every conflict holds at least one of the limits that a choice breaks, whatever the choice. So the smallest set that has
one limit of every choice met so far is no larger than the smallest conflict; where it can't be kept it is one, and else
the choice that keeps it is the next to be met. (Minimum hitting sets; the implicit form of Reiter's diagnosis.)
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from landwise.choosing.optimum.feasible import Names, Together
from landwise.choosing.optimum.model import Problem

SEARCHES = 60  # searches after which the conflict found so far, without a limit too many, is the answer
LISTED = 200_000  # sets looked at on the way to the smallest


def conflict(problem: Problem) -> tuple[str, ...]:
    """The smallest set of limits that can't all be kept: without any one of them the rest could be.

    Empty if the board is possible. Limits are dropped one by one as long as the rest still conflicts; then it is shown
    that no smaller set does. On a board so large that this takes too many searches it is the former alone.

    Examples
    --------
    >>> import numpy as np
    >>> from landwise.choosing.optimum.model import Ban, Row
    >>> low = Row("area", np.array([[[9.0, 4.0]]]), 5.0)
    >>> foil = Ban("foil", np.array([[[False, True]]]))
    >>> idle = Row("height", np.array([[[1.0, 1.0]]]), 5.0)
    >>> exists, outline = np.ones((1, 2), bool), np.array([[0, 1]])
    >>> conflict(Problem(np.zeros((1, 1, 2)), np.zeros(1), exists, outline, (low, idle), (foil,)))
    ('foil', 'area')
    """
    names = problem.limits
    limits = Together(problem)
    if limits.possible(names):
        return ()
    left = [name for name in names if name in limits.against[-1]]
    for name in tuple(left):
        rest = [other for other in left if other != name]
        if not limits.possible(rest):
            left = [other for other in rest if other in _within(limits, rest)]
    looked = 0
    for size in range(len(left)):
        for some in _hitting(limits, names, size):
            looked += 1
            if looked > LISTED or limits.searches > SEARCHES:
                return tuple(left)
            if some is not None and not limits.possible(some):
                return some
    return tuple(left)


def _within(limits: Together, names: list[str]) -> Names:
    """The smallest conflict known within a set that is one."""
    some = frozenset(names)
    return min((against for against in limits.against if against <= some), key=len, default=some)


def _hitting(limits: Together, names: tuple[str, ...], size: int) -> Iterator[tuple[str, ...] | None]:
    """Sets of a size that no choice met so far keeps; None for each that one does."""
    for some in combinations(names, size):
        yield None if any(kept.issuperset(some) for kept in limits.kept) else some
