"""Flat-land joints with a toe in bulk: force against height from a table of our own solver's equilibria.

Sizes are over the land's width w. The table holds the force over γw that the joint pushes the terminal up with,
and the pressure times w/γ; between its points it is a polynomial through each axis. Gravity is left out, which
moves these forces by less than a hundredth of γw.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache, lru_cache
from importlib import resources
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from landwise.errors import ValidityError

Array = NDArray[np.float64]
# Terminal's length and width, land beyond toe and heel, solder over land area, height over that.
AXES: Mapping[str, tuple[float, ...]] = MappingProxyType(
    {
        "length": (1.0, 1.6, 2.4),
        "width": (0.75, 0.82, 0.90),
        "toe": (0.6, 0.8, 1.1, 1.4),
        "heel": (0.0, 0.07, 0.2, 0.4),
        "volume": (0.12, 0.20, 0.33),
        "stretch": (0.4, 0.6, 0.8, 1.0, 1.2),
    }
)
SOURCE = "surface-energy-minimum"


@cache
def stored() -> tuple[Array, Array, float, float]:
    """Force and pressure over the axes, with the worst and the median miss between grid points."""
    text = resources.files("landwise.joints").joinpath("pad_table.toml").read_text(encoding="utf-8")
    table = tomllib.loads(text)
    shape = tuple(len(axis) for axis in AXES.values())
    force, pressure = (np.array(table[name], dtype=float).reshape(shape) for name in ("force", "pressure"))
    return force, pressure, float(table["force_error"]), float(table["force_error_usual"])


def table_force(
    length: float, width: float, toe: float, heel: float, volume: float, stretch: float
) -> tuple[float, float]:
    """Upward force over γw and pressure times w/γ of one joint, all sizes over the land's width.

    Raises
    ------
    ValidityError
        Outside the table.
    """
    force, pressure = _over_heights(length, width, toe, heel, volume)
    weight = _weights("stretch", stretch)
    return float(force @ weight), float(pressure @ weight)


@lru_cache(maxsize=1024)
def _over_heights(length: float, width: float, toe: float, heel: float, volume: float) -> tuple[Array, Array]:
    """Force and pressure at the table's heights for a joint of these sizes."""
    force, pressure, _, _ = stored()
    for name, value in (("length", length), ("width", width), ("toe", toe), ("heel", heel), ("volume", volume)):
        weight = _weights(name, value)
        force, pressure = np.tensordot(weight, force, axes=1), np.tensordot(weight, pressure, axes=1)
    return force, pressure


def _weights(name: str, value: float) -> Array:
    """Weights of the polynomial through all points of an axis."""
    axis = np.array(AXES[name])
    if not axis[0] - 1e-9 <= value <= axis[-1] + 1e-9:
        raise ValidityError(
            "the joint lies outside the table",
            place=name,
            found=f"{value:.3g}",
            expected=f"{axis[0]:g} to {axis[-1]:g}",
        )
    made = np.ones(len(axis))
    for k in range(len(axis)):
        others = np.delete(axis, k)
        made[k] = np.prod((value - others) / (axis[k] - others))
    return made
