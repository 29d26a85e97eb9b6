"""The board's plate and heat solutions at 10,000 unknowns: time of each, imports aside.

Run: `python benchmarks/plate.py`. Targets: one second each.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from landwise.service.board_heat import HeatBoard, Source, _bare, board_heat, stack
from landwise.service.plate import Plate, _solved, plate_modes

REPEATS = 3


def best(work: Callable[[], object]) -> float:
    """Best time of a few runs. [s]"""
    found = float("inf")
    for _ in range(REPEATS):
        start = time.perf_counter()
        work()
        found = min(found, time.perf_counter() - start)
    return found


def main() -> None:
    """Print unknowns and seconds."""
    screws = ((4.0, 4.0), (4.0, 96.0), (96.0, 4.0), (96.0, 96.0))
    plate = Plate(100, 100, 1.6, 20700, 0.18, 35000, supports=screws)
    plate_modes(plate, 6, 8)  # the imports
    solve = _solved.__wrapped__  # past its cache
    modes = solve(plate, 6, 49)
    unknowns = 4 * len(modes.x_mm) * len(modes.y_mm)
    print(f"plate, six modes   {unknowns:>6} unknowns  {best(lambda: solve(plate, 6, 49)):.3f} s  target 1 s")
    print(f"plate as used      {'':>6}           {best(lambda: solve(plate, 6, 14)):.3f} s")
    for layers, cells in ((2, 71), (4, 50)):
        copper, gaps = stack(layers, 35.0, (0.5,), 1.6)
        board, sources = HeatBoard(100, 100, copper, gaps), (Source(40, 60, 5, 5, 0.5), Source(70, 20, 3, 3, 0.1))
        field = board_heat(board, sources, cells)

        def anew(b: HeatBoard = board, s: tuple[Source, ...] = sources, c: int = cells) -> object:
            _bare.cache_clear()
            return board_heat(b, s, c)

        seconds = best(anew)
        print(f"heat, {layers} layers     {field.rise_k.size:>6} unknowns  {seconds:.3f} s  target 1 s")


if __name__ == "__main__":
    main()
