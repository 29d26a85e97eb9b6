"""How much of a shear stress relaxes while a cycle dwells: steady creep of the solder against the spring of a lead.

A compliant lead keeps pushing until the solder has crept by the whole slip. Short stiff leads of small outlines load
their solder with a few tenths of a megapascal, at which it creeps far less than that within a dwell. The constants are
recalled, and were fitted above such stresses: the faster law is taken, with a margin.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError, UnknownNameError

Array = NDArray[np.float64]
KELVIN = 273.15
BOLTZMANN_EV = 8.617333262e-5
PSI_MPA = 6.894757293168e-3
# 90 % of creep rates within this factor of the faster law, either way: laboratories differ by that much at the stresses
# they tested (recalled), and these lie below.
MARGIN = 10.0
STEPS = 10
SOURCES = ("darveaux-creep-memory", "schubert-creep-memory", "nist-sac-creep")


@dataclass(frozen=True)
class CreepLaw:
    """Steady shear creep, rate = c · m · sinh(s·τ)^n · exp(−K/T).

    Parameters
    ----------
    name, source : str
    rate_per_s : float
        c. Of laws normalised by the shear modulus c·G/T, so its unit is K/MPa.
    exponent : float
        n.
    per_mpa : float
        s, times G for a normalised law. [1/MPa, or -]
    kelvin : float
        K = Q/k. [K]
    modulus_mpa : (float, float) or None
        G at 0 °C and its slope, for laws normalised by it. [MPa, MPa/K]
    """

    name: str
    source: str
    rate_per_s: float
    exponent: float
    per_mpa: float
    kelvin: float
    modulus_mpa: tuple[float, float] | None = None

    def _scale(self, temperature_c: float) -> tuple[float, float]:
        absolute = temperature_c + KELVIN
        if self.modulus_mpa is None:
            return 1.0, self.per_mpa
        shear = self.modulus_mpa[0] + self.modulus_mpa[1] * temperature_c
        return shear / absolute, self.per_mpa / shear

    def rate(self, stress_mpa: Array | float, temperature_c: float) -> Array:
        """Shear strain a second. [1/s]

        >>> law = LAWS["darveaux-62sn36pb2ag"]
        >>> float(law.rate(2.0, 100)) > 4 * float(law.rate(1.0, 100)) > 0
        True
        """
        front, per = self._scale(temperature_c)
        heat = np.exp(-self.kelvin / (temperature_c + KELVIN))
        # Beyond an argument of 20 the metal flows at once: held there so that no draw overflows.
        argument = np.minimum(per * np.asarray(stress_mpa, dtype=float), 20.0)
        return np.asarray(self.rate_per_s * front * np.sinh(argument) ** self.exponent * heat)

    def local_exponent(self, stress_mpa: Array | float, temperature_c: float) -> Array:
        """d ln(rate) / d ln(stress), n·x·coth(x) with x = s·τ: n at small stresses. [-]"""
        argument = np.maximum(self._scale(temperature_c)[1] * np.asarray(stress_mpa, dtype=float), 1e-9)
        return np.asarray(self.exponent * argument / np.tanh(np.minimum(argument, 20.0)))


LAWS: Mapping[str, CreepLaw] = MappingProxyType(
    {
        law.name: law
        for law in (
            # In the lap-shear form: C 0.198 K/(s·psi), α 1300, n 2, Q 0.548 eV, G = 1.9e6 − 8.1e3·T psi.
            CreepLaw(
                "darveaux-62sn36pb2ag",
                "darveaux-creep-memory",
                0.198 / PSI_MPA,
                2.0,
                1300.0,
                0.548 / BOLTZMANN_EV,
                (1.9e6 * PSI_MPA, -8.1e3 * PSI_MPA),
            ),
            # Tension: 277984/s, 0.02447/MPa, 6.41, 6500 K; shear stress and strain by √3 (von Mises).
            CreepLaw(
                "schubert-sac",
                "schubert-creep-memory",
                277984.0 * 3**0.5,
                6.41,
                0.02447 * 3**0.5,
                6500.0,
            ),
        )
    }
)


def creep_law(name: str) -> CreepLaw:
    """A law by name.

    Raises
    ------
    UnknownNameError

    >>> creep_law("schubert-sac").exponent
    6.41
    """
    if name not in LAWS:
        raise UnknownNameError("no such creep law", found=name, expected=" | ".join(LAWS))
    return LAWS[name]


def relaxed_share(
    stress_mpa: Array | float,
    spring_mpa: Array | float,
    temperature_c: float,
    seconds: float,
    *,
    law: CreepLaw,
    margin: Array | float = 1.0,
) -> Array:
    """Share of a stress that creep lets off within a dwell, the strain being shared with a spring. [-]

    Parameters
    ----------
    stress_mpa : float or array
        Shear stress in the solder as the dwell begins. [MPa]
    spring_mpa : float or array
        Stress that the lead lets off per unit of strain, K·h/A. [MPa]
    temperature_c, seconds : float
        Of the dwell. [°C, s]
    law : CreepLaw
    margin : float or array
        Times the law's rate. [-]

    Raises
    ------
    InputError
        Stresses or springs that aren't positive, a negative time.

    Notes
    -----
    dτ/dt = −(K·h/A)·rate(τ). Over a step, with the law's own exponent m at the stress it begins with, that is solved by
    τ = τ₀·[1 + (m − 1)·rate(τ₀)·(K·h/A)·t/τ₀]^(−1/(m − 1)). Ten steps, short ones first, leave the share within 0.01 of
    numerical integration over the range of solder joints.

    Examples
    --------
    >>> law = LAWS["darveaux-62sn36pb2ag"]
    >>> hour, day = (float(relaxed_share(0.8, 20.0, 100, t, law=law)) for t in (3600, 86400))
    >>> 0 < hour < day < 1
    True
    """
    stress, spring = np.asarray(stress_mpa, dtype=float), np.asarray(spring_mpa, dtype=float)
    if np.any(stress <= 0) or np.any(spring <= 0) or seconds < 0:
        raise InputError("stress and spring must be positive, the dwell not negative")
    left = stress
    for begin, end in pairwise(seconds * (np.arange(STEPS + 1) / STEPS) ** 4):
        power = law.local_exponent(left, temperature_c)
        grown = np.asarray(margin) * law.rate(left, temperature_c) * spring * (end - begin) / left
        left = left * (1.0 + (power - 1.0) * grown) ** (-1.0 / (power - 1.0))
    return np.asarray(1.0 - left / stress)


def crept_share(
    stress_mpa: Array | float,
    spring_mpa: Array | float,
    ends_c: tuple[float, float],
    dwell_s: float,
    margin: Array | float = 1.0,
) -> Array:
    """Share of the slip that creeps in both dwells of a cycle, by the faster law. [-]

    Parameters
    ----------
    ends_c : (float, float)
        Lowest and highest temperature. [°C]
    dwell_s : float
        At each end. [s]

    Notes
    -----
    The two dwells add, at most to the whole slip: in the steady cycle each begins with a stress no larger than this.

    Examples
    --------
    >>> short = crept_share(0.8, 20.0, (-5.0, 100.0), 600)
    >>> long = crept_share(0.8, 20.0, (-5.0, 100.0), 86400)
    >>> bool(0 < short < long <= 1)
    True
    """
    faster = np.zeros(())
    for law in LAWS.values():
        cold, hot = (relaxed_share(stress_mpa, spring_mpa, end, dwell_s, law=law, margin=margin) for end in ends_c)
        faster = np.maximum(faster, cold + hot)
    return np.asarray(np.minimum(faster, 1.0))
