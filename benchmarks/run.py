"""Time and memory of the main commands, each beside a bare Python start in the same run.

Numbers of one run on one machine: compare the ratios, not the seconds. Run with `make benchmark`.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from joints import rows

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent
BOARDS = ROOT.parent / "shared" / "boards"
LANDWISE = (sys.executable, "-m", "landwise")


def measure(command: Sequence[str], repeats: int = 3) -> tuple[float, float, float]:
    """Best wall time [s], best processor time [s] and peak memory [MB] of a command."""
    best = (float("inf"), float("inf"))
    for _ in range(repeats):
        start = time.perf_counter()
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
        _, stderr = process.communicate()
        wall = time.perf_counter() - start
        if process.returncode:
            raise SystemExit(f"{' '.join(command)} failed: {stderr.decode()[-300:]}")
        best = (min(best[0], wall), best[1])
    # Processor time and memory from one more run under its own accounting.
    code = (
        "import resource, subprocess, sys;"
        "subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=True);"
        "u = resource.getrusage(resource.RUSAGE_CHILDREN);"
        "print(u.ru_utime + u.ru_stime, u.ru_maxrss / 1024)"
    )
    told = subprocess.run(
        [sys.executable, "-c", code, *command], capture_output=True, text=True, check=True
    ).stdout.split()
    peak = float(told[1])
    return best[0], float(told[0]), peak


def commands(folder: Path) -> list[tuple[str, list[str], str]]:
    """Name, command and target of each line of the table."""
    example = str(ROOT / "examples" / "logger" / "board.toml")
    found = [
        ("--help", [*LANDWISE, "--help"], "0.2 s of processor time"),
        ("calc area-ratio", [*LANDWISE, "calc", "area-ratio", "length=0.25 mm", "width=0.20 mm", "foil=100 um"], ""),
        (
            "compare with card",
            [*LANDWISE, "compare", "--number", "74LVC1G08", "--present", "SOT-23-5", "-o", str(folder / "card")],
            "2 s",
        ),
        ("study of the example", [*LANDWISE, "study", example, "-o", str(folder / "example")], "10 s, 500 MB"),
    ]
    for bill in sorted(BOARDS.glob("*/*")) if BOARDS.is_dir() else []:
        name = bill.name.lower()
        if name.endswith(".csv") and ("bom" in name or bill.stem in ("isavideo", "7-REV1B")):
            target = folder / f"{bill.parent.name}-{bill.stem}.toml"
            subprocess.run(
                [*LANDWISE, "start", "--bom", str(bill), "-o", str(target)], check=True, stdout=subprocess.DEVNULL
            )
            if "[[part]]" in target.read_text().replace("# [[part]]", ""):
                found.append(
                    (
                        f"study of {bill.parent.name}",
                        [*LANDWISE, "study", str(target), "-o", str(folder / target.stem)],
                        "10 s, 500 MB",
                    )
                )
    return found


def main() -> None:
    """Print the table."""
    os.environ["PYTHONDONTWRITEBYTECODE"] = ""
    bare = measure([sys.executable, "-c", "pass"])[0]
    print(f"{'command':<28} {'wall s':>8} {'× bare':>8} {'cpu s':>8} {'MB':>7}  target")
    print(f"{'bare Python':<28} {bare:>8.3f} {1:>8.1f}")
    with tempfile.TemporaryDirectory() as name:
        for title, command, target in commands(Path(name)):
            wall, cpu, peak = measure(command)
            print(f"{title:<28} {wall:>8.3f} {wall / bare:>8.1f} {cpu:>8.3f} {peak:>7.0f}  {target}")
    for row in rows():
        target = f"target {row.target_ms:g} ms" if row.target_ms else ""
        print(
            f"{row.title:<28} {row.ms:>8.3f} ms each, {row.beside_ms / row.ms:.1f}× quicker than {row.beside}  {target}"
        )
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"this script itself: {own:.0f} MB")


if __name__ == "__main__":
    main()
