"""Fills the table of docs/scale.md: ten million cases on a simulated cluster, from measured times.

`python docs/make_scale.py` prints the table. Nothing but the four times below comes from a machine; they were measured
with `benchmarks/sweep.py` and on the invented example board.
"""

from __future__ import annotations

import heapq
import random
from dataclasses import dataclass

CASES = 10_000_000
BATCH = 10  # cases that travel together


@dataclass(frozen=True)
class Times:
    """What was measured. [s]

    Parameters
    ----------
    case, geometry : float
        A case that shares its geometry, and what the first of a worker costs more.
    leading : float
        The leading process for each case: number, send, receive, keep, table.
    between_losses : float
        Mean time until a worker is lost; assumed, no source.
    restart : float
        Until a lost worker is back.
    """

    case: float = 0.5
    geometry: float = 6.5
    leading: float = 0.47e-3
    between_losses: float = 24 * 3600.0
    restart: float = 60.0


def simulated(workers: int, times: Times, cases: int = CASES, geometries: int = 8, seed: int = 1) -> tuple[float, int]:
    """Hours until all cases are finished, and batches that were worked twice.

    Every batch passes the leading process once out and once back, one after the other; workers take the next batch when
    they are free, lose what they are at when they are lost, and lay out each geometry once for themselves.

    >>> hours, twice = simulated(1, Times(case=1.0, geometry=0.0, leading=0.0, between_losses=1e12), cases=3600)
    >>> round(hours, 3), twice
    (1.0, 0)
    """
    rng = random.Random(seed)
    free = [(0.0, n) for n in range(workers)]
    heapq.heapify(free)
    batches, lead, end, twice = cases // BATCH, 0.0, 0.0, 0
    known = [0] * workers
    lost_at = [rng.expovariate(1 / times.between_losses) for _ in range(workers)]
    left = batches
    while left:
        at, worker = heapq.heappop(free)
        lead = max(lead, at) + times.leading * BATCH  # the leading process serves one after the other
        here = batches - left
        first = known[worker] <= here * geometries // batches
        done = lead + times.case * BATCH + (times.geometry if first else 0.0)
        if lost_at[worker] < done:
            twice += 1
            known[worker] = 0
            back = max(lead, lost_at[worker]) + times.restart
            lost_at[worker] = back + rng.expovariate(1 / times.between_losses)
            heapq.heappush(free, (back, worker))
            continue
        known[worker] = here * geometries // batches + 1
        left -= 1
        end = max(end, done)
        heapq.heappush(free, (done, worker))
    return end / 3600, twice


def table(times: Times | None = None) -> str:
    """The page's table."""
    times = times or Times()
    lines = [
        "| workers | hours | hours if nothing but the cases cost time | busy | batches worked twice |",
        "|---|---|---|---|---|",
    ]
    for workers in (16, 64, 256, 1024, 4096):
        hours, twice = simulated(workers, times)
        ideal = CASES * times.case / workers / 3600
        lines.append(f"| {workers} | {hours:.2f} | {ideal:.2f} | {ideal / hours:.0%} | {twice} |")
    return "\n".join(lines)


if __name__ == "__main__":
    print(table())
