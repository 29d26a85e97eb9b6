"""What die and bonds are asked: hours, cycles and damp days of the field as hours and cycles of the usual tests.

Acceleration forms of device qualification, with the constants that the automotive standard's example takes (recalled).
They say how long a test stands for a mission; whether the part passes is its maker's to show.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from landwise.errors import InputError
from landwise.service.mission import Mission

BOLTZMANN_EV = 8.617333262e-5
KELVIN = 273.15
HEAT_EV = 0.7  # of dice in hot operation
DAMP_EV, DAMP_POWER = 0.8, 3.0  # of corrosion under bias
CYCLE_POWER = 4.0  # of cracks in the package
TEST_C, DAMP_TEST_C, DAMP_TEST_RH = 125.0, 85.0, 85.0
USUAL_HOURS = 1000.0  # of hot operation and of damp heat in the usual plans
SOURCES = ("aec-appendix-7-memory", "arrhenius-identity")


def heat_factor(field_c: float, test_c: float = TEST_C, energy_ev: float = HEAT_EV) -> float:
    """Hours of the field that an hour at the test's junction temperature stands for (Arrhenius). [-]

    Examples
    --------
    The automotive standard's example, 87 °C against 125 °C:

    >>> print(f"{heat_factor(87.0):.1f}")
    8.6
    """
    if energy_ev <= 0 or min(field_c, test_c) <= -KELVIN:
        raise InputError("an activation energy must be positive", found=f"{energy_ev:g} eV")
    return float(math.exp(energy_ev / BOLTZMANN_EV * (1 / (field_c + KELVIN) - 1 / (test_c + KELVIN))))


def damp_factor(field_c: float, field_rh: float, test_c: float = DAMP_TEST_C, test_rh: float = DAMP_TEST_RH) -> float:
    """Hours of the field that an hour of damp heat under bias stands for (Peck). Humidities in per cent. [-]

    >>> print(f"{damp_factor(32.0, 74.0):.0f}")
    137
    """
    if not (0 < field_rh <= 100 and 0 < test_rh <= 100):
        raise InputError("humidity lies above 0 up to 100 %", found=f"{field_rh:g}, {test_rh:g}")
    return float((test_rh / field_rh) ** DAMP_POWER) * heat_factor(field_c, test_c, DAMP_EV)


def package_cycle_factor(field_swing_k: float, test_swing_k: float) -> float:
    """Cycles of the field that a cycle of the package's test stands for (Coffin and Manson). [-]

    >>> print(f"{package_cycle_factor(76.0, 205.0):.0f}")
    53
    """
    if min(field_swing_k, test_swing_k) <= 0:
        raise InputError("swings must be positive", found=f"{field_swing_k:g}, {test_swing_k:g} K")
    return float((test_swing_k / field_swing_k) ** CYCLE_POWER)


@dataclass(frozen=True)
class Worth:
    """What a mission is worth in a test: hours or cycles, and whether the usual plan covers it."""

    worth: float
    usual: float

    @property
    def covered(self) -> bool:
        """Whether the usual length stands for the mission."""
        return self.worth <= self.usual


@dataclass(frozen=True)
class Term:
    """Hours at one temperature, and the hours of a test that stand for them.

    Parameters
    ----------
    kind : {"powered", "off", "stored"}
    temperature_c, hours : float
        [°C, h]
    factor : float
        Hours of the field that an hour of the test stands for. [-]
    """

    kind: Literal["powered", "off", "stored"]
    temperature_c: float
    hours: float
    factor: float

    @property
    def worth_h(self) -> float:
        """Hours of the test. [h]"""
        return self.hours / self.factor


def hot_terms(found: Mission, test_c: float = TEST_C) -> tuple[Term, ...]:
    """Every term of the sum that `hot_hours` makes: powered hours, unpowered ones, and those on the shelf.

    Raises
    ------
    InputError
        For a histogram of the air: add the part's own rise first.

    Notes
    -----
    Unpowered and stored hours count as if the die were powered at the air's temperature: a bound, since most of what
    wears a die needs a field or a current.

    Examples
    --------
    >>> from landwise.service.mission import mission
    >>> [round(one.worth_h) for one in hot_terms(mission("maker-automotive"))]
    [0, 190, 512, 1274, 1655, 1000]
    """
    if found.where != "junction":
        raise InputError("hours of the air say nothing of the die", place=found.name, expected="Mission.at_junction")
    rows: list[tuple[Literal["powered", "off", "stored"], float, float]] = [
        ("powered", temperature, found.hours * share) for temperature, share in found.histogram
    ]
    rows += [("off", temperature, hours) for temperature, hours in found.off]
    rows += [("stored", temperature, hours) for temperature, hours in found.stored]
    return tuple(Term(kind, at, hours, heat_factor(at, test_c)) for kind, at, hours in rows)


def hot_hours(found: Mission, test_c: float = TEST_C) -> Worth:
    """Hours of hot operation that stand for a mission's histogram of junction temperatures.

    Raises
    ------
    InputError
        For a histogram of the air: add the part's own rise first.

    Examples
    --------
    >>> from landwise.service.mission import mission
    >>> print(f"{hot_hours(mission('automotive-average')).worth:.0f}")
    1394
    """
    return Worth(sum(term.worth_h for term in hot_terms(found, test_c)), USUAL_HOURS)
