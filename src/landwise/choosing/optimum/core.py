"""What is left of one shared decision once prices have ruled options out: listed where small, else solved."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from landwise.choosing.optimum.linear import Case, Prices
from landwise.choosing.optimum.milp import ROW_SCALE, minimise
from landwise.choosing.optimum.model import Array, Index, Mask, slack
from landwise.choosing.optimum.rows import Rows

EXACT = 1e-9
WORD = 64  # charges kept in one word


def opened(masks: Sequence[Mask], choice: Index) -> Mask:
    """Which charges a choice makes due (charges,)."""
    at = np.arange(len(choice))
    picked = np.array([mask[at, choice] for mask in masks], dtype=bool).reshape(len(masks), len(at))
    return np.asarray(picked.any(axis=1), dtype=bool)


class Core:
    """What is left of one shared decision once prices have ruled options out."""

    def __init__(self, case: Case, prices: Prices, outline: Index, most_outlines: int | None):
        self.cost, self.base, self.use, self.capacity = case.cost, case.base, case.use, case.capacity
        self.outline, self.most_outlines, self.once = outline, most_outlines, case.once
        priced = case.priced(prices)
        least = priced.min(axis=1)
        self.bound = float(least.sum()) + case.constant(prices)
        self.extra = priced - least[:, None]

    def search(
        self, value: float, gap: float, seconds: float, stop: Callable[[], bool] | None, enumerate_below: int
    ) -> tuple[Index | None, float, bool]:
        """A choice below `value` if there is one, a bound on all of them, and whether the search was finished."""
        room = value - self.bound + EXACT * max(1.0, abs(value)) if np.isfinite(value) else np.inf
        return self.among(np.isfinite(self.cost) & (self.extra <= room), value, gap, seconds, stop, enumerate_below)

    def among(
        self,
        keep: Mask,
        value: float,
        gap: float,
        seconds: float,
        stop: Callable[[], bool] | None,
        enumerate_below: int,
    ) -> tuple[Index | None, float, bool]:
        """The same among some of the options (parts, options); the bound holds for these."""
        if not keep.any(axis=1).all():
            return None, value, True
        options = [np.flatnonzero(row) for row in keep]
        combinations = 1
        for row in options:
            combinations *= len(row)
            if combinations > max(1, enumerate_below):
                return self._model(options, value, gap, seconds, stop)
        return self._enumerate(options, value)

    def _enumerate(self, options: list[Index], value: float) -> tuple[Index | None, float, bool]:
        """All combinations, part by part; what can't end below `value` or within the limits is left on the way."""
        once = self.once
        total, place = np.array([self.base]), np.zeros(1, dtype=np.int64)
        uses = [np.zeros(1) for _ in self.use]
        needs = _packed(once.masks, self.cost.shape)
        due = np.zeros((1, needs.shape[2]), dtype=np.uint64)
        least = _least_left([self.cost, *self.use], options)
        below = np.minimum(0.0, once.due).sum()
        most = value + EXACT * max(1.0, abs(value)) - below
        limits = [
            float(capacity) + 2 * slack(float(capacity)) - np.minimum(0.0, on_top).sum()
            for capacity, on_top in zip(self.capacity, once.uses, strict=True)
        ]
        for part, row in enumerate(options):
            total = (total[:, None] + self.cost[part, row]).ravel()
            uses = [(u[:, None] + row_use[part, row]).ravel() for u, row_use in zip(uses, self.use, strict=True)]
            place = (place[:, None] * len(row) + np.arange(len(row))).ravel()
            due = (due[:, None] | needs[part, row]).reshape(len(total), needs.shape[2])
            open_ = total + least[0][part] <= most
            for used, left, limit in zip(uses, least[1:], limits, strict=True):
                open_ &= used + left[part] <= limit
            if not open_.all():
                total, uses, place, due = total[open_], [used[open_] for used in uses], place[open_], due[open_]
        if once.masks:
            opened = _unpacked_bits(due, len(once.masks))
            total = total + opened @ once.due
            uses = [u + opened @ on_top for u, on_top in zip(uses, once.uses, strict=True)]
        fits = np.ones(len(total), dtype=bool)
        for used, capacity in zip(uses, self.capacity, strict=True):
            fits &= used <= capacity + slack(float(capacity))
        for k in np.argsort(np.where(fits, total, np.inf), kind="stable"):
            if not fits[k] or total[k] >= value:
                break
            choice = _unpacked(int(place[k]), options)
            if self._few(choice):
                return choice, float(total[k]), True
        return None, value, True

    def _few(self, choice: Index) -> bool:
        if self.most_outlines is None:
            return True
        return len(np.unique(self.outline[np.arange(len(choice)), choice])) <= self.most_outlines

    def _model(
        self, options: list[Index], value: float, gap: float, seconds: float, stop: Callable[[], bool] | None
    ) -> tuple[Index | None, float, bool]:
        # A part with one option left is settled: what it costs and uses is taken off beforehand.
        free = [part for part, row in enumerate(options) if len(row) > 1]
        part_of = np.concatenate([np.full(len(options[part]), part) for part in free])
        option_of = np.concatenate([options[part] for part in free])
        fixed = np.array([row[0] for row in options])
        settled = np.ones(len(options), dtype=bool)
        settled[free] = False
        place = np.flatnonzero(settled)
        base = self.base + float(self.cost[place, fixed[place]].sum())
        # Costs relative to each part's cheapest keep the numbers small; the rest is a constant.
        own = self.cost[part_of, option_of]
        least = np.array([self.cost[part, options[part]].min() for part in free])
        base += float(least.sum())
        own = own - np.repeat(least, [len(options[part]) for part in free])
        # Charges that settled parts have made due are part of the constant; the others are columns of their own.
        settled_due = np.array([mask[place, fixed[place]].any() for mask in self.once.masks], dtype=bool)
        base += float(self.once.due @ settled_due)
        needs = [mask[part_of, option_of] for mask in self.once.masks]
        waiting = [c for c, need in enumerate(needs) if not settled_due[c] and need.any()]
        scale = max(float(own.max(initial=0.0)), *(float(self.once.due[c]) for c in waiting), 1e-12)
        matrix = Rows()
        column = 0
        for part in free:
            count = len(options[part])
            matrix.add(np.arange(column, column + count), np.ones(count), 1.0, 1.0)
            column += count
        variables = column
        for use, capacity, on_top in zip(self.use, self.capacity, self.once.uses, strict=True):
            used = np.concatenate([use[part_of, option_of], on_top[waiting]])
            left = capacity - float(use[place, fixed[place]].sum()) - float(on_top @ settled_due)
            top = max(float(np.abs(used).max(initial=0.0)), 1e-12) / ROW_SCALE
            matrix.add(np.arange(len(used)), used / top, -np.inf, (left + slack(float(capacity)) / 2) / top)
        costs = [own / scale]
        _link(matrix, part_of, [needs[c] for c in waiting], variables)
        costs.append(self.once.due[waiting] / scale)
        column = variables + len(waiting)
        if self.most_outlines is not None:
            already = set(self.outline[place, fixed[place]].tolist())
            names = [int(o) for o in np.unique(self.outline[part_of, option_of]) if int(o) not in already]
            where = {name: column + n for n, name in enumerate(names)}
            for col, (part, option) in enumerate(zip(part_of, option_of, strict=True)):
                name = int(self.outline[part, option])
                if name in where:
                    matrix.add(np.array([col, where[name]]), np.array([1.0, -1.0]), -np.inf, 0.0)
            matrix.add(
                np.array(list(where.values()), dtype=np.int64),
                np.ones(len(where)),
                -np.inf,
                float(self.most_outlines - len(already)),
            )
            costs.append(np.zeros(len(where)))
        cost = np.concatenate(costs)
        # The gap is promised on the whole value, most of which is the constant.
        absolute = gap * abs(value) if np.isfinite(value) else gap * abs(base)
        answer = minimise(
            cost, matrix.packed(), *matrix.limits(), absolute_gap=absolute / scale, seconds=seconds, stop=stop
        )
        bound = answer.bound * scale + base
        if answer.values is None:
            return None, value if answer.finished else max(self.bound, bound), answer.finished
        choice = fixed.copy()
        column = 0
        for part in free:
            count = len(options[part])
            choice[part] = options[part][int(answer.values[column : column + count].argmax())]
            column += count
        due_now = opened(self.once.masks, choice)
        for use, capacity, on_top in zip(self.use, self.capacity, self.once.uses, strict=True):
            if use[np.arange(len(choice)), choice].sum() + on_top @ due_now > capacity + slack(float(capacity)):
                return None, max(self.bound, bound), False  # outside by rounding: not proven, and said so
        return choice, max(self.bound, bound), answer.finished


def _link(matrix: Rows, part_of: Index, needs: Sequence[Mask], first: int) -> None:
    """Charges, columns from `first` on, are due once a part takes an option that needs them."""
    for n, need in enumerate(needs):
        for part in np.unique(part_of[need]):
            # One option a part, so that the sum of its options may be held below the charge.
            columns = np.flatnonzero((part_of == part) & need)
            matrix.add(np.append(columns, first + n), np.append(np.ones(len(columns)), -1.0), -np.inf, 0.0)


def _packed(masks: Sequence[Mask], shape: tuple[int, ...]) -> NDArray[np.uint64]:
    """Which charges every option makes due, a bit each: (parts, options, words of 64); none is a word of none."""
    found = np.zeros((*shape, -(-len(masks) // WORD) or 1), dtype=np.uint64)
    for number, mask in enumerate(masks):
        found[:, :, number // WORD] |= mask.astype(np.uint64) << np.uint64(number % WORD)
    return found


def _unpacked_bits(due: NDArray[np.uint64], count: int) -> Mask:
    """The first charges of packed words, (combinations, charges)."""
    bits = np.arange(count)
    found: Mask = (due[:, bits // WORD] >> (bits % WORD).astype(np.uint64) & np.uint64(1)).astype(bool)
    return found


def _least_left(sums: Sequence[Array], options: list[Index]) -> list[Array]:
    """For each sum the least that the parts behind each part add to it, (sums) of (parts,)."""
    found = []
    for each in sums:
        least = np.array([each[part, row].min() for part, row in enumerate(options)])
        found.append(np.append(np.cumsum(least[:0:-1])[::-1], 0.0))
    return found


def _unpacked(place: int, options: list[Index]) -> Index:
    """The options of one combination, the last part counting fastest (numpy's own does not take so many axes)."""
    choice = np.zeros(len(options), dtype=np.int64)
    for part in range(len(options) - 1, -1, -1):
        place, number = divmod(place, len(options[part]))
        choice[part] = options[part][number]
    return choice
