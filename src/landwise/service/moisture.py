"""Moisture: floor life of plastic packages, the bake after it, and the reflow they are classed for."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from landwise.errors import InputError, ValidityError

HOUR, DAY = 3600.0, 86400.0
# Time out of the bag at 30 °C and 60 % humidity. [s]
FLOOR_LIFE_S: Mapping[str, float] = MappingProxyType(
    {"2": 365 * DAY, "2a": 28 * DAY, "3": 168 * HOUR, "4": 72 * HOUR, "5": 48 * HOUR, "5a": 24 * HOUR}
)
FLOOR_SOURCE = "j-std-020-floor-life"


@dataclass(frozen=True)
class Bake:
    """Bake of a saturated part: times at 125, 90 and 40 °C. [s]"""

    at_125_s: float
    at_90_s: float
    at_40_s: float


# Saturated at 30 °C and 85 %; bodies up to 1.4, 2.0 and 4.5 mm. The last group is recalled.
BAKES: Mapping[float, Mapping[str, Bake]] = MappingProxyType(
    {
        1.4: MappingProxyType(
            {
                "2a": Bake(5 * HOUR, 17 * HOUR, 8 * DAY),
                "3": Bake(9 * HOUR, 33 * HOUR, 13 * DAY),
                "4": Bake(11 * HOUR, 37 * HOUR, 15 * DAY),
                "5": Bake(12 * HOUR, 41 * HOUR, 17 * DAY),
                "5a": Bake(16 * HOUR, 54 * HOUR, 22 * DAY),
            }
        ),
        2.0: MappingProxyType(
            {
                "2a": Bake(21 * HOUR, 3 * DAY, 29 * DAY),
                "3": Bake(27 * HOUR, 4 * DAY, 37 * DAY),
                "4": Bake(34 * HOUR, 5 * DAY, 47 * DAY),
                "5": Bake(40 * HOUR, 6 * DAY, 57 * DAY),
                "5a": Bake(48 * HOUR, 8 * DAY, 79 * DAY),
            }
        ),
        4.5: MappingProxyType(
            {level: Bake(48 * HOUR, 10 * DAY, 79 * DAY) for level in ("2", "2a", "3", "4", "5", "5a")}
        ),
    }
)
# After the floor life at 30 °C and 60 % and up to 72 h more; bodies up to 1.4 and 2.0 mm.
FLOOR_BAKES: Mapping[float, Mapping[str, Bake]] = MappingProxyType(
    {
        1.4: MappingProxyType(
            {
                "2a": Bake(3 * HOUR, 11 * HOUR, 5 * DAY),
                "3": Bake(7 * HOUR, 23 * HOUR, 9 * DAY),
                "4": Bake(7 * HOUR, 23 * HOUR, 9 * DAY),
                "5": Bake(7 * HOUR, 24 * HOUR, 10 * DAY),
                "5a": Bake(10 * HOUR, 24 * HOUR, 10 * DAY),
            }
        ),
        2.0: MappingProxyType(
            {
                "2a": Bake(16 * HOUR, 2 * DAY, 22 * DAY),
                "3": Bake(17 * HOUR, 2 * DAY, 23 * DAY),
                "4": Bake(20 * HOUR, 3 * DAY, 28 * DAY),
                "5": Bake(25 * HOUR, 4 * DAY, 35 * DAY),
            }
        ),
    }
)
THICK_SOURCE = "j-std-033-thick-memory"
FLOOR_C, FLOOR_RH = 30.0, 60.0
UPTAKE_KELVIN = 4650.0  # 0.4 eV: diffusion of water in mould compounds (recalled)
BAKE_SOURCE = "j-std-033-bake"


def floor_life(level: str) -> float | None:
    """Time out of the bag; None for level 1, which has no limit. [s]

    >>> floor_life("3") / 3600
    168.0
    """
    if level == "1":
        return None
    if level not in FLOOR_LIFE_S:
        raise InputError(
            "no floor life for this level",
            found=level,
            expected="1, " + ", ".join(FLOOR_LIFE_S) + " (level 6: time on the label)",
        )
    return FLOOR_LIFE_S[level]


def bake(level: str, thickness_mm: float) -> Bake | None:
    """Bake after the floor life is over; None where none is needed (level 1).

    Raises
    ------
    ValidityError
        For bodies above 4.5 mm, or thin ones of level 2, whose row this edition of the table does not have.

    >>> bake("3", 1.2).at_125_s / 3600
    9.0
    """
    if level == "1":
        return None
    if thickness_mm <= 0:
        raise InputError("a body needs a positive thickness", found=f"{thickness_mm:g} mm")
    for limit, rows in BAKES.items():
        if thickness_mm <= limit:
            if level not in rows:
                raise ValidityError(
                    "this edition of the bake table has no such row", found=f"level {level}", expected=", ".join(rows)
                )
            return rows[level]
    raise ValidityError("thicker than the table's bodies", found=f"{thickness_mm:g} mm", expected="up to 4.5 mm")


def floor_bake(level: str, thickness_mm: float) -> Bake | None:
    """Bake after a floor life over by 72 h at most at 30 °C and 60 %; of saturated bodies where no row is known.

    Raises
    ------
    ValidityError
        As `bake`.

    >>> floor_bake("3", 1.2).at_125_s / 3600, bake("3", 1.2).at_125_s / 3600, floor_bake("3", 3.0).at_125_s / 3600
    (7.0, 9.0, 48.0)
    """
    if level == "1" or thickness_mm <= 0:
        return bake(level, thickness_mm)
    group = next((rows for limit, rows in FLOOR_BAKES.items() if thickness_mm <= limit), {})
    return group.get(level) or bake(level, thickness_mm)


def floor_life_at(level: str, temperature_c: float, humidity: float) -> float | None:
    """Time out of the bag in a floor's own air; never longer than the table's at 30 °C and 60 %. [s]

    Parameters
    ----------
    humidity : float
        Relative, in per cent.

    Notes
    -----
    In early uptake the water at a depth goes with humidity and the root of diffusivity times time, so the same water is
    there after (60/RH)²·D(30 °C)/D(T) of the time. A bound for worse air only: the standard's own table of other airs
    gives more in better air, and rules.

    Raises
    ------
    InputError

    Examples
    --------
    >>> floor_life_at("3", 30, 60) / 3600, round(floor_life_at("3", 35, 70) / 3600), floor_life_at("3", 20, 40) / 3600
    (168.0, 96, 168.0)
    """
    if not 0 < humidity <= 100 or not 0 <= temperature_c <= 60:
        raise InputError("no air of a floor", found=f"{temperature_c:g} °C, {humidity:g} %")
    whole = floor_life(level)
    if whole is None:
        return None
    kelvin = 273.15
    quicker = math.exp(UPTAKE_KELVIN * (1 / (FLOOR_C + kelvin) - 1 / (temperature_c + kelvin)))
    return whole * min(1.0, (FLOOR_RH / humidity) ** 2 / quicker)


def classification_temperature(thickness_mm: float, volume_mm3: float) -> float:
    """Peak body temperature for lead-free reflow. [°C]

    >>> classification_temperature(1.2, 100), classification_temperature(2.6, 500)
    (260.0, 245.0)
    """
    if min(thickness_mm, volume_mm3) <= 0:
        raise InputError("thickness and volume must be positive")
    column = 0 if volume_mm3 < 350 else 1 if volume_mm3 <= 2000 else 2
    row = (
        (260.0, 260.0, 260.0)
        if thickness_mm < 1.6
        else (260.0, 250.0, 245.0)
        if thickness_mm < 2.5
        else (250.0, 245.0, 245.0)
    )
    return row[column]


HANG_MG_MM2 = 30_000 / 25.4**2  # 30 g per square inch of wetted land
HANG_MG_MM = 4.0  # per millimetre of joint outline; parts let go at 9 to 13
HANG_SOURCES = ("hang-30g", "hang-perimeter")


@dataclass(frozen=True)
class Hang:
    """How heavily a part hangs from its molten joints: by wetted area [mg/mm²] and by outline [mg/mm]."""

    per_area_mg_mm2: float
    per_outline_mg_mm: float

    @property
    def holds(self) -> bool:
        """Whether the rule by area is kept."""
        return self.per_area_mg_mm2 < HANG_MG_MM2

    @property
    def safe(self) -> bool:
        """Whether the stricter rule by outline is kept too."""
        return self.holds and self.per_outline_mg_mm <= HANG_MG_MM


def hang(weight_mg: float, area_mm2: float, outline_mm: float) -> Hang:
    """How heavily a part hangs when its side is soldered first and goes through reflow upside down.

    Parameters
    ----------
    weight_mg : float
        Of the part. [mg]
    area_mm2, outline_mm : float
        Wetted area and outline of all its joints. [mm², mm]

    Notes
    -----
    Two rules of the trade that differ: 30 g per square inch (46.5 mg/mm²), and 4 mg per millimetre of outline, a
    third to a half of what makes parts let go. Shock in the oven is in neither.

    Examples
    --------
    >>> found = hang(130.0, 4.8, 35.0)
    >>> found.holds, found.safe
    (True, True)
    """
    if min(weight_mg, area_mm2, outline_mm) <= 0:
        raise InputError(
            "weight and joints must be positive", found=f"{weight_mg:g} mg, {area_mm2:g} mm², {outline_mm:g} mm"
        )
    return Hang(weight_mg / area_mm2, weight_mg / outline_mm)
