"""The thickest foil that a bill's other parts bear: one foil prints them all, also those that no study works."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from landwise.assembly.commonfoil import Form, practice_chips, thickest_in_practice
from landwise.fabdata.packages import PackageReading, read_package
from landwise.fabdata.parts import RecognisedPart, Recognition

# What the joints of a style look like to the foil. Styles that come at 0.65 mm and coarser only bind none.
FORMS: Mapping[str, Form] = MappingProxyType(
    {
        "QFP": "gull wings",
        "TVSOP": "gull wings",
        "MSOP": "gull wings",
        "VSSOP": "gull wings",
        "TSSOP": "gull wings",
        "SSOP": "gull wings",
        "TSOP": "gull wings",
        "QFN": "leadless",
        "DFN": "leadless",
        "SON": "leadless",
        "BGA": "balls",
        "WLP": "balls",
    }
)
# Styles of which many are finer than 0.65 mm, so that a pitch nobody tells may bind the foil.
OFTEN_FINE = frozenset({"QFP", "QFN", "DFN", "SON", "BGA", "WLP"})
# From the terminals and body of a square part: terminals stand between its corners, and pitches are round ones.
SQUARE = frozenset({"QFP", "QFN"})
CORNERS_MM = MappingProxyType({"QFP": 1.2, "QFN": 1.5})
ROUND_MM = (1.27, 1.0, 0.8, 0.65, 0.5, 0.4, 0.35, 0.3)


@dataclass(frozen=True)
class OthersFoil:
    """What the parts of a bill that are not studied bear.

    Parameters
    ----------
    thickest_um : float or None
        The thickest foil that the finest of them is printed on; None where none binds. [µm]
    who : str
        That part, in words.
    untold : tuple of str
        Parts of styles that are often fine, whose pitch the bill does not tell.
    """

    thickest_um: float | None
    who: str
    untold: tuple[str, ...]


def foil_of_others(found: Recognition) -> OthersFoil:
    """The thickest foil that the fitted parts of a bill bear which are no logic.

    Parameters
    ----------
    found : Recognition

    Notes
    -----
    Pitches are those the bill's package texts tell; of square parts whose body and terminals they tell, the coarsest
    round pitch at which the terminals find room between the corners (common practice, no source). Connectors' pitches
    are not read.

    Examples
    --------
    >>> from landwise.fabdata.parts import RecognisedPart
    >>> part = RecognisedPart(("U2",), "other IC", "", "", "", 56, "", "QFN-56 7x7 mm P0.4mm", "", (), row=2)
    >>> found = foil_of_others(Recognition((part,), (), ()))
    >>> found.thickest_um, found.who
    (125.0, 'U2 (QFN-56, 0.4 mm pitch)')
    """
    thickest: float | None = None
    who = ""
    untold = []
    for part in found.parts:
        if part.kind == "logic" or not part.fitted or not part.references:
            continue
        reading = read_package(part.package_text) or read_package(part.part_number)
        if reading is None:
            continue
        bound, says = _bound(part, reading)
        if says is None:
            untold.append(f"{part.references[0]} ({reading.text})")
        elif bound is not None and (thickest is None or bound < thickest):
            thickest, who = bound, f"{part.references[0]} ({says})"
    return OthersFoil(thickest, who, tuple(untold))


def pitch_of(reading: PackageReading) -> float | None:
    """The pitch that a package text tells, or that follows from its body and terminals; else None. [mm]

    >>> pitch_of(PackageReading("QFP", 64, None, (10.0, 10.0), "LQFP-64"))
    0.5
    >>> pitch_of(PackageReading("QFN", 56, None, (7.0, 7.0), "QFN-56"))
    0.4
    """
    if reading.pitch_mm is not None or reading.style not in SQUARE or reading.body_mm is None:
        return reading.pitch_mm
    length, width = reading.body_mm
    if not reading.terminals or reading.terminals % 4 or reading.terminals < 8 or length != width:
        return None
    most = (length - CORNERS_MM[reading.style]) / (reading.terminals // 4 - 1)
    return next((pitch for pitch in ROUND_MM if pitch <= most), None)


def _bound(part: RecognisedPart, reading: PackageReading) -> tuple[float | None, str | None]:
    """The foil that one part bears and what it is, in words; no words where its pitch would have to be told."""
    if reading.style == "chip":
        chip = practice_chips().get(reading.text) if part.kind == "passive" else None
        return (None, "") if chip is None else (chip.thickest_um, f"a {reading.text} chip")
    form, pitch_mm = FORMS.get(reading.style), pitch_of(reading)
    if form is None:
        return None, ""
    if pitch_mm is None:
        return None, None if reading.style in OFTEN_FINE else ""
    foil = thickest_in_practice(form, pitch_mm)
    return (None if foil is None else foil.thickest_um), f"{reading.text}, {pitch_mm:g} mm pitch"
