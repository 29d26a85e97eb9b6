"""Time to choose for whole boards: invented ones of growing size beside the direct model, and the example board.

Run with `python benchmarks/choice.py`; `--quick` leaves out the direct model, which takes a minute or more.
`docs/make_choice_growth.py` draws the growth. Compare the ratios of one run, not seconds of different machines.
"""

from __future__ import annotations

import sys
import time
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from landwise.choosing.optimum import Ban, Charge, Problem, Row, Solution, solve
from landwise.choosing.optimum.conflicts import conflict
from landwise.choosing.optimum.direct import solve_directly
from landwise.choosing.optimum.front import Axis, front

EXAMPLE = Path(__file__).resolve().parent.parent / "examples" / "logger" / "board.toml"
SIZES = (10, 30, 100, 300, 1000, 2000)
DIRECT_SIZES = (10, 30, 100, 300)
SEEDS = 5
OPTIONS, DECISIONS = 25, 60


def invented(parts: int, options: int = OPTIONS, decisions: int = DECISIONS, *, seed: int = 1) -> Problem:
    """A board whose small packages cost more, whose decisions change yield and ban 15 % of the pairs."""
    rng = np.random.default_rng(seed)
    area = rng.lognormal(2.0, 0.6, (parts, options))
    price = 0.3 + 4 / area * rng.uniform(0.5, 1.5, (parts, options)) + rng.uniform(0, 0.5, (parts, options))
    loss = rng.exponential(0.02, (decisions, parts, options)) * (1 + 5 / area)
    shared = rng.uniform(0, 0.05 * parts, decisions)
    banned = rng.random((decisions, parts, options)) < 0.15
    banned[:, :, 0] = False
    limit = float(np.quantile(area, 0.35, axis=1).sum())
    outline = rng.integers(0, 40, (parts, options))
    return Problem(
        price + loss,
        shared,
        np.ones((parts, options), bool),
        outline,
        (Row("area", area[None], limit, unit="mm2"),),
        (Ban("foil", banned),),
    )


def bound_in_many_ways(parts: int, options: int = OPTIONS, decisions: int = DECISIONS, *, seed: int = 1) -> Problem:
    """A board whose options nearly tie, with six limits that bind together and what is paid once for each outline.

    Every limit cuts a tenth off what the cheapest board uses of it; each of 40 outlines and a second process cost as
    much as two to four parts differ by.
    """
    rng = np.random.default_rng(seed)
    shape = (decisions, parts, options)
    level = rng.lognormal(-1.0, 0.8, (1, parts, 1))
    cost = level * (1 + rng.uniform(0, 0.15, (1, parts, options)) + rng.uniform(0, 0.002, shape))
    shared = float(level.sum()) * rng.uniform(0, 0.001, decisions)
    banned = rng.random(shape) < 0.15
    banned[:, :, 0] = False
    rows = []
    for number in range(6):
        use = rng.lognormal(1.0, 0.5, (1, parts, options)) * (1 + (rng.uniform(0, 0.1, shape) if number % 2 else 0.0))
        cheapest = np.where(banned, np.inf, cost).argmin(axis=2)[:, :, None]
        used = np.take_along_axis(np.broadcast_to(use, shape), cheapest, 2)[:, :, 0].sum(axis=1)
        rows.append(Row(f"limit {number}", use, 0.9 * float(used.mean())))
    outline = rng.integers(0, 40, (parts, options))
    charges = [Charge(f"outline {n}", outline == n) for n in range(40)]
    charges.append(Charge("second process", rng.random((parts, options)) < 0.1))
    due = rng.uniform(0.1, 0.2, len(charges)) * float(level.mean())
    return Problem(
        cost,
        shared,
        np.ones(shape[1:], bool),
        outline,
        tuple(rows),
        (Ban("foil", banned),),
        charges=tuple(charges),
        charged=due,
    )


def impossible(parts: int, *, seed: int = 1) -> Problem:
    """The same board with three of its limits so tight that they conflict; each alone can be kept."""
    problem = bound_in_many_ways(parts, seed=seed)
    allowed = problem.allowed
    tight = []
    for number, row in enumerate(problem.rows):
        least = np.where(allowed, np.broadcast_to(row.use, problem.cost.shape), np.inf).min(axis=2).sum(axis=1)
        tight.append(replace(row, limit=1.05 * float(least.min())) if number < 3 else row)
    return replace(problem, rows=tuple(tight))


@dataclass(frozen=True)
class Timed:
    """What a call took: seconds on the wall and of the processor, and what it gave."""

    wall: float
    work: float
    found: Any


def timed(call: Callable[[], Any]) -> Timed:
    """Time one call."""
    wall, work = time.perf_counter(), time.process_time()
    found = call()
    return Timed(time.perf_counter() - wall, time.process_time() - work, found)


def ready() -> None:
    """Load the solver's library, so that no timing pays for it."""
    solve(invented(5, 3, 2), enumerate_below=0)


def growth(parts: int, seeds: int = SEEDS) -> list[Timed]:
    """Invented boards of one size."""
    return [timed(lambda seed=seed: solve(invented(parts, seed=seed), seconds=60)) for seed in range(1, seeds + 1)]


def directly(parts: int, seconds: float = 600.0) -> Timed:
    """The first invented board of one size, by the direct model."""
    return timed(lambda: solve_directly(invented(parts), seconds=seconds))


def _told(name: str, one: Timed, found: Solution) -> None:
    print(
        f"{name:<34} {one.wall:8.2f} s wall {one.work:8.2f} s work  {found.status}, value {found.value:.6f}, "
        f"gap {found.gap:.1e}, searched {found.solved}",
        flush=True,
    )


def _line(name: str, one: Timed, says: str) -> None:
    print(f"{name:<34} {one.wall:8.2f} s wall {one.work:8.2f} s work  {says}", flush=True)


def _trade_off() -> None:
    problem = invented(300)
    area = Axis("area", np.broadcast_to(problem.rows[0].use, problem.cost.shape), np.zeros(problem.decisions))
    axes = (Axis("cost", problem.cost, problem.shared_cost), area)
    one = timed(lambda: front(replace(problem, rows=()), axes, points=30))
    _line("300 × 25 × 60, trade-off", one, f"{len(one.found[0])} points, each proven")


def _example() -> None:
    from landwise.board.choice import choose_board
    from landwise.board.firm import lean_needed, market_of
    from landwise.choosing.optimum.robust import robustness
    from landwise.judging.study import run_study
    from landwise.study.file import study_from

    data = tomllib.loads(EXAMPLE.read_text(encoding="utf-8"))
    one = timed(lambda: choose_board(run_study(study_from(data))))
    choice = one.found.choice
    _line("example, judged and explained", one, choice.proof)
    model, best = choice.model, choice.best
    for share in (None, 0.9, 0.7):
        problem = model.problem
        if share is not None:
            used = float(sum(model.area.use[best.decision, p, k] for p, k in enumerate(best.choice)))
            problem = problem.with_rows(Row("area", model.area.use, used * share))
        there = solve(problem)
        again = timed(
            lambda problem=problem, there=there: robustness(
                problem, there, market_of(model), lean_needed=lean_needed(model), draws=1000
            )
        )
        name = "example, 1000 draws" + ("" if share is None else f", {share:.0%} of its area")
        _line(name, again, f"{again.found.searched} searched, confidence {again.found.confidence:.0%}")


def main() -> None:
    """Print the table."""
    ready()
    ours = timed(lambda: solve(invented(300)))
    _told("300 × 25 × 60", ours, ours.found)
    for parts in (300, 2000):
        runs = growth(parts)
        slow = max(runs, key=lambda one: one.wall)
        _told(f"{parts} × 25 × 60, slowest of {len(runs)}", slow, slow.found)
    for parts, seconds in ((300, 5.0), (2000, 60.0)):
        for seed in range(1, 4):
            problem = bound_in_many_ways(parts, seed=seed)
            one = timed(lambda problem=problem, seconds=seconds: solve(problem, seconds=seconds))
            _told(f"{parts} parts, six limits, charges", one, one.found)
    for parts in (300, 2000):
        problem = impossible(parts)
        one = timed(lambda problem=problem: conflict(problem))
        _line(f"{parts} parts, impossible", one, " and ".join(one.found))
    _trade_off()
    _example()
    if "--quick" not in sys.argv:
        direct = directly(300)
        _told("300 × 25 × 60, direct model", direct, direct.found)
        print(
            f"direct over ours: {direct.work / ours.work:.0f} in work; values differ by "
            f"{abs(direct.found.value - ours.found.value):.1e}"
        )


if __name__ == "__main__":
    main()
