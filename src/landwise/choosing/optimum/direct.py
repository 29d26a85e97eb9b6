"""The whole choice as one integer model: every (decision, part, option) a variable.

Kept to check and to measure `solve` against; no study uses it.
"""

from __future__ import annotations

import numpy as np

from landwise.choosing.optimum.milp import ROW_SCALE, minimise
from landwise.choosing.optimum.model import Problem, Solution, slack


def solve_directly(problem: Problem, *, gap: float = 1e-6, seconds: float = float("inf")) -> Solution:
    """The cheapest choice by one model with a variable for every (decision, part, option).

    Groups and a limit on outlines are left to `solve`.

    Raises
    ------
    ValueError
        For a choice with groups or a limit on outlines.
    """
    if problem.groups or problem.most_outlines is not None:
        raise ValueError("the direct model knows neither groups nor a limit on outlines")
    decisions, parts, _ = problem.cost.shape
    where = np.nonzero(problem.allowed)
    d, p, k = where
    first = decisions
    count = first + len(d)
    cost = np.concatenate([problem.shared_cost, problem.cost[where]])
    # A charge under a decision is due once a part takes an option that needs it: Σ_k x[d,p,k] ≤ z[d,c].
    due = [(place, c) for place in range(decisions) for c in range(len(problem.charges))]
    paid = {pair: count + n for n, pair in enumerate(due)}
    cost = np.concatenate([cost, [problem.due[c] for _, c in due]])
    column = np.arange(len(d)) + first
    # One decision; each part takes an option of that decision: Σ_k x[d,p,k] = y[d].
    columns, values, lower, upper = [np.arange(decisions)], [np.ones(decisions)], [1.0], [1.0]
    order = np.lexsort((k, p, d))
    pair = (d * parts + p)[order]
    edges = np.flatnonzero(np.diff(pair)) + 1
    seen = set()
    for block in np.split(order, edges):
        place = int(d[block[0]])
        seen.add((place, int(p[block[0]])))
        columns.append(np.concatenate([column[block], [place]]))
        values.append(np.concatenate([np.ones(len(block)), [-1.0]]))
        lower.append(0.0)
        upper.append(0.0)
    for place in range(decisions):
        if any((place, part) not in seen for part in range(parts)):
            columns.append(np.array([place]))
            values.append(np.ones(1))
            lower.append(0.0)
            upper.append(0.0)
    for (place, c), at in paid.items():
        for part in range(parts):
            needs = column[(d == place) & (p == part) & problem.charges[c].mask[p, k]]
            if len(needs):
                columns.append(np.concatenate([needs, [at]]))
                values.append(np.concatenate([np.ones(len(needs)), [-1.0]]))
                lower.append(-np.inf)
                upper.append(0.0)
    for row in problem.rows:
        use = np.broadcast_to(row.use, problem.cost.shape)[where]
        shared = np.zeros(decisions) if row.shared is None else row.shared
        once = np.zeros(len(due)) if row.charged is None else np.tile(row.charged, decisions)
        top = max(float(np.abs(use).max(initial=0.0)), 1e-12) / ROW_SCALE
        columns.append(np.arange(count + len(due)))
        values.append(np.concatenate([shared, use, once]) / top)
        lower.append(-np.inf)
        upper.append((row.limit + slack(row.limit) / 2) / top)
    starts = np.concatenate([[0], np.cumsum([len(row) for row in columns])])
    packed = (starts, np.concatenate(columns), np.concatenate(values))
    scale = max(float(np.abs(cost).max()), 1e-12)
    bounded = gap * float(np.where(problem.allowed, problem.cost, 0.0).max(axis=2).sum(axis=1).min())
    answer = minimise(
        cost / scale, packed, np.array(lower), np.array(upper), absolute_gap=bounded / scale, seconds=seconds
    )
    if answer.values is None:
        return Solution("infeasible" if answer.finished else "stopped", (), -1, float("inf"), answer.bound * scale)
    decision = int(answer.values[:decisions].argmax())
    chosen = np.zeros(parts, dtype=np.int64)
    taken = (answer.values[first:count] > 0.5) & (d == decision)
    chosen[p[taken]] = k[taken]
    choice = tuple(int(i) for i in chosen)
    return Solution(
        "optimal" if answer.finished else "stopped",
        choice,
        decision,
        problem.value(decision, choice),
        answer.bound * scale,
        1,
    )
