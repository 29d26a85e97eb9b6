"""The choice for a whole board as numbers: what each option costs and uses under each shared decision.

Axes are always (decision, part, option). Options are padded to the longest list; `exists` marks the real ones.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError

Array = NDArray[np.float64]
Kind = TypeVar("Kind", bound=np.generic)
Mask = NDArray[np.bool_]
Index = NDArray[np.int64]
Status = Literal["optimal", "stopped", "infeasible"]

SLACK = 1e-9  # relative slack within which a sum counts as within its limit
OUTLINES = "most-outlines"
GROUPS = "same-outline"


@dataclass(frozen=True)
class Charge:
    """Something paid once, however many of the options that need it are taken: a feeder, a second process.

    Parameters
    ----------
    name : str
    mask : bool array (parts, options)
        The options that need it.
    """

    name: str
    mask: Mask


@dataclass(frozen=True)
class Row:
    """A sum over the board that may not exceed a limit.

    Parameters
    ----------
    name : str
    use : array, broadcastable to (decisions, parts, options)
        What a part adds, over all its places on the board.
    limit : float
    shared : array (decisions,), optional
        What the shared decision itself uses.
    unit : str
    charged : array (charges,), optional
        What each charge uses once it is due; not negative.
    tied : bool
        Whether it says what a shared decision means and is no limit that could be lifted.
    """

    name: str
    use: Array
    limit: float
    shared: Array | None = None
    unit: str = ""
    charged: Array | None = None
    tied: bool = False


@dataclass(frozen=True)
class Ban:
    """A limit that takes single options out, under some or all decisions."""

    name: str
    mask: Mask


@dataclass(frozen=True)
class Problem:
    """Everything the choice depends on.

    Parameters
    ----------
    cost : array (decisions, parts, options)
        To be minimised in sum, over all places of the part.
    shared_cost : array (decisions,)
    exists : bool array (parts, options)
    outline : int array (parts, options)
        Which outline an option is; the same number means the same outline.
    rows, bans : tuple
        Limits on sums, and on single options.
    groups : tuple of tuples of int
        Parts that must come in the same outline.
    most_outlines : int, optional
        How many different outlines the board may carry.
    charges : tuple of Charge
        What is paid once for all options that need it.
    charged : array (charges,), optional
        What each charge costs; not negative, nothing unless given.
    """

    cost: Array
    shared_cost: Array
    exists: Mask
    outline: Index
    rows: tuple[Row, ...] = ()
    bans: tuple[Ban, ...] = ()
    groups: tuple[tuple[int, ...], ...] = ()
    most_outlines: int | None = None
    charges: tuple[Charge, ...] = ()
    charged: Array | None = None

    def __post_init__(self) -> None:
        shape = self.cost.shape
        if len(shape) != 3 or 0 in shape:
            raise InputError(
                "a choice needs decisions, parts and options",
                found=" × ".join(map(str, shape)),
                expected="at least one of each",
            )
        if self.exists.shape != shape[1:] or self.outline.shape != shape[1:] or self.shared_cost.shape != shape[:1]:
            raise InputError(
                "arrays of a choice do not fit together", found=f"cost {shape}, options {self.exists.shape}"
            )
        if not np.isfinite(self.cost[:, self.exists]).all() or not np.isfinite(self.shared_cost).all():
            raise InputError("a cost is not a finite number", expected="a number for every option that exists")
        if any(charge.mask.shape != shape[1:] for charge in self.charges) or self.due.shape != (len(self.charges),):
            raise InputError("charges do not fit the options", expected="a mask of parts by options, a cost for each")
        if not np.isfinite(self.due).all() or (self.due < 0).any():
            raise InputError("a charge must be a finite number, not negative")

    @property
    def decisions(self) -> int:
        """How many shared decisions there are."""
        return int(self.cost.shape[0])

    @property
    def parts(self) -> int:
        """How many parts there are."""
        return int(self.cost.shape[1])

    @property
    def due(self) -> Array:
        """What each charge costs (charges,)."""
        return np.zeros(len(self.charges)) if self.charged is None else self.charged

    def opened(self, choice: Iterable[int]) -> Mask:
        """Which charges a choice makes due (charges,)."""
        picked = np.fromiter(choice, dtype=np.int64)
        at = np.arange(self.parts)
        taken = [charge.mask[at, picked] for charge in self.charges]
        return np.asarray(np.array(taken, dtype=bool).reshape(len(taken), self.parts).any(axis=1), dtype=bool)

    @cached_property
    def allowed(self) -> Mask:
        """Which options no single limit takes out, under each decision."""
        found = np.broadcast_to(self.exists, self.cost.shape).copy()
        for ban in self.bans:
            found &= ~ban.mask
        return found

    @property
    def limits(self) -> tuple[str, ...]:
        """Names of all limits, in a fixed order."""
        names = dict.fromkeys([ban.name for ban in self.bans] + [row.name for row in self.rows if not row.tied])
        if self.groups:
            names[GROUPS] = None
        if self.most_outlines is not None:
            names[OUTLINES] = None
        return tuple(names)

    def without(self, names: Iterable[str]) -> Problem:
        """The same choice with some limits lifted."""
        gone = set(names)
        return replace(
            self,
            rows=tuple(row for row in self.rows if row.name not in gone),
            bans=tuple(ban for ban in self.bans if ban.name not in gone),
            groups=() if GROUPS in gone else self.groups,
            most_outlines=None if OUTLINES in gone else self.most_outlines,
        )

    def only(self, decision: int) -> Problem:
        """The same choice under one shared decision, which is then number 0."""

        def cut(table: NDArray[Kind]) -> NDArray[Kind]:
            return table if table.shape[0] == 1 and self.decisions > 1 else table[decision : decision + 1]

        return replace(
            self,
            cost=cut(self.cost),
            shared_cost=cut(self.shared_cost),
            rows=tuple(
                replace(row, use=cut(row.use), shared=None if row.shared is None else cut(row.shared))
                for row in self.rows
            ),
            bans=tuple(replace(ban, mask=cut(ban.mask)) for ban in self.bans),
        )

    def with_rows(self, *rows: Row) -> Problem:
        """The same choice with further limits on sums."""
        return replace(self, rows=(*self.rows, *rows))

    def value(self, decision: int, choice: Iterable[int]) -> float:
        """What a choice costs."""
        picked = np.fromiter(choice, dtype=np.int64)
        own = float(self.cost[decision, np.arange(self.parts), picked].sum() + self.shared_cost[decision])
        return own + (float(self.due @ self.opened(picked)) if self.charges else 0.0)

    def total(self, row: Row, decision: int, choice: Iterable[int]) -> float:
        """What a choice uses of a row."""
        picked = np.fromiter(choice, dtype=np.int64)
        use = np.broadcast_to(row.use, self.cost.shape)[decision, np.arange(self.parts), picked].sum()
        once = 0.0 if row.charged is None else float(row.charged @ self.opened(picked))
        return float(use + once + (0.0 if row.shared is None else row.shared[decision]))

    def holds(self, decision: int, choice: Iterable[int]) -> bool:
        """Whether a choice is within every limit."""
        picked = np.fromiter(choice, dtype=np.int64)
        if not self.allowed[decision, np.arange(self.parts), picked].all():
            return False
        if any(self.total(row, decision, picked) > row.limit + slack(row.limit) for row in self.rows):
            return False
        return self.holds_outlines(picked)

    def holds_outlines(self, choice: Iterable[int]) -> bool:
        """Whether a choice keeps the limits on outlines, which no shared decision changes."""
        if not self.groups and self.most_outlines is None:
            return True
        outlines = self.outline[np.arange(self.parts), np.fromiter(choice, dtype=np.int64)]
        if any(len(set(outlines[list(group)].tolist())) > 1 for group in self.groups):
            return False
        return self.most_outlines is None or len(set(outlines.tolist())) <= self.most_outlines


@dataclass(frozen=True)
class Solution:
    """The outcome: the best choice found, and how well it is proven.

    Parameters
    ----------
    status : {"optimal", "stopped", "infeasible"}
    choice : tuple of int
        Option of each part; empty if none was found.
    decision : int
        -1 if none was found.
    value, bound : float
        Cost of the choice, and what no choice can fall below.
    solved, pruned : int
        Shared decisions that wanted a search of their own, and those that a bound settled.
    """

    status: Status
    choice: tuple[int, ...]
    decision: int
    value: float
    bound: float
    solved: int = 0
    pruned: int = 0

    @property
    def found(self) -> bool:
        """Whether there is a choice at all."""
        return self.decision >= 0

    @property
    def gap(self) -> float:
        """How far the bound lies below the value, as a share of the value; infinite without a choice."""
        if not self.found:
            return float("inf")
        return max(0.0, self.value - self.bound) / max(abs(self.value), 1e-12)


def slack(limit: float) -> float:
    """Numerical slack of a limit."""
    return SLACK * max(1.0, abs(limit))
