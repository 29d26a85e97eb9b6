"""Time of the whole set of service figures for a board of parts, and of the board's life curve.

Run with `python benchmarks/service.py [parts]`. The parts are the catalogue's outlines in turn, each with its own
lands and print, so nothing is shared that a real board would not share.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from landwise.judging.bench import Bench
from landwise.judging.life import environment_of, life_figures, life_of
from landwise.judging.service import service_figures
from landwise.outlines.catalogue import catalogue
from landwise.service.lives import board_failed
from landwise.study.file import study_from


def main(argv: list[str]) -> None:
    """Print the table."""
    count = int(argv[1]) if len(argv) > 1 else 100
    names = list(catalogue())
    study = study_from({"part": [{"refs": [f"U{n}"], "package": names[n % len(names)]} for n in range(count)]})
    bench = Bench.of(study)
    outlines = [catalogue()[part.package] for part in study.content.part]
    start = time.perf_counter()
    geometries = [bench.geometry(outline) for outline in outlines]
    shared = time.perf_counter()
    made = 0
    for geometry, part in zip(geometries, study.content.part, strict=True):
        made += len(life_figures(geometry, part, bench)) + len(service_figures(geometry, part, bench))
    figured = time.perf_counter()
    surface = [geometry for geometry in geometries if not geometry.outline.drilled]
    lives = [(life_of(geometry, study.content)[1], 1) for geometry in surface]
    place = environment_of(study.content.use)
    value = board_failed(lives, np.geomspace(place.years / 10, 100 * place.years, 90))[0]
    done = time.perf_counter()
    print(f"{count} parts, {made} figures")
    print(f"lands, prints, joints  {shared - start:8.3f} s")
    print(f"service figures        {figured - shared:8.3f} s")
    print(f"life curve of the board{done - figured:8.3f} s   (last share {value[-1]:.3f})")
    print(f"service in all         {done - shared:8.3f} s")


if __name__ == "__main__":
    main(sys.argv)
