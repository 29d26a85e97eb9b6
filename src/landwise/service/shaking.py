"""A shaken board and the parts on it: how far it bends where a part sits, and how far the part lets it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError, ValidityError
from landwise.service.plate import Modes, Plate, loose_modes, plate_modes
from landwise.service.pulses import pulse_of, response_spectrum
from landwise.service.vibration import (
    FATIGUE_EXPONENT,
    GRAVITY_MM_S2,
    INCH_MM,
    LIMIT_INCH,
    RULE_CYCLES,
    Profile,
    density_at,
    random_response,
    shock_amplification,
)

SINE_CYCLES = 10e6  # stress reversals at which the sine limit is stated (recalled)
SHOCK_FACTOR = 6.0  # the limit for a few shocks over that for 20 million reversals (recalled)
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Constant:
    """The package constant of the displacement rule: value and band, and whether one was published for the style."""

    value: float
    low: float
    high: float
    published: bool
    says: str


# Published: DIP 1.0, carriers with a DIP's leads 1.0, fine-pitch leads 0.75, ball grid 1.75, leadless ceramic 2.25.
CONSTANTS: Mapping[str, Constant] = MappingProxyType(
    {
        "dual in-line": Constant(1.0, 1.0, 1.0, True, "published for dual in-line parts"),
        "gull-wing": Constant(
            0.875, 0.75, 1.0, True, "published: 0.75 for fine-pitch leads, 1.0 for leads like a DIP's"
        ),
        "J-lead": Constant(1.0, 0.75, 2.25, False, "like a leaded chip carrier; stiffer leads than a gull-wing's"),
        "ball grid": Constant(1.75, 1.75, 1.75, True, "published for ball grids"),
        "wafer-level": Constant(2.0, 1.75, 2.25, False, "between ball grid and leadless ceramic"),
        "leadless": Constant(2.25, 1.75, 2.25, False, "that of leadless ceramic parts, the cautious end"),
        "flat-lead": Constant(1.75, 1.0, 2.25, False, "between leads like a DIP's and leadless ceramic"),
    }
)
NO_MEASUREMENT = "no measurement backs a constant for this style"


def package_constant(family: str) -> Constant:
    """Package constant of an outline's family.

    >>> package_constant("leadless quad").published, package_constant("gull-wing dual").value
    (False, 0.875)
    """
    for start, constant in CONSTANTS.items():
        if family.startswith(start):
            return constant
    raise InputError("no package constant for this family", found=family, expected=", ".join(CONSTANTS))


@dataclass(frozen=True)
class Shaking:
    """What the product's life does to the board.

    Parameters
    ----------
    random : tuple of (frequency, density)
        Corners of the random level; one corner is a flat level. [Hz, g²/Hz]
    sine_g : float
        Sine level at the board's own frequencies, zero for none. [g]
    hours : float
        How long, in the whole life. [h]
    shock_g, shock_s : float
        Peak and length of a pulse, zero for none. [g, s]
    shape : str
        Of that pulse, a key of `pulses.SHAPES`.
    measured : tuple of (time, acceleration)
        A pulse as it was measured, in its place. [s, g]
    """

    random: Profile = ()
    sine_g: float = 0.0
    hours: float = 0.0
    shock_g: float = 0.0
    shock_s: float = 0.0
    shape: str = "half-sine"
    measured: tuple[tuple[float, float], ...] = ()

    @property
    def vibrates(self) -> bool:
        """Whether there is a lasting level."""
        return bool(self.random or self.sine_g) and self.hours > 0

    @property
    def shocks(self) -> bool:
        """Whether there is a pulse."""
        return bool(self.measured) or (self.shock_g > 0 and self.shock_s > 0)


@dataclass(frozen=True, eq=False)
class Shaken:
    """A board's answer, on the mesh of its modes.

    Parameters
    ----------
    modes : Modes
    displacement_mm, cycles : array
        Of each mode: three-sigma displacement (sine: amplitude) of its most moved place, and reversals in the life.
    usage_mm : array
        Displacement that, at 20 million reversals, does the harm of all modes' displacements and reversals (y, x).
    shock_mm, strain : array
        Displacement in the shock, and the board's surface strain under the worse of both (y, x). [mm, -]
    """

    modes: Modes
    displacement_mm: Array
    cycles: Array
    usage_mm: Array
    shock_mm: Array
    strain: Array


def transmissibility(frequency_hz: float) -> float:
    """Q of a single board at a moderate level, about √f.

    >>> transmissibility(100.0)
    10.0
    """
    if frequency_hz <= 0:
        raise InputError("the frequency must be positive", found=f"{frequency_hz:g} Hz")
    return math.sqrt(frequency_hz)


@lru_cache(maxsize=64)
def shaken_board(plate: Plate, shaking: Shaking) -> Shaken:
    """How a board answers to vibration and shock, mode by mode.

    Notes
    -----
    Each mode is a mass on a spring (Miles for random levels, Q·G for sine, Q = √f; a pulse by its response spectrum),
    whose most moved place moves by that mode's participation times as far: 16/π² for the first mode of a supported
    plate. At frequencies far below the first mode that is the static plate under its own weight. Harm is summed over
    modes by Miner's rule with the rule's own exponent 6.4; shocks by the root of the sum of squares.

    Examples
    --------
    >>> board = Plate(100, 80, 1.6, 20000, 0.12, 40000, edges="SSSS")
    >>> answer = shaken_board(board, Shaking(random=((20, 0.04), (2000, 0.04)), hours=10))
    >>> middle = answer.usage_mm[answer.usage_mm.shape[0] // 2].max()
    >>> bool(middle > (1 - 1e-9) * answer.usage_mm.max())
    True
    """
    modes = plate_modes(plate)
    if loose_modes(plate):
        raise ValidityError(
            "the board can turn about what holds it, so it does not simply bend",
            expected="edges or screws that hold it flat",
        )
    drive = np.abs(modes.participation)
    size = np.zeros(len(drive))
    for number, frequency in enumerate(modes.frequency_hz):
        size[number] = drive[number] * _lasting(shaking, float(frequency))
    cycles = modes.frequency_hz * shaking.hours * 3600
    rule = RULE_CYCLES if shaking.random else SINE_CYCLES
    moved = size[:, None, None] * np.abs(modes.shape)
    weight = (cycles / rule)[:, None, None]
    usage = (weight * moved**FATIGUE_EXPONENT).sum(axis=0) ** (1 / FATIGUE_EXPONENT)
    pulse = np.zeros(len(drive))
    if shaking.shocks:
        pulse = drive * _peaks(shaking, modes.frequency_hz) * GRAVITY_MM_S2 / (2 * math.pi * modes.frequency_hz) ** 2
    bent = modes.strain_per_mm
    lasting = np.sqrt(((size[:, None, None] * bent) ** 2).sum(axis=0))
    sudden = np.sqrt(((pulse[:, None, None] * bent) ** 2).sum(axis=0))
    hit = np.sqrt(((pulse[:, None, None] * modes.shape) ** 2).sum(axis=0))
    return Shaken(modes, size, cycles, usage, hit, np.maximum(lasting, sudden))


def _peaks(shaking: Shaking, frequency_hz: Array) -> Array:
    """Peak acceleration of an undamped mass on a spring in the shock, at each board frequency. [g]"""
    if not shaking.measured and shaking.shape == "half-sine":
        each = [shaking.shock_g * shock_amplification(float(f), shaking.shock_s) for f in frequency_hz]
        return np.asarray(each)
    pulse = shaking.measured or pulse_of(shaking.shape, shaking.shock_g, shaking.shock_s)
    return response_spectrum(pulse, frequency_hz)


def sine_field(modes: Modes, accel_g: float, frequency_hz: float, q: float = math.inf) -> Array:
    """Displacement of the board against its edges when they are shaken at one frequency, in phase (y, x). [mm]

    Parameters
    ----------
    accel_g, frequency_hz : float
        Of the edges; a frequency of zero is a steady acceleration. [g, Hz]
    q : float
        Of each mode.

    Notes
    -----
    Sum over the modes of Γᵢ·φᵢ·a/(ωᵢ² − ω² + iωᵢω/Q), its real part where undamped, else its magnitude with the sign of
    the real part.

    Examples
    --------
    A supported square plate under a steady g sags by 0.00406·q·a⁴/D in its middle (Timoshenko):

    >>> plate = Plate(100, 100, 1.6, 20000, 0.3, 30000, edges="SSSS")
    >>> sag = np.abs(sine_field(plate_modes(plate, 20), 1.0, 0.0)).max()
    >>> load = 30000e-6 / (0.1 * 0.1) * 9.80665  # Pa
    >>> print(f"{sag / 1000 * plate.stiffness_n_m / (load * 0.1**4):.5f}")
    0.00407
    """
    if frequency_hz < 0 or q <= 0:
        raise InputError("frequency can't be negative and Q must be positive", found=f"{frequency_hz:g} Hz, {q:g}")
    own, shaken = 2 * math.pi * modes.frequency_hz, 2 * math.pi * frequency_hz
    below = own**2 - shaken**2 + (0j if math.isinf(q) else 1j * own * shaken / q)
    each = modes.participation * accel_g * GRAVITY_MM_S2 / below
    field = (each[:, None, None] * modes.shape).sum(axis=0)
    return np.asarray(field.real if math.isinf(q) else np.abs(field) * np.where(field.real < 0, -1.0, 1.0))


def _lasting(shaking: Shaking, frequency: float) -> float:
    """Three-sigma displacement of a random level, or amplitude of a sine, at a board frequency. [mm]"""
    q = transmissibility(frequency)
    if shaking.random:
        density = density_at(shaking.random, frequency)
        return random_response(frequency, q, density)[1] if density > 0 else 0.0
    return shaking.sine_g * q * GRAVITY_MM_S2 / (2 * math.pi * frequency) ** 2


def allowed_mm(board_edge_mm: float, part_length_mm: float, thickness_mm: float, constant: float) -> float:
    """Displacement of the most moved place that a part there stands for 20 million reversals. [mm]

    The rule 0.00022·B/(C·h·√L) in inches, without its position factor: the mode's shape takes its place.

    >>> print(f"{allowed_mm(6 * 25.4, 25.4, 0.062 * 25.4, 1.0) / 25.4:.5f}")
    0.02129
    """
    if min(board_edge_mm, part_length_mm, thickness_mm, constant) <= 0:
        raise InputError("lengths, thickness and constant must be positive")
    root = math.sqrt(part_length_mm / INCH_MM)
    return float(LIMIT_INCH * board_edge_mm / (constant * (thickness_mm / INCH_MM) * root))


def share_below(field: Array, modes: Modes, limit: float) -> float:
    """Share of the board's area where a field stays below a limit."""
    x, y = _weights(modes.x_mm), _weights(modes.y_mm)
    area = np.outer(y, x)
    return float((area * (field <= limit)).sum() / area.sum())


def _weights(lines: Array) -> Array:
    half = np.diff(lines) / 2
    return np.concatenate([[half[0]], half[:-1] + half[1:], [half[-1]]])


def opening_mm(strain: float, part_length_mm: float, thickness_mm: float) -> float:
    """How far a bent board draws away from the ends of a part that stays flat, κ·L²/8 with κ = 2ε/h. [mm]

    >>> print(f"{opening_mm(500e-6, 10.0, 1.6) * 1000:.2f} um")
    7.81 um
    """
    if min(part_length_mm, thickness_mm) <= 0 or strain < 0:
        raise InputError("length and thickness must be positive, strain not negative")
    return 2 * strain / thickness_mm * part_length_mm**2 / 8


def lead_stress_mpa(
    opening: float, free_length_mm: float, lead_thickness_mm: float, modulus_mpa: float = 120e3
) -> float:
    """Bending stress at the root of a lead drawn by so many mm, 3·E·t·δ/(2·l²). [MPa]

    Notes
    -----
    A beam held in the body, the joint free to turn; 120 GPa is a copper lead frame. Without the stress
    concentration of the bends.

    >>> print(f"{lead_stress_mpa(0.0078, 1.0, 0.2):.0f}")
    281
    """
    if min(free_length_mm, lead_thickness_mm, modulus_mpa) <= 0 or opening < 0:
        raise InputError("lengths and modulus must be positive, opening not negative")
    if lead_thickness_mm > free_length_mm / 2:
        raise ValidityError(
            "too short for a beam",
            found=f"{free_length_mm:g} mm long, {lead_thickness_mm:g} mm thick",
            expected="at least twice as long as thick",
        )
    return 1.5 * modulus_mpa * lead_thickness_mm * opening / free_length_mm**2


def lead_force_n(
    opening: float, free_length_mm: float, width_mm: float, lead_thickness_mm: float, modulus_mpa: float = 120e3
) -> float:
    """Force of that lead on its joint, 3·E·I·δ/l³ with I = b·t³/12. [N]

    >>> print(f"{lead_force_n(0.0078, 1.0, 0.3, 0.2):.3f}")
    0.562
    """
    lead_stress_mpa(opening, free_length_mm, lead_thickness_mm, modulus_mpa)  # the same range of validity
    if width_mm <= 0:
        raise InputError("the width must be positive", found=f"{width_mm:g} mm")
    return 3 * modulus_mpa * width_mm * lead_thickness_mm**3 / 12 * opening / free_length_mm**3


def strain_limit(thickness_mm: float, rate_per_s: float) -> float:
    """Board strain that assembly and test are held to, √(2.35/t)·(1900 − 300·log₁₀ rate) µε, as a share.

    Recalled example formula of the strain-gauge guideline, with the rate in µε/s; for ball grids near the gauge.

    >>> print(f"{strain_limit(1.6, 1e5) * 1e6:.0f}")
    485
    """
    micro = rate_per_s
    if not 100 <= micro <= 1e6 or not 0.5 <= thickness_mm <= 3.5:
        raise ValidityError(
            "outside the strain guideline",
            found=f"{micro:g} µε/s, {thickness_mm:g} mm",
            expected="100 to 1e6 µε/s, 0.5 to 3.5 mm",
        )
    return math.sqrt(2.35 / thickness_mm) * (1900 - 300 * math.log10(micro)) * 1e-6


# What boards are kept to when panels are parted, boards screwed down and tested.
HANDLING_LIMIT = 500e-6
HANDLING_SOURCE = "amd-board-strain"


@dataclass(frozen=True)
class Handling:
    """Strain that parting, screwing down and testing put into the board at a part, against what is usual.

    Parameters
    ----------
    strain, limit : float
        As shares.
    guideline : float or None
        What the recalled strain-rate formula allows; None outside its range.
    verdict : {"holds", "marginal"}
        Never a failure: no limit of a small part was published.
    """

    strain: float
    limit: float
    guideline: float | None
    verdict: Literal["holds", "marginal"]


def handling(strain: float, thickness_mm: float, rate_per_s: float = 1e4) -> Handling:
    """Hold a measured handling strain against the usual limit.

    Parameters
    ----------
    strain : float
        As a share, measured or taken.
    thickness_mm : float
    rate_per_s : float
        µε/s; parting a panel is about 1e4 (recalled).

    Examples
    --------
    >>> handling(400e-6, 1.6).verdict, handling(800e-6, 1.6).verdict, round(handling(800e-6, 1.6).guideline * 1e6)
    ('holds', 'marginal', 848)
    """
    if strain < 0:
        raise InputError("a strain can't be negative", found=f"{strain:g}")
    try:
        guideline: float | None = strain_limit(thickness_mm, rate_per_s)
    except ValidityError:
        guideline = None
    return Handling(strain, HANDLING_LIMIT, guideline, "holds" if strain <= HANDLING_LIMIT else "marginal")
