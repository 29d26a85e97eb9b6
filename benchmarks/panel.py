"""`landwise review` on generated panels: time and peak memory, and how they grow.

A panel repeats one made-up unit (rows at 0.5 and 0.65 mm, chips, a ball grid) until it has the wanted number of
apertures; paste, copper and mask are written as plain Gerber. Reviewed as one image (copies recognised) and, with every
unit moved a little so that nothing repeats, opening by opening. Run: `python benchmarks/panel.py [apertures ...]`.
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

UNIT = (32.0, 27.0)  # mm
MOST_UNEVEN = 200_000  # openings one by one: some 10 kB each


def unit() -> list[tuple[float, float, str, float, float]]:
    """Flashes of one unit: x, y, shape, length along x, along y. [mm]"""
    found = [(10 + s * 3.75, 10 + (k - 11.5) * 0.5, "R", 1.4, 0.28) for s in (-1, 1) for k in range(24)]
    found += [(22 + s * 3, 6 + k * 0.65, "R", 1.4, 0.35) for k in range(11) for s in (-1, 1)]
    found += [(3 + s + (k % 8) * 2.2, 20 + (k // 8) * 1.1, "R", 0.5, 0.6) for k in range(40) for s in (-0.48, 0.48)]
    found += [(24 + i * 0.5, 16 + j * 0.5, "C", 0.28, 0.28) for i in range(10) for j in range(10)]
    return found


def film(count: int, growth: float, uneven_mm: float = 0.0) -> bytes:
    """A Gerber layer of `count` flashes, every one grown by `growth` on each edge, units moved by up to `uneven_mm`."""
    flashes = unit()
    side = int((count / len(flashes)) ** 0.5) + 1
    codes: dict[tuple[str, float, float], int] = {}
    for _, _, shape, length, width in flashes:
        codes.setdefault((shape, length, width), 10 + len(codes))
    moves = random.Random(1)
    moved = [[moves.uniform(-uneven_mm, uneven_mm) for _ in "xy"] for _ in range(-(-count // len(flashes)))]
    lines = ["%FSLAX46Y46*%", "%MOMM*%"]
    for (shape, length, width), code in codes.items():
        size = f"{length + 2 * growth:.4f}" + ("" if shape == "C" else f"X{width + 2 * growth:.4f}")
        lines.append(f"%ADD{code}{shape},{size}*%")
    for (shape, length, width), code in codes.items():
        lines.append(f"D{code}*")
        own = [(x, y) for x, y, *look in flashes if tuple(look) == (shape, length, width)]
        for number in range(-(-count // len(flashes))):
            dx, dy = UNIT[0] * (number % side) + moved[number][0], UNIT[1] * (number // side) + moved[number][1]
            lines += [f"X{round((x + dx) * 1e6)}Y{round((y + dy) * 1e6)}D03*" for x, y in own]
    return "\n".join([*lines, "M02*", ""]).encode()


def measured(count: int, uneven_mm: float) -> tuple[float, float, float]:
    """Wall and processor seconds, and peak MB, of one review."""
    environment = {k: v for k, v in os.environ.items() if k not in ("OPENBLAS_CORETYPE", "OPENBLAS_L2_SIZE")}
    with tempfile.TemporaryDirectory() as folder:
        for name, growth in (("panel.gtp", 0.0), ("panel.gtl", 0.0), ("panel.gts", 0.05)):
            Path(folder, name).write_bytes(film(count, growth, uneven_mm))
        out = ["-o", str(Path(folder, "out")), "--fail-on", "never", "--most-openings", "5000000"]
        command = [sys.executable, "-c", MEASURE, "review", folder, *out]
        start = time.perf_counter()
        ran = subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, env=environment)
        wall = time.perf_counter() - start
    used, peak = ran.stderr.decode().split()[-2:]
    return wall, float(used), float(peak)


# Peak memory of the children of one process is that of the largest so far: each run tells its own.
MEASURE = """
import resource, sys
from landwise.cli import main
try:
    main()
finally:
    its = resource.getrusage(resource.RUSAGE_SELF)
    print(its.ru_utime + its.ru_stime, its.ru_maxrss / 1024, file=sys.stderr)
"""


def main(counts: list[int]) -> None:
    """Print one row a panel size and kind, processor time as a ratio to a panel of two units."""
    ground = measured(500, 0.0)[1]
    print(f"{'apertures':>10} {'':>8} {'wall s':>8} {'processor s':>12} {'of 500':>7} {'peak MB':>8}")
    for count in counts:
        for kind, uneven_mm in (("repeats", 0.0), ("uneven", 0.4)):
            if kind == "uneven" and count > MOST_UNEVEN:
                continue
            wall, used, peak = measured(count, uneven_mm)
            print(f"{count:>10} {kind:>8} {wall:>8.2f} {used:>12.2f} {used / ground:>7.1f} {peak:>8.0f}")


if __name__ == "__main__":
    main([int(text) for text in sys.argv[1:]] or [6_250, 12_500, 25_000, 50_000])
