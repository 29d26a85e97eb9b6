"""Measured values in the units inside, with the apertures they belong to: from columns or from the paste film."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError
from landwise.fabdata.inspectioncolumns import RELATIVE, UNITS, InspectionColumns
from landwise.fabdata.inspectionplaces import Apertures, overlay

Array = NDArray[np.float64]
Codes = NDArray[np.int32]


@dataclass(frozen=True, eq=False)
class Sizes:
    """Of the aperture under every deposit; nan where none is known. [mm², mm]"""

    area_mm2: Array
    wall_mm: Array


def under(
    apertures: Apertures, columns: InspectionColumns, place: Codes, image: Codes, values: Mapping[str, Array], file: str
) -> tuple[Sizes, list[str]]:
    """The openings that deposits lie on, and how the film was laid."""
    if not {"x", "y"} <= values.keys():
        raise InputError(
            "deposits can't be laid on the film",
            file=file,
            found=", ".join(columns.fields.values()),
            expected="columns x and y (--column)",
        )
    x, y = (values[axis] * UNITS[axis][columns.units[axis]] for axis in "xy")
    opening = np.full(len(place), -1, dtype=np.int64)
    notes = []
    for one in np.unique(image):
        rows = np.flatnonzero(image == one)
        rows = rows[np.isfinite(x[rows]) & np.isfinite(y[rows])]
        # A place is where it was first measured: places of a board don't move.
        _, first, back = np.unique(place[rows], return_index=True, return_inverse=True)
        if not len(first):
            continue
        try:
            laid = overlay(x[rows][first], y[rows][first], apertures)
        except InputError as error:
            raise error.within(file=file) from None
        opening[rows] = laid.opening[back]
        notes.append(
            f"the film lies turned by {laid.turn_deg}° and moved by {laid.shift_mm[0]:.2f}, {laid.shift_mm[1]:.2f} mm;"
            f" {laid.share:.0%} of {len(first)} places lie on an opening"
        )
    known = opening >= 0
    area, wall = (np.where(known, of[opening], np.nan) for of in (apertures.area_mm2, apertures.wall_mm))
    return Sizes(area, wall), list(dict.fromkeys(notes))


def in_units(
    values: dict[str, Array], columns: InspectionColumns, foil_um: float | None, sizes: Sizes | None, file: str
) -> tuple[dict[str, Array], list[str]]:
    """Everything in the units inside, and what had to be left out for want of a size."""
    found = {name: array * UNITS[name][columns.units[name]] for name, array in values.items()}
    from_film = sizes is not None
    notes: list[str] = []
    if sizes is None and {"size_x", "size_y"} <= found.keys():
        length, width = found["size_x"], found["size_y"]
        sizes = Sizes(length * width, 2 * (length + width))
    for name in ("volume", "area"):
        if name in found and columns.units[name] not in RELATIVE:
            if sizes is None or (name == "volume" and foil_um is None):
                if name == "area":
                    del found[name]
                    continue
                raise InputError(
                    "absolute volumes need the apertures",
                    file=file,
                    place=name,
                    expected="columns size_x and size_y or the paste film (--paste), and the foil (--foil)",
                )
            found[name] = found[name] / sizes.area_mm2
            if name == "volume" and foil_um is not None:
                found[name] = found[name] / (foil_um / 1000)
    for axis in "xy":
        name = f"offset_{axis}"
        if name in found and columns.units[name] == "%":
            if f"size_{axis}" in found:
                found[name] = found[name] * found[f"size_{axis}"] * 1000
            else:
                del found[name]
                notes.append(f"{name} is in per cent of a size that no column gives: not used")
    if sizes is not None and foil_um is not None and (from_film or "area_ratio" not in found):
        with np.errstate(divide="ignore", invalid="ignore"):
            found["area_ratio"] = sizes.area_mm2 / (sizes.wall_mm * foil_um / 1000)
    return found, notes
