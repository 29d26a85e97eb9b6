"""Time to choose for invented boards of growing size, beside the direct model in the same run.

Run with `python benchmarks/choice.py`, or with `--growth` for the table behind the plot of docs/board_choice.md.
Compare the ratios, not the seconds.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from landwise.choosing.board import Ban, Problem, Row, solve
from landwise.choosing.board.direct import solve_directly


def invented(parts: int, options: int, decisions: int, *, seed: int = 1) -> Problem:
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
        price + loss, shared, np.ones((parts, options), bool), outline,
        (Row("area", area[None], limit, unit="mm2"),), (Ban("foil", banned),),
    )  # fmt: skip


def timed(call):  # type: ignore[no-untyped-def]
    """Seconds and result."""
    start = time.perf_counter()
    found = call()
    return time.perf_counter() - start, found


def main() -> None:
    """Print the table."""
    if "--growth" in sys.argv:
        for parts in (10, 30, 100, 300, 1000, 2000):
            problem = invented(parts, 25, 60)
            seconds, found = timed(lambda p=problem: solve(p))
            print(f"{parts:>6} {seconds:>8.3f} {found.status} gap {found.gap:.1e} searched {found.solved}", flush=True)
        return
    problem = invented(300, 25, 60)
    solve(invented(5, 3, 2), enumerate_below=0)  # the solver's library is loaded
    ours, found = timed(lambda: solve(problem))
    print(
        f"300 × 25 × 60          {ours:8.3f} s  {found.status}, value {found.value:.6f}, gap {found.gap:.1e}, "
        f"searched {found.solved}",
        flush=True,
    )
    large, big = timed(lambda: solve(invented(2000, 25, 60), seconds=60))
    print(f"2000 × 25 × 60         {large:8.3f} s  {big.status}, gap {big.gap:.1e}, searched {big.solved}", flush=True)
    if "--quick" not in sys.argv:
        direct, other = timed(lambda: solve_directly(problem, seconds=600))
        print(
            f"300 × 25 × 60, direct  {direct:8.3f} s  {other.status}, value {other.value:.6f}; "
            f"ratio {direct / ours:.0f}"
        )


if __name__ == "__main__":
    main()
