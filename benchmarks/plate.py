"""The board's plate and heat solutions at 10,000 unknowns, and all figures of the board in service for 100 parts.

Run: `python benchmarks/plate.py`. Targets: one second for each solution, five for the 100 parts; imports aside.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from landwise.judging.bench import Bench
from landwise.judging.service import service_figures
from landwise.outlines import catalogue, find
from landwise.service.board_heat import HeatBoard, Source, _bare, board_heat, stack
from landwise.service.plate import Plate, _solved, plate_modes
from landwise.study.file import study_from

REPEATS = 3


def best(work: Callable[[], object], repeats: int = REPEATS) -> str:
    """Best wall and processor time of a few runs, as text: on a busy machine only the second tells."""
    wall = cpu = float("inf")
    for _ in range(repeats):
        start, busy = time.perf_counter(), time.process_time()
        work()
        wall, cpu = min(wall, time.perf_counter() - start), min(cpu, time.process_time() - busy)
    return f"{wall:.3f} s wall, {cpu:.3f} s processor"


def main() -> None:
    """Print unknowns and seconds."""
    screws = ((4.0, 4.0), (4.0, 96.0), (96.0, 4.0), (96.0, 96.0))
    plate = Plate(100, 100, 1.6, 20700, 0.18, 35000, supports=screws)
    plate_modes(plate, 6, 8)  # the imports
    solve = _solved.__wrapped__  # past its cache
    modes = solve(plate, 6, 49)
    unknowns = 4 * len(modes.x_mm) * len(modes.y_mm)
    print(f"plate, six modes   {unknowns:>6} unknowns  {best(lambda: solve(plate, 6, 49))}  target 1 s")
    print(f"plate as used      {'':>6}           {best(lambda: solve(plate, 6, 14))}")
    for layers, cells in ((2, 71), (4, 50)):
        copper, gaps = stack(layers, 35.0, (0.5,), 1.6)
        board, sources = HeatBoard(100, 100, copper, gaps), (Source(40, 60, 5, 5, 0.5), Source(70, 20, 3, 3, 0.1))
        field = board_heat(board, sources, cells)

        def anew(b: HeatBoard = board, s: tuple[Source, ...] = sources, c: int = cells) -> object:
            _bare.cache_clear()
            return board_heat(b, s, c)

        seconds = best(anew)
        print(f"heat, {layers} layers     {field.rise_k.size:>6} unknowns  {seconds}  target 1 s")
    print(f"figures of 100 parts                         {hundred()}  target 5 s")


def hundred() -> str:
    """Service figures of a made-up board of 100 parts in as many packages as there are, nothing worked before."""
    packages = [o for o in catalogue().values() if not o.drilled and o.terminals <= 48]
    parts = [
        {
            "refs": [f"U{n}"],
            "function": "octal bus transceiver",
            "family": "LVC",
            "frequency": "10 MHz",
            "terminals": packages[n % len(packages)].terminals,
            "options": [{"outline": packages[n % len(packages)].name}],
            "at": {f"U{n}": [f"{15 + n % 10 * 16} mm", f"{10 + n // 10 * 10} mm"]},
        }
        for n in range(100)
    ]
    use = {"random": [["20 Hz", "0.04 g2/Hz"], ["2000 Hz", "0.04 g2/Hz"]], "vibrated": "10 h", "shock": "50 g"}
    board = {"length": "180 mm", "width": "120 mm", "layers": 4}
    bench = Bench.of(study_from({"board": board, "use": use, "part": parts}))
    work = [(bench.geometry(find(part.options[0].outline)), part) for part in bench.content.part]  # type: ignore[union-attr]
    _solved.cache_clear()
    _bare.cache_clear()
    return best(lambda: [service_figures(geometry, part, bench) for geometry, part in work], 1)


if __name__ == "__main__":
    main()
