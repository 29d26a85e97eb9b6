"""Compute the table of flat-land joints with a toe that `joints/padtable.py` reads.

Every entry is one equilibrium of `joints/pad.py` at a held height. Sizes are over the land's width, force over
surface tension times that width. Takes some minutes; run from the repository's root after a change of the solver:

    python docs/make_pad_table.py
"""

from __future__ import annotations

import itertools
import sys
from pathlib import Path

import numpy as np

from landwise.errors import ValidityError
from landwise.joints.pad import Faces, Molten, held_joint
from landwise.joints.padtable import AXES, table_force

TABLE = Path(__file__).resolve().parents[1] / "src" / "landwise" / "joints" / "pad_table.toml"
CHECKS = 120


def solve(length: float, width: float, toe: float, heel: float, volume: float, stretch: float) -> tuple[float, float]:
    """Force over γw and pressure times w over γ, of a land one wide."""
    land = length + toe + heel
    joint = held_joint(
        Faces(land, 1.0, length, width, offset_mm=(toe - heel) / 2),
        volume * land,
        volume * stretch,
        molten=Molten(tension_n_m=1e3, density_g_cm3=0.0),
    )
    return joint.force_n, joint.pressure_mpa


def solve_or_near(*point: float) -> tuple[float, float]:
    """The solution, or the mean of two a hundredth below and above in stretch where the search gets stuck."""
    try:
        return solve(*point)
    except ValidityError as error:
        print(point, error, file=sys.stderr)
    near = [solve(*point[:-1], point[-1] + step) for step in (-0.01, 0.01)]
    return (near[0][0] + near[1][0]) / 2, (near[0][1] + near[1][1]) / 2


def rows(values: list[float], digits: int) -> str:
    """Numbers as TOML, sixteen a line."""
    lines = []
    for start in range(0, len(values), 16):
        lines.append("  " + ", ".join(f"{value:.{digits}f}" for value in values[start : start + 16]) + ",")
    return "[\n" + "\n".join(lines) + "\n]"


def main() -> None:
    """Solve the grid, then random points between, and write the table with its errors."""
    force: list[float] = []
    pressure: list[float] = []
    points = list(itertools.product(*AXES.values()))
    for number, point in enumerate(points):
        f, p = solve_or_near(*point)
        force.append(f)
        pressure.append(p)
        if number % 100 == 0:
            print(f"{number} of {len(points)}", flush=True)
    head = ["# Flat-land joints with a toe: computed by docs/make_pad_table.py, not to be edited.", ""]
    for name, axis in AXES.items():
        head.append(f"{name} = [{', '.join(f'{value:g}' for value in axis)}]")
    body = [f"force = {rows(force, 4)}", f"pressure = {rows(pressure, 4)}"]
    TABLE.write_text("\n".join([*head, "force_error = 0.0", "force_error_usual = 0.0", *body, ""]), encoding="utf-8")
    from landwise.joints import padtable

    padtable.stored.cache_clear()
    random = np.random.default_rng(1)
    misses = []
    for _ in range(CHECKS):
        point = [float(random.uniform(axis[0], axis[-1])) for axis in AXES.values()]
        try:
            misses.append(abs(table_force(*point)[0] - solve(*point)[0]))
        except ValidityError as error:
            print(point, error, file=sys.stderr)
    worst, usual = max(misses), float(np.median(misses))
    print(f"between grid points: median miss {usual:.3f}, 90 % {np.quantile(misses, 0.9):.3f}, worst {worst:.3f} of γw")
    errors = [f"force_error = {worst:.4f}", f"force_error_usual = {usual:.4f}"]
    TABLE.write_text("\n".join([*head, *errors, *body, ""]), encoding="utf-8")


if __name__ == "__main__":
    main()
