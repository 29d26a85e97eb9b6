"""Tin whiskers as a class of risk: what a finish may grow, and what lies in its way. Never a chance.

Classes of product and greatest lengths are those of the acceptance standard (JESD201); no formula tells a length.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from landwise.errors import InputError

Risk = Literal["none", "low", "some", "high", "not known"]
# Finishes by what they may grow: 0 nothing, 1 little, 2 accepted by test only, 3 long ones.
FINISHES: Mapping[str, int] = MappingProxyType(
    {
        "nickel-palladium-gold": 0,
        "tin-lead": 0,
        "solder balls": 0,
        "tin-bismuth": 1,
        "matte tin on nickel": 1,
        "matte tin, annealed": 2,
        "matte tin": 2,
        "bright tin": 3,
    }
)
# Greatest length after the standard's tests, by class of product. [µm] Class 2 in temperature cycles was read (45), the
# others are recalled. Class 3 takes no pure tin.
LENGTHS_UM: Mapping[str, float | None] = MappingProxyType({"1A": 75.0, "1": 67.0, "2": 45.0, "3": None})
CLASSES: Mapping[str, str] = MappingProxyType(
    {
        "1A": "consumer products of short life",
        "1": "industrial and consumer products of medium life",
        "2": "business-critical products",
        "3": "mission- and life-critical products",
    }
)
LEAST_BIAS_V = 5.0  # below, whiskers mostly burn open or carry too little to matter in logic (recalled)
STANDARD = "JESD201 with JESD22-A121"
SOURCES = ("jesd201-class-2", "jesd201-memory", "whisker-coat")


@dataclass(frozen=True)
class Whiskers:
    """Class of risk, the length the standard lets a finish grow [µm], and whether two such meet across the gap."""

    risk: Risk
    length_um: float | None
    meets: bool
    asks: str


def whiskers(
    gap_mm: float, finish: str, product_class: str, *, coated: bool = False, alloy_42: bool = False
) -> Whiskers:
    """Risk class of whiskers between two neighbouring terminals.

    Parameters
    ----------
    gap_mm : float
        Between their metals. [mm]
    finish : str
        Key of `FINISHES`; anything else is *not known*.
    product_class : {"1A", "1", "2", "3"}
    coated : bool
        A coat that lines the leads; it slows and catches whiskers, thin spots let them through.
    alloy_42 : bool
        Leads of alloy 42 under tin: more whiskers in temperature cycles.

    Raises
    ------
    InputError

    Notes
    -----
    Two facing terminals each may grow the accepted length, so a gap of twice that keeps them apart; a loose one may lie
    anywhere, which no gap mends. So wide gaps lower the risk and never end it, except where nothing grows.

    Examples
    --------
    >>> whiskers(0.3, "matte tin", "2").risk, whiskers(0.08, "matte tin", "2").risk
    ('some', 'high')
    >>> whiskers(0.3, "nickel-palladium-gold", "3").risk, whiskers(0.3, "matte tin", "3").risk
    ('none', 'high')
    """
    if gap_mm <= 0 or product_class not in CLASSES:
        raise InputError(
            "a gap must be positive and the class one of the standard's",
            found=f"{gap_mm:g} mm, {product_class}",
            expected=", ".join(CLASSES),
        )
    length = LENGTHS_UM[product_class]
    if finish not in FINISHES:
        return Whiskers("not known", length, False, "finish")
    grows = FINISHES[finish]
    if grows == 0:
        return Whiskers("none", 0.0, False, "")
    if length is None:
        return Whiskers("high", None, True, "another finish: this class takes no pure tin")
    meets = gap_mm * 1000 < 2 * length
    if grows == 3 or meets:
        return Whiskers("high", length, meets, "acceptance test of the plating")
    lessened = (grows == 1) + coated - alloy_42
    return Whiskers("low" if lessened > 0 else "some", length, meets, "acceptance test of the plating")
