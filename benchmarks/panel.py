"""`landwise review` on generated panels: time and peak memory, and how they grow.

A panel repeats one made-up unit (rows at 0.5 and 0.65 mm, chips, a ball grid) until it has the wanted number of
apertures; paste, copper and mask are written as plain Gerber. Run: `python benchmarks/panel.py [apertures ...]`.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

UNIT = (32.0, 27.0)  # mm


def unit() -> list[tuple[float, float, str, float, float]]:
    """Flashes of one unit: x, y, shape, length along x, along y. [mm]"""
    found = [(10 + s * 3.75, 10 + (k - 11.5) * 0.5, "R", 1.4, 0.28) for s in (-1, 1) for k in range(24)]
    found += [(22 + s * 3, 6 + k * 0.65, "R", 1.4, 0.35) for k in range(11) for s in (-1, 1)]
    found += [(3 + s + (k % 8) * 2.2, 20 + (k // 8) * 1.1, "R", 0.5, 0.6) for k in range(40) for s in (-0.48, 0.48)]
    found += [(24 + i * 0.5, 16 + j * 0.5, "C", 0.28, 0.28) for i in range(10) for j in range(10)]
    return found


def film(count: int, growth: float) -> bytes:
    """A Gerber layer of `count` flashes, every one grown by `growth` on each edge. [mm]"""
    flashes = unit()
    side = int((count / len(flashes)) ** 0.5) + 1
    codes: dict[tuple[str, float, float], int] = {}
    for _, _, shape, length, width in flashes:
        codes.setdefault((shape, length, width), 10 + len(codes))
    lines = ["%FSLAX46Y46*%", "%MOMM*%"]
    for (shape, length, width), code in codes.items():
        size = f"{length + 2 * growth:.4f}" + ("" if shape == "C" else f"X{width + 2 * growth:.4f}")
        lines.append(f"%ADD{code}{shape},{size}*%")
    for (shape, length, width), code in codes.items():
        lines.append(f"D{code}*")
        own = [(x, y) for x, y, *look in flashes if tuple(look) == (shape, length, width)]
        for number in range(-(-count // len(flashes))):
            dx, dy = UNIT[0] * (number % side), UNIT[1] * (number // side)
            lines += [f"X{round((x + dx) * 1e6)}Y{round((y + dy) * 1e6)}D03*" for x, y in own]
    return "\n".join([*lines, "M02*", ""]).encode()


def main(counts: list[int]) -> None:
    """Print one row a panel size."""
    environment = {k: v for k, v in os.environ.items() if k not in ("OPENBLAS_CORETYPE", "OPENBLAS_L2_SIZE")}
    print(f"{'apertures':>10} {'wall s':>8} {'processor s':>12} {'peak MB':>8}")
    for count in counts:
        with tempfile.TemporaryDirectory() as folder:
            for name, growth in (("panel.gtp", 0.0), ("panel.gtl", 0.0), ("panel.gts", 0.05)):
                Path(folder, name).write_bytes(film(count, growth))
            command = [
                sys.executable,
                "-m",
                "landwise",
                "review",
                folder,
                "-o",
                str(Path(folder, "out")),
                "--fail-on",
                "never",
            ]
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            start = time.perf_counter()
            subprocess.run(command, check=True, stdout=subprocess.DEVNULL, env=environment)
            wall = time.perf_counter() - start
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
            print(f"{count:>10} {wall:>8.2f} {used:>12.2f} {after.ru_maxrss / 1024:>8.0f}")


if __name__ == "__main__":
    main([int(text) for text in sys.argv[1:]] or [6_250, 12_500, 25_000, 50_000])
