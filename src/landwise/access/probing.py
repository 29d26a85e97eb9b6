"""Test probes: which terminals they reach on their own land, and what test lands cost in area otherwise."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from landwise.errors import UnknownNameError
from landwise.lands.model import LandPattern
from landwise.outlines import LEADED, Outline


@dataclass(frozen=True)
class ProbeProfile:
    """One guideline's wishes for test lands. [mm]"""

    name: str
    land_mm: float
    spacing_mm: float
    to_part_mm: float
    source: str


# The authors disagree by 1.7 times on land size and by 2 to 5 times on the distance to a part.
PROFILES: Mapping[str, ProbeProfile] = MappingProxyType(
    {
        "75 mil": ProbeProfile("75 mil", 1.0, 1.905, 1.016, "testpro-guideline"),
        "100 mil": ProbeProfile("100 mil", 1.0, 2.54, 1.016, "testpro-guideline"),
        "50 mil": ProbeProfile("50 mil", 0.7, 1.27, 1.016, "adsys-guideline"),
    }
)
DEFAULT_PROFILE = "75 mil"  # the middle size; 50 mil probes are fragile and dear


@dataclass(frozen=True)
class ProbeAccess:
    """Which terminals a fixture reaches, and the area of test lands for the others.

    Parameters
    ----------
    direct : int
        Terminals probed on their own land or lead.
    test_lands : int
        Nets that need a land of their own.
    area_mm2 : float
        Board area of these lands on the probes' grid. [mm²]
    """

    direct: int
    test_lands: int
    area_mm2: float
    says: str


def probe_access(outline: Outline, pattern: LandPattern, profile: str = DEFAULT_PROFILE) -> ProbeAccess:
    """Judge a part's access for a bed of probes.

    Notes
    -----
    Only a drilled lead, or a leaded land at least as wide apart as the probes, is touched directly; every
    other net gets its own land, which claims one square of the probes' grid.

    Raises
    ------
    UnknownNameError
        For an unknown profile.

    Examples
    --------
    >>> from landwise.outlines import find
    >>> from landwise.lands import land_pattern
    >>> access = probe_access(find("TSSOP-14"), land_pattern(find("TSSOP-14")))
    >>> access.direct, access.test_lands, round(access.area_mm2, 1)
    (0, 14, 50.8)
    """
    if profile not in PROFILES:
        raise UnknownNameError("no such probe profile", found=profile, expected=" | ".join(PROFILES))
    probe = PROFILES[profile]
    direct = 0
    if outline.drilled or (outline.family in LEADED and outline.pitch_mm >= probe.spacing_mm):
        direct = outline.terminals
    rest = outline.terminals - direct
    area = rest * probe.spacing_mm**2
    if rest == 0:
        says = f"all {direct} terminals are probed directly with {probe.name} probes"
    else:
        own = pattern.courtyard_area_mm2
        says = f"{rest} nets need a test land: {area:.0f} mm² on the {probe.name} grid, the courtyard is {own:.0f} mm²"
    return ProbeAccess(direct, rest, area, says)
