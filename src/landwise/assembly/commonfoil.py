"""The thickest foil that practice prints a part on, by form and pitch of its terminals: nobody works its openings."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Literal, get_args

from landwise.errors import InputError
from landwise.quantities import parse
from landwise.untyped import Table

Form = Literal["gull wings", "leadless", "balls"]
FORMS: tuple[Form, ...] = get_args(Form)
SAME_PITCH_MM = 1e-6
PLACE = "commonfoil.toml"


@dataclass(frozen=True)
class PracticeFoil:
    """The thickest foil in practice, and the key of its source. [µm]"""

    thickest_um: float
    source: str


@cache
def practice_foils() -> Mapping[str, tuple[tuple[float, PracticeFoil], ...]]:
    """What makers and fabricators print on: (pitch in mm, foil) by form, finest pitch first.

    Examples
    --------
    >>> [(pitch_mm, foil.thickest_um) for pitch_mm, foil in practice_foils()["balls"]]
    [(0.3, 75.0), (0.4, 100.0), (0.5, 125.0)]
    """
    found: dict[str, list[tuple[float, PracticeFoil]]] = {form: [] for form in FORMS}
    for row in _shipped()["row"]:
        found[row["form"]].append((parse(row["pitch"], "length", place=f"{PLACE}, pitch"), _foil(row)))
    return MappingProxyType({form: tuple(sorted(rows, key=lambda row: row[0])) for form, rows in found.items()})


@cache
def practice_chips() -> Mapping[str, PracticeFoil]:
    """The same for two-terminal chips, by their size in hundredths of an inch.

    Examples
    --------
    >>> practice_chips()["0201"].thickest_um
    120.0
    """
    return MappingProxyType({row["size"]: _foil(row) for row in _shipped()["chip"]})


@cache
def _shipped() -> Table:
    return tomllib.loads(resources.files("landwise.assembly").joinpath(PLACE).read_text(encoding="utf-8"))


def _foil(row: Table) -> PracticeFoil:
    return PracticeFoil(parse(row["thickest"], "thin length", place=f"{PLACE}, thickest"), row["source"])


def thickest_in_practice(form: Form, pitch_mm: float) -> PracticeFoil | None:
    """The thickest foil that parts of a form and pitch are printed on.

    Parameters
    ----------
    form : "gull wings", "leadless" or "balls"
    pitch_mm : float
        Distance of neighbouring terminals. [mm]

    Returns
    -------
    PracticeFoil or None
        None where the pitch is coarser than any that was found to bind a foil.

    Raises
    ------
    InputError
        For a pitch that is not positive.

    Notes
    -----
    For parts that no study works: those that are studied get their own openings and transfer. A pitch between two rows
    goes by the finer one, one below the finest by the finest, whose foil is then a bound from above. Makers print
    single parts so; the paste of a mixed board's large parts may ask for more (sources `pitch-foil-practice`,
    `ball-foil-memory`, `mixed-foil-practice`).

    Examples
    --------
    >>> thickest_in_practice("leadless", 0.4).thickest_um, thickest_in_practice("gull wings", 0.45).thickest_um
    (125.0, 130.0)
    >>> thickest_in_practice("gull wings", 0.65) is None
    True
    """
    if not pitch_mm > 0:
        raise InputError("a pitch needs to be positive", found=f"{pitch_mm:g} mm", expected="> 0", about="pitch")
    rows = practice_foils()[form]
    if pitch_mm > rows[-1][0] + SAME_PITCH_MM:
        return None
    finer = [foil for row_mm, foil in rows if row_mm <= pitch_mm + SAME_PITCH_MM]
    return finer[-1] if finer else rows[0][1]
