"""How often the sampling intervals hold the true rate: sixteen rates at the default accuracy, over many seeds.

Run with `python benchmarks/coverage.py [SEEDS]`; 30 by default. The true rate is one long run at ±1.5 %.
"""

from __future__ import annotations

import sys
from functools import cache

import numpy as np

from landwise.assembly.partmodel import PartModel, part_model
from landwise.assembly.rare import Rates, rates
from landwise.assembly.scatter import scatter
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import Foil, print_part

CASES = (
    ("TSSOP-14", 60.0, "opens"),
    ("TSSOP-14", 80.0, "bridges"),
    ("TSSOP-14", 100.0, "bridges"),
    ("TVSOP-14", 80.0, "bridges"),
    ("TVSOP-14", 100.0, "bridges"),
    ("QFN-16-2.5x3.5", 100.0, "bridges"),
    ("QFN-16-2.5x3.5", 100.0, "opens"),
    ("QFN-16-2.5x3.5", 150.0, "opens"),
    ("SON-6-1.0x1.0", 80.0, "bridges"),
    ("SON-6-1.0x1.0", 80.0, "opens"),
    ("SON-5-0.8x0.8", 100.0, "bridges"),
    ("SON-5-0.8x0.8", 100.0, "opens"),
    ("SOT-5x3-5", 100.0, "bridges"),
    ("WLP-5-0.5", 100.0, "bridges"),
    ("QFP-48", 120.0, "bridges"),
    ("SC-70-6", 120.0, "bridges"),
)


@cache
def model(name: str, foil_um: float) -> PartModel:
    """A part on the ordinary line."""
    outline = find(name)
    pattern = land_pattern(outline)
    made = part_model(outline, pattern, print_part(pattern, Foil(foil_um), outline=outline), scatter(0.03, 0.05))
    assert made is not None
    return made


@cache
def worked(name: str, foil_um: float, seed: int) -> Rates:
    """At the default accuracy."""
    return rates(model(name, foil_um), seed=seed)


@cache
def true(name: str, foil_um: float) -> Rates:
    """A long run."""
    return rates(model(name, foil_um), asked=0.015, floor=0.0, most=16384, seed=10**9)


def main() -> None:
    """Print the table."""
    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    held = 0
    print(f"{'rate':<32} {'true':>10} {'held':>6} {'mean':>6} {'spread':>7} {'half width':>10}")
    for name, foil, mechanism in CASES:
        long = getattr(true(name, foil), mechanism).value
        runs = [getattr(worked(name, foil, seed), mechanism) for seed in range(seeds)]
        hits = sum(one.low <= long <= one.high for one in runs)
        held += hits
        values = np.array([one.value for one in runs]) / long
        half = np.mean([one.half for one in runs])
        what = f"{name} {foil:g} µm {mechanism}"
        print(f"{what:<32} {long:10.3g} {hits:3d}/{seeds} {values.mean():6.3f} {values.std():7.3f} {half:10.3f}")
    print(f"held in {held / len(CASES) / seeds:.1%} of {len(CASES) * seeds} runs")


if __name__ == "__main__":
    main()
