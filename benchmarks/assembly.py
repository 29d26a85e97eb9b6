"""Assembling a part of 64 joints a million times, beside a plain loop over assemblies in the same run; rare rates.

Run with `python benchmarks/assembly.py`. Compare the ratios, not the seconds.
"""

from __future__ import annotations

import os
import resource
import sys
import time
import tomllib
from pathlib import Path

from landwise.assembly.partmodel import PartModel, part_model
from landwise.assembly.partrates import part_rates
from landwise.assembly.rare import rates
from landwise.assembly.rates import simulate, simulate_one_by_one
from landwise.assembly.scatter import scatter
from landwise.lands import land_pattern
from landwise.memory import forget
from landwise.outlines import find
from landwise.printing import Foil, print_part

EXAMPLE = Path(__file__).resolve().parent.parent / "examples" / "logger" / "board.toml"
JOINTS = "QFP-64"


def model(name: str, foil_um: float) -> PartModel:
    """A part on the ordinary line."""
    outline = find(name)
    pattern = land_pattern(outline)
    made = part_model(outline, pattern, print_part(pattern, Foil(foil_um), outline=outline), scatter(0.03, 0.05))
    assert made is not None
    return made


def timed(call):  # type: ignore[no-untyped-def]
    """Seconds on the clock, seconds of processor, and the result."""
    start, used = time.perf_counter(), time.process_time()
    found = call()
    return time.perf_counter() - start, time.process_time() - used, found


def main() -> None:
    """Print the table."""
    count, slow = (100_000, 200) if "--quick" in sys.argv else (1_000_000, 2_000)
    part = model(JOINTS, 100.0)
    cores = os.cpu_count() or 1
    simulate(part, 20_000)  # everything is loaded
    wall, used, counts = timed(lambda: simulate(part, count))
    scale = 1e6 / counts.assemblies
    print(f"{JOINTS}, 1e6 assemblies, {cores} cores   {wall * scale:8.2f} s  {used * scale:8.2f} s of processor")
    wall_loop, used_loop, _ = timed(lambda: simulate_one_by_one(part, slow))
    print(f"{'the loop, from ' + str(slow) + ' assemblies':<38} {wall_loop / slow * 1e6:8.1f} s")
    print(f"{'ratio':<38} {wall_loop / slow / (wall / counts.assemblies):8.0f}")
    print(f"{'ratio on one core':<38} {used_loop / slow / (used / counts.assemblies):8.0f}")
    print(f"{'peak memory':<38} {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:8.0f} MB")
    rare = model("TSSOP-14", 80.0)
    wall, _, found = timed(lambda: rates(rare).opens)
    print(f"{'a rate of 1e-7, to ±20 %':<38} {wall:8.3f} s  {found.value:.3g} ({found.low:.3g} to {found.high:.3g})")
    wall, _, _ = timed(lambda: part_rates(rare))
    print(f"{'one part as a study works it':<38} {wall:8.3f} s")
    from landwise.board.build import board_model
    from landwise.judging.bench import Bench
    from landwise.judging.study import run_study
    from landwise.memory import Memory
    from landwise.study.file import read_study, study_from

    study = read_study(EXAMPLE)
    forget()
    memory = Memory()

    def worked(told):  # type: ignore[no-untyped-def]
        return board_model(run_study(told, bench=Bench.of(told, memory)), memory=memory)

    wall, used, result = timed(lambda: worked(study))
    print(f"{'example board, every option and foil':<38} {wall:8.2f} s  {used:8.2f} s of processor")
    del result
    told = tomllib.loads(EXAMPLE.read_text(encoding="utf-8"))
    told["want"]["max_height"] = "2 mm"
    again = study_from(told, file="changed")
    wall, used, _ = timed(lambda: worked(again))
    print(f"{'again with one changed limit':<38} {wall:8.2f} s  {used:8.2f} s of processor")


if __name__ == "__main__":
    main()
