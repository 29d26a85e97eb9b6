"""How much of a printed range is noise of its points: rates over all draws at the default points, over many seeds.

Run with `python benchmarks/draw_noise.py [SEEDS]`; 16 by default. Each draw is worked at 256 points of each density for
bridges and 64 for everything else (`assembly.drawn`), the long run at sixteen times as many. Printed are the mean over
draws and the ends of the 90 % range over those of the long run (their spread over seeds), and the share of the range's
width, in the logarithm, that noise of the points makes up.
"""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np

from landwise.assembly.drawn import POINTS, drawn_rates
from landwise.assembly.knowledge import default_knowledge
from landwise.assembly.partmodel import PartModel, part_model
from landwise.assembly.scatter import scatter
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import Foil, print_part

CASES = (
    ("TSSOP-14", 100.0, "bridges"),
    ("TVSOP-14", 100.0, "bridges"),
    ("QFN-16-2.5x3.5", 100.0, "opens"),
    ("SON-5-0.8x0.8", 100.0, "opens"),
    ("SON-6-1.0x1.0", 80.0, "bridges"),
    ("WLP-5-0.5", 100.0, "opens"),
    ("QFP-48", 120.0, "bridges"),
    ("SOT-5x3-5", 100.0, "bridges"),
)
LONG = 16
FLOOR = 1e-9


def model(name: str, foil_um: float, seed: int) -> PartModel:
    """A part on the ordinary line; another print offset by less than a nanometre draws other points."""
    outline = find(name)
    pattern = land_pattern(outline)
    printed = print_part(pattern, Foil(foil_um), outline=outline)
    made = part_model(outline, pattern, printed, scatter(0.03, 0.05))
    assert made is not None
    return made.with_scatter(replace(made.scatter, print_mm=made.scatter.print_mm * (1 + 1e-9 * seed)))


def summed(name: str, foil_um: float, mechanism: str, seed: int, points: int) -> np.ndarray:
    """Mean and the ends of the 90 % range, logarithms."""
    known = default_knowledge()
    values = drawn_rates(model(name, foil_um, seed), known.scores, points, deposits=known.deposits)[mechanism]
    return np.log(np.maximum([values.mean(), *np.quantile(values, (0.05, 0.95))], FLOOR))


def main() -> None:
    """Print the table."""
    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 16
    print(f"{'rate':<32} {'mean':>10} {'range':>10} {'sd mean':>8} {'sd low':>8} {'sd high':>8} {'noise of width':>15}")
    for name, foil, mechanism in CASES:
        long = summed(name, foil, mechanism, 10**6, LONG * POINTS)
        runs = np.array([summed(name, foil, mechanism, seed, POINTS) for seed in range(seeds)])
        mean, low, high = runs.std(axis=0)
        width = max(long[2] - long[1], 1e-9)
        what = f"{name} {foil:g} µm {mechanism}"
        print(
            f"{what:<32} {np.exp(long[0]):10.3g} {np.exp(width):10.3g} {mean:8.3f} {low:8.3f} {high:8.3f}"
            f" {np.hypot(low, high) / width:15.1%}"
        )


if __name__ == "__main__":
    main()
