"""Parts that must come in the same outline, taken together as one part."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from landwise.choosing.optimum.model import Array, Index, Mask, Problem


@dataclass(frozen=True)
class Merged:
    """The choice with each group of parts as one part, so that groups need no further care.

    Parameters
    ----------
    cost : array (decisions, merged parts, options)
    base : array (decisions,)
    allowed : bool array (decisions, merged parts, options)
    outline : int array (merged parts, options)
    use : list of array (decisions, merged parts, options)
        One for each limit on a sum.
    capacity : array (rows, decisions)
        What the shared decision leaves of each limit.
    charges : list of bool array (merged parts, options)
    members : tuple of tuples of int
        The parts that each merged part stands for.
    picks : tuple of int array (members, options)
        Per merged part the option number of each member.
    """

    cost: Array
    base: Array
    allowed: Mask
    outline: Index
    use: list[Array]
    capacity: Array
    charges: list[Mask]
    members: tuple[tuple[int, ...], ...]
    picks: tuple[Index, ...]

    def expand(self, choice: Index) -> tuple[int, ...]:
        """The option of every part for those of the merged parts."""
        count = sum(len(group) for group in self.members)
        whole = np.zeros(count, dtype=np.int64)
        for group, pick, option in zip(self.members, self.picks, choice, strict=True):
            whole[list(group)] = pick[:, option]
        return tuple(int(i) for i in whole)


def merge(problem: Problem) -> Merged:
    """One part for each group, with the options that all of its members have."""
    shape, allowed = problem.cost.shape, problem.allowed
    uses = [np.broadcast_to(row.use, shape) for row in problem.rows]
    base = problem.shared_cost
    capacity = np.array(
        [row.limit - (np.zeros(shape[0]) if row.shared is None else row.shared) for row in problem.rows]
    ).reshape(len(problem.rows), shape[0])
    if not problem.groups:
        alone = tuple((part,) for part in range(problem.parts))
        picks = tuple(np.arange(shape[2])[None, :] for _ in alone)
        masks = [charge.mask for charge in problem.charges]
        return Merged(problem.cost, base, allowed, problem.outline, uses, capacity, masks, alone, picks)
    grouped = {part for group in problem.groups for part in group}
    single: tuple[tuple[int, ...], ...] = tuple((part,) for part in range(problem.parts) if part not in grouped)
    members = problem.groups + single
    options: list[Index] = []
    outlines: list[Index] = []
    for group in members:
        pick, outline = _common(problem, group)
        options.append(pick)
        outlines.append(outline)
    width = max([1, *(pick.shape[1] for pick in options)])
    new = (shape[0], len(members), width)
    cost, ok, outline_of = np.zeros(new), np.zeros(new, dtype=bool), np.full(new[1:], -1, dtype=np.int64)
    use = [np.zeros(new) for _ in uses]
    masks = [np.zeros(new[1:], dtype=bool) for _ in problem.charges]
    for place, (group, pick, outline) in enumerate(zip(members, options, outlines, strict=True)):
        count = pick.shape[1]
        rows = np.array(group)[:, None]
        ok[:, place, :count] = allowed[:, rows, pick].all(axis=1)
        outline_of[place, :count] = outline
        cost[:, place, :count] = problem.cost[:, rows, pick].sum(axis=1)
        for target, source in zip(use, uses, strict=True):
            target[:, place, :count] = source[:, rows, pick].sum(axis=1)
        for mask, charge in zip(masks, problem.charges, strict=True):
            mask[place, :count] = charge.mask[rows, pick].any(axis=0)
    return Merged(cost, base, ok, outline_of, use, capacity, masks, members, tuple(options))


def _common(problem: Problem, group: tuple[int, ...]) -> tuple[Index, Index]:
    """Option numbers of each member (members, common options), and the outlines they stand for."""
    if len(group) == 1:
        count = int(problem.exists.shape[1])
        return np.arange(count)[None, :], problem.outline[group[0]]
    lists = [{int(o): k for k, o in enumerate(problem.outline[part]) if problem.exists[part, k]} for part in group]
    shared = [outline for outline in lists[0] if all(outline in other for other in lists[1:])]
    pick = np.array([[options[outline] for outline in shared] for options in lists], dtype=np.int64)
    return pick.reshape(len(group), len(shared)), np.array(shared, dtype=np.int64)
