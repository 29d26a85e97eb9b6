"""What a sweep adds to each case, here and on a cluster on loopback: the work itself is left out.

A study without parts is refused as soon as it is read, so all that is measured is numbering, keys, sharing out,
keeping, and the tables. Run with `make benchmark`; the figures of docs/scale.md come from here.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from landwise.sweeping.axes import read_axis
from landwise.sweeping.journal import NAME
from landwise.sweeping.plan import Plan, Source, study_plan
from landwise.sweeping.sweeps import run_sweep

CASES = 4_000
TARGET_MS = 5.0


def plan_of(cases: int) -> Plan:
    """So many cases that end at once."""
    return study_plan([Source("nothing", {})], [read_axis(f"costs.run=1..{cases}/{cases}")])


def measured(title: str, cases: int, **how: object) -> float:
    """Work the cases and print a line; the milliseconds of wall time a case."""
    with tempfile.TemporaryDirectory() as name:
        folder, plan = Path(name), plan_of(cases)
        begun, cpu = time.perf_counter(), time.process_time()
        swept = run_sweep(plan, folder, **how)  # type: ignore[arg-type]
        wall, cpu = time.perf_counter() - begun, time.process_time() - cpu
        assert swept.worked == cases
        bytes_each = (folder / NAME).stat().st_size / cases
        again = time.perf_counter()
        run_sweep(plan, folder)
        again = time.perf_counter() - again
    print(
        f"{title:<34} {1000 * wall / cases:>7.2f} ms a case, {1000 * cpu / cases:>6.2f} ms of the leading process,"
        f" {bytes_each:>5.0f} bytes kept; resumed with nothing to do {1000 * again / cases:.2f} ms a case"
    )
    return 1000 * wall / cases


def cluster(folder: Path) -> tuple[str, list[subprocess.Popen[bytes]]]:
    """A scheduler and two workers on loopback."""
    told = folder / "scheduler.json"
    begin = (sys.executable, "-m")
    quiet = ("--no-dashboard", "--scheduler-file", str(told))
    made = [
        subprocess.Popen(
            [*begin, "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0", *quiet],
            stderr=subprocess.DEVNULL,
        )
    ]
    while not told.exists():
        time.sleep(0.1)
    made += [
        subprocess.Popen(
            [*begin, "distributed.cli.dask_worker", "--nthreads", "1", "--no-nanny", *quiet],
            stderr=subprocess.DEVNULL,
        )
        for n in (1, 2)
    ]
    import json

    return str(json.loads(told.read_text())["address"]), made


def main() -> None:
    """Print the lines."""
    measured("in this process", CASES)
    measured("two processes", CASES, jobs=2)
    try:
        import distributed  # noqa: F401
    except ImportError:
        print("cluster on loopback: needs the extra [cluster]")
    else:
        with tempfile.TemporaryDirectory() as name:
            address, processes = cluster(Path(name))
            try:
                measured("cluster on loopback, two workers", CASES // 4, on=address)
            finally:
                for one in reversed(processes):  # a worker without its scheduler waits for it
                    one.kill()
                for one in processes:
                    one.wait()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"target {TARGET_MS:g} ms; this process at most {peak:.0f} MB")


if __name__ == "__main__":
    main()
