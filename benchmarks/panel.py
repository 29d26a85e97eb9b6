"""`landwise review` on generated panels: time and peak memory, and how they grow.

A panel repeats one made-up unit (rows at 0.5 and 0.65 mm, chips, a ball grid) until it has the wanted number of
apertures; paste, copper and mask are written as plain Gerber. Four kinds: `repeats` (copies recognised, one image
reviewed); `uneven`, every unit moved a little so that nothing repeats; `mixed`, ten different boards of some 300 sizes
in all, each copy moved by an odd offset so that no array is found; `different`, every opening of a size of its own,
which no real film is: the worst case. Run: `python benchmarks/panel.py [kind ...] [apertures ...]`.
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
Flash = tuple[float, float, str, float, float]
KINDS = ("repeats", "uneven", "mixed", "different")
ODD_MM = 0.4  # units are moved by up to this
OWN_MM = 0.02  # openings of a size of their own differ by up to this
GIVEN_S = 120  # of --most-seconds for openings that all differ
BOARDS = 10  # different ones on a mixed panel
MOST_APERTURES = 40_000  # further shapes are drawn as regions: readers bound how many apertures a film defines


def unit() -> list[Flash]:
    """Flashes of one unit: x, y, shape, length along x, along y. [mm]"""
    found = [(10 + s * 3.75, 10 + (k - 11.5) * 0.5, "R", 1.4, 0.28) for s in (-1, 1) for k in range(24)]
    found += [(22 + s * 3, 6 + k * 0.65, "R", 1.4, 0.35) for k in range(11) for s in (-1, 1)]
    found += [(3 + s + (k % 8) * 2.2, 20 + (k // 8) * 1.1, "R", 0.5, 0.6) for k in range(40) for s in (-0.48, 0.48)]
    found += [(24 + i * 0.5, 16 + j * 0.5, "C", 0.28, 0.28) for i in range(10) for j in range(10)]
    return found


def other_unit(number: int) -> list[Flash]:
    """A board of the mixed panel: the unit with other sizes and pitches, parts at other places, some turned."""
    chance = random.Random(number)
    wide, long = 0.22 + 0.01 * (number % 5), 1.1 + 0.05 * number
    found: list[Flash] = []
    for body in range(4):
        pitch, count = (0.5, 0.65, 0.8, 1.27)[(body + number) % 4], 8 + 2 * ((body * 3 + number) % 5)
        x, y = 4 + 7.5 * body, 8.5
        size = (round(long + 0.03 * body, 4), round(wide * pitch / 0.5, 4))
        for k in range(count):
            along = (k - (count - 1) / 2) * min(pitch, 12 / count)
            found += [(x + s * 2.6, y + along, "R", *size) for s in (-1, 1)]
    for k in range(48):
        turned, kind = chance.random() < 0.5, k % 6
        size = (round(0.4 + 0.1 * kind + 0.005 * number, 4), round(0.45 + 0.12 * kind + 0.005 * number, 4))
        x, y, apart = 2 + (k % 12) * 2.5, 18 + (k // 12) * 2.3, size[0] / 2 + 0.2 + 0.05 * kind
        for s in (-apart, apart):
            found.append((x, y + s, "R", size[1], size[0]) if turned else (x + s, y, "R", *size))
    return found + [
        (30 + i * 0.5 - 2, 1 + j * 0.5, "C", 0.26 + 0.005 * number, 0.26) for i in range(3) for j in range(6)
    ]


def flashes(count: int, kind: str) -> list[Flash]:
    """All openings of a film, in the order of its units."""
    units = [other_unit(number) for number in range(BOARDS)] if kind == "mixed" else [unit()]
    per = sum(len(one) for one in units) / len(units)
    side, chance = int((count / per) ** 0.5) + 1, random.Random(1)
    found: list[Flash] = []
    number = 0
    while len(found) < count:
        move = (0.0, 0.0) if kind == "repeats" else (chance.uniform(-ODD_MM, ODD_MM), chance.uniform(-ODD_MM, ODD_MM))
        dx, dy = UNIT[0] * (number % side) + move[0], UNIT[1] * (number // side) + move[1]
        for x, y, shape, length, width in units[chance.randrange(len(units))]:
            more = (chance.uniform(-OWN_MM, OWN_MM), chance.uniform(-OWN_MM, OWN_MM)) if kind == "different" else (0, 0)
            found.append((x + dx, y + dy, shape, length + more[0], width + more[1]))
        number += 1
    return found


def film(openings: list[Flash], growth: float) -> bytes:
    """A Gerber layer of the openings, every one grown by `growth` on each edge."""
    by_look: dict[str, list[tuple[float, float]]] = {}
    for x, y, shape, length, width in openings:
        size = f"{length + 2 * growth:.4f}" + ("" if shape == "C" else f"X{width + 2 * growth:.4f}")
        by_look.setdefault(f"{shape},{size}", []).append((x, y))
    looks = list(by_look)
    lines = ["%FSLAX46Y46*%", "%MOMM*%"]
    lines += [f"%ADD{code}{look}*%" for code, look in enumerate(looks[:MOST_APERTURES], 10)]
    for code, look in enumerate(looks, 10):
        places = by_look[look]
        if code < MOST_APERTURES + 10:
            lines += [f"D{code}*", *(f"X{round(x * 1e6)}Y{round(y * 1e6)}D03*" for x, y in places)]
            continue
        size = [float(text) / 2 for text in look[2:].split("X")]
        for x, y in places:
            box = [(round((x + a * size[0]) * 1e6), round((y + b * size[-1]) * 1e6)) for a, b in CORNERS]
            lines += ["G36*", "X{}Y{}D02*".format(*box[0]), *(f"X{a}Y{b}D01*" for a, b in box[1:]), "G37*"]
    return "\n".join([*lines, "M02*", ""]).encode()


CORNERS = ((-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1))


def write(folder: Path, count: int, kind: str) -> None:
    """Paste, copper and mask of a panel."""
    openings = flashes(count, kind)
    for name, growth in (("panel.gtp", 0.0), ("panel.gtl", 0.0), ("panel.gts", 0.05)):
        (folder / name).write_bytes(film(openings, growth))


def measured(count: int, kind: str) -> list[tuple[float, float, float, float]]:
    """Wall and processor seconds, peak MB of the command and of its largest process beside; of a first and second run.

    Processor time is that of all processes. Where joints are worked by several, each takes memory of its own.
    """
    environment = {k: v for k, v in os.environ.items() if k not in ("OPENBLAS_CORETYPE", "OPENBLAS_L2_SIZE")}
    found = []
    with tempfile.TemporaryDirectory() as folder:
        films = Path(folder, "films")
        films.mkdir()
        write(films, count, kind)
        environment["LANDWISE_CACHE"] = str(Path(folder, "cache"))
        out = ["-o", str(Path(folder, "out")), "--fail-on", "never", "--most-openings", "5000000"]
        out += ["--most-seconds", str(GIVEN_S)] if kind == "different" else []
        command = [sys.executable, "-c", MEASURE, "review", str(films), *out]
        for _ in range(2):
            start = time.perf_counter()
            ran = subprocess.run(
                command, check=False, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, env=environment
            )
            if ran.returncode:
                raise SystemExit(f"{count} {kind}: {ran.stderr.decode()}")
            used, peak, beside = (float(text) for text in ran.stderr.decode().split()[-3:])
            found.append((time.perf_counter() - start, used, peak, beside))
    return found


# What the system tells of a child's peak begins with the memory of the process that started it, some 300 MB here: its
# own peak stands in its own status, looked at again and again. Linux only; elsewhere none is seen.
MEASURE = """
import resource, sys, threading, time
from pathlib import Path
from landwise.cli import main

beside = [0.0]

def watch():
    while True:
        for listed in Path("/proc/self/task").glob("*/children"):
            try:
                for child in listed.read_text().split():
                    lines = Path("/proc", child, "status").read_text().splitlines()
                    beside.extend(float(line.split()[1]) / 1024 for line in lines if line.startswith("VmHWM"))
            except OSError:
                continue
        beside[:] = [max(beside)]
        time.sleep(0.05)

threading.Thread(target=watch, daemon=True).start()
try:
    main()
finally:
    its, others = resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN)
    used = its.ru_utime + its.ru_stime + others.ru_utime + others.ru_stime
    print(used, its.ru_maxrss / 1024, beside[0], file=sys.stderr)
"""


def main(asked: list[str]) -> None:
    """Print two rows a panel size and kind, processor time as a ratio to a panel of two units."""
    kinds = [text for text in asked if text in KINDS] or list(KINDS)
    counts = [int(text) for text in asked if text.isdigit()] or [6_250, 12_500, 25_000, 50_000]
    ground = measured(500, "repeats")[0][1]
    heads = f"{'wall s':>8} {'processor s':>12} {'of 500':>7} {'peak MB':>8} {'beside MB':>10}"
    print(f"{'apertures':>10} {'':>10} {'':>7} {heads}")
    for count in counts:
        for kind in kinds:
            for run, (wall, used, peak, beside) in zip(("first", "again"), measured(count, kind), strict=True):
                row = f"{wall:>8.2f} {used:>12.2f} {used / ground:>7.1f} {peak:>8.0f} {beside:>10.0f}"
                print(f"{count:>10} {kind:>10} {run:>7} {row}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
