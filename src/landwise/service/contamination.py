"""Dirt, moisture and voltage between terminals, and where a coat gets: fields and gaps, never a probability."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from landwise.errors import InputError
from landwise.service.clearance import HAZARD_SOURCE, HAZARD_V

__all__ = [
    "AIRS",
    "CAUTION",
    "COATS",
    "COAT_SOURCES",
    "HAZARD_SOURCE",
    "HAZARD_V",
    "TEST_FIELD_V_MM",
    "TEST_SOURCE",
    "Air",
    "CoatReach",
    "Migration",
    "coat_reach",
    "migration",
]

Air = Literal["dry", "humid", "wet"]
AIRS: Mapping[Air, str] = MappingProxyType(
    {
        "dry": "heated rooms, no condensation",
        "humid": "damp air or outdoors under a roof, no water on the board",
        "wet": "condensation or splash reaches the board",
    }
)
# The field at which insulation-resistance tests of fluxes are run. Above it their pass says nothing. [V/mm]
TEST_FIELD_V_MM = 25.0
TEST_SOURCE = "sir-field-memory"
# Below this voltage between terminals no metal dissolves in a plain moisture film (recalled order).
LEAST_VOLTAGE_V = 0.5
CAUTION = (
    "this voltage can hurt or kill: safety standards and local codes rule spacing, insulation and coating, "
    "and a licensed engineer decides"
)


@dataclass(frozen=True)
class Migration:
    """Field between two terminals, and what can be said of it.

    Parameters
    ----------
    field_v_mm : float
        Voltage over gap. [V/mm]
    verdict : str
        holds, marginal, or not known: a class of exposure, not a chance of failure. No gap is known to fail.
    says : str
        The reason in a sentence.
    basis : str
        What the verdict rests on: `voltage`, `air`, `residues`, or `no-evidence` beyond the field of any test.
    """

    field_v_mm: float
    verdict: Literal["holds", "marginal", "not known"]
    says: str
    basis: Literal["voltage", "air", "residues", "no-evidence"]


def migration(voltage_v: float, gap_mm: float, air: Air) -> Migration:
    """Field and exposure class for electrochemical migration.

    Notes
    -----
    Migration needs a moisture film, a voltage and something that dissolves; residues decide more than the gap does,
    and very dirty boards may grow none. So this is a class: below the field of the usual tests in dry air it holds, in
    damp air and under water residues decide. Beyond that field no test says anything: that is *not known*, and no
    failure. A coat over residues is no cure: 22 of 25 coated no-clean boards grew dendrites at 3.3 V, 40 °C, 90 %
    humidity in a week.

    Raises
    ------
    InputError
        For a negative voltage, a gap that isn't positive, or an unknown air.

    >>> migration(5.0, 0.3, "dry").verdict, migration(5.0, 0.3, "wet").verdict, migration(5.0, 0.1, "humid").basis
    ('holds', 'marginal', 'no-evidence')
    """
    if voltage_v < 0 or gap_mm <= 0:
        raise InputError(
            "a voltage can't be negative and a gap must be positive", found=f"{voltage_v:g} V, {gap_mm:g} mm"
        )
    if air not in AIRS:
        raise InputError("no such air", found=air, expected=" | ".join(AIRS))
    field = voltage_v / gap_mm
    if voltage_v < LEAST_VOLTAGE_V:
        return Migration(field, "holds", "too little voltage to dissolve metal", "voltage")
    if field > TEST_FIELD_V_MM:
        beyond = f"above the {TEST_FIELD_V_MM:g} V/mm at which fluxes are tested (recalled): no test says anything here"
        if air == "dry":
            return Migration(field, "marginal", f"{beyond}, but no film of moisture is expected", "no-evidence")
        return Migration(
            field, "not known", f"{beyond}, and {AIRS[air]}; ask for a test of this assembly", "no-evidence"
        )
    if air == "wet":
        says = "water on the board lets metal grow across any gap under voltage: keep it off, or coat a clean board"
        return Migration(field, "marginal", says, "residues")
    if air == "humid":
        says = "in damp air residues decide: ask for a cleanliness test of this assembly"
        return Migration(field, "marginal", says, "residues")
    return Migration(field, "holds", "no film of moisture is expected", "air")


# Thickness of coats when dry, [mm] (recalled).
COATS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "acrylic": (0.03, 0.13),
        "epoxy": (0.03, 0.13),
        "urethane": (0.03, 0.13),
        "silicone": (0.05, 0.21),
        "vapour": (0.01, 0.05),
    }
)
COAT_SOURCES = ("coat-types-memory", "coat-thin-on-leads")


@dataclass(frozen=True)
class CoatReach:
    """Whether a coat gets to what must be coated.

    Parameters
    ----------
    gap_um : float
        Between body and board. [µm]
    ratio : float
        Gap over two thicknesses of the thicker end of the coat: above 1 the coat lines both faces and drains.
    verdict : str
    says : str
    """

    gap_um: float
    ratio: float
    verdict: Literal["holds", "marginal", "fails"]
    says: str


def coat_reach(gap_um: float, coat: str, hidden: bool) -> CoatReach:
    """Reach of a conformal coat under a body.

    Parameters
    ----------
    gap_um : float
        Between body and board or mask; zero for a body that lies on it. [µm]
    coat : str
        A key of `COATS`.
    hidden : bool
        Whether metal under voltage lies under the body.

    Notes
    -----
    A rule of landwise's own: a gap wider than two dry films is lined, a narrower one fills by capillary force or is
    bridged at its mouth, with air, solvent or residues shut in. On leads themselves the film may be a micron thin.

    >>> coat_reach(150, "vapour", True).verdict, coat_reach(30, "acrylic", True).verdict
    ('holds', 'marginal')
    """
    if coat not in COATS:
        raise InputError("no such coat", found=coat, expected=" | ".join(COATS))
    if gap_um < 0:
        raise InputError("a gap can't be negative", found=f"{gap_um:g} µm")
    thin, thick = (value * 1000 for value in COATS[coat])
    ratio = gap_um / (2 * thick)
    if not hidden:
        return CoatReach(
            gap_um, ratio, "holds", "nothing under voltage lies under the body; on leads the film is thinnest"
        )
    if ratio >= 1:
        return CoatReach(gap_um, ratio, "holds", f"the gap takes two films of up to {thick:g} µm and stays open")
    if coat == "vapour" and gap_um >= 2 * thin:
        return CoatReach(gap_um, ratio, "marginal", "a vapour coat creeps in but may close the gap before it is lined")
    says = (
        f"a gap below two films ({2 * thin:g} to {2 * thick:g} µm) fills or is bridged at its mouth: what lies under it"
        " can't be inspected"
    )
    return CoatReach(gap_um, ratio, "marginal", says)
