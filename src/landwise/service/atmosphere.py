"""Corrosive air: gas classes by what they grow on copper and silver, and what may be said of a board in them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from landwise.errors import InputError

# Growth in a month below which a class ends, on copper and on silver (ANSI/ISA-71.04-2013, recalled). [Å/month]
GAS_CLASSES: Mapping[str, tuple[float, float]] = MappingProxyType(
    {"G1": (300.0, 200.0), "G2": (1000.0, 1000.0), "G3": (2000.0, 2000.0)}
)
WORST = "GX"
SAYS: Mapping[str, str] = MappingProxyType(
    {
        "G1": "mild: corrosion is no factor",
        "G2": "moderate: corrosion may be a factor",
        "G3": "harsh: corrosion attacks are likely",
        "GX": "severe: only equipment made and packed for it",
    }
)
HUMIDITY_STEP = 10.0  # per cent of humidity above 50 that raise the class by one (recalled)
STANDARD = "IEC 60068-2-60, mixed flowing gas"
SOURCES = ("isa-71-04-memory",)


@dataclass(frozen=True)
class Corrosion:
    """Gas class of a place, and what it means for bare silver and copper of a board."""

    gas_class: str
    verdict: Literal["holds", "marginal", "not known"]
    says: str


def gas_class(copper_a: float, silver_a: float) -> str:
    """Class of a place from coupons hung out for a month. [Å/month]

    >>> gas_class(250, 150), gas_class(250, 500), gas_class(2500, 100)
    ('G1', 'G2', 'GX')
    """
    if min(copper_a, silver_a) < 0:
        raise InputError("growth can't be negative", found=f"{copper_a:g}, {silver_a:g} Å")
    for name, (copper, silver) in GAS_CLASSES.items():
        if copper_a < copper and silver_a < silver:
            return name
    return WORST


def corrosion(name: str, *, coated: bool = False, silver: bool = False) -> Corrosion:
    """What a gas class means for a board.

    Parameters
    ----------
    name : str
        G1, G2, G3 or GX; empty where it isn't stated.
    coated : bool
        Whether a coat keeps air from lands and leads.
    silver : bool
        Whether bare silver (immersion finish) meets the air: it creeps over the mask in sulphur.

    Notes
    -----
    A class, no rate: what grows across a gap depends on damp and bias as much as on gas. Beyond G1 only a test shows
    it.

    Examples
    --------
    >>> corrosion("G1").verdict, corrosion("G2").verdict, corrosion("").verdict, corrosion("G3", silver=True).verdict
    ('holds', 'marginal', 'not known', 'not known')
    """
    if not name:
        return Corrosion("", "not known", "no gas class is stated; coupons tell it within a month")
    if name not in SAYS:
        raise InputError("no such gas class", found=name, expected=", ".join(SAYS))
    if name == "G1":
        return Corrosion(name, "holds", SAYS[name])
    if name == "G2" and not silver:
        return Corrosion(name, "marginal", SAYS[name])
    return Corrosion(name, "marginal" if coated and not silver else "not known", SAYS[name])
