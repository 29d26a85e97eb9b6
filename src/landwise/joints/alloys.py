"""Molten solder: surface tension and density by alloy, with how far each figure can be trusted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from landwise.errors import InputError


@dataclass(frozen=True)
class Alloy:
    """Surface tension [N/m] with its plausible range, and density [g/cm³], of one alloy when molten."""

    name: str
    tension_n_m: float
    tension_low: float
    tension_high: float
    density_g_cm3: float
    sources: tuple[str, ...]


# Densities are those of the solid; molten solder is a few per cent lighter, which moves no height here by 0.1 µm.
ALLOYS: Mapping[str, Alloy] = MappingProxyType(
    {
        "sn63pb37": Alloy("sn63pb37", 0.49, 0.42, 0.53, 8.40, ("tension-snpb", "solder-densities")),
        "sac305": Alloy("sac305", 0.50, 0.45, 0.57, 7.38, ("tension-sac-memory", "solder-densities")),
    }
)


def alloy_values(name: str, tension_n_m: float | None, density_g_cm3: float | None) -> tuple[float, float]:
    """Surface tension and density: an alloy's, with a user's own in their place.

    >>> alloy_values("sac305", None, 7.0)
    (0.5, 7.0)
    """
    if name not in ALLOYS:
        raise InputError("unknown alloy", found=name, expected=" | ".join(ALLOYS))
    alloy = ALLOYS[name]
    tension = alloy.tension_n_m if tension_n_m is None else tension_n_m
    density = alloy.density_g_cm3 if density_g_cm3 is None else density_g_cm3
    if tension <= 0 or density < 0:
        raise InputError(
            "surface tension must be positive, density not negative", found=f"{tension:g} N/m, {density:g} g/cm³"
        )
    return tension, density
