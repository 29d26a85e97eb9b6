"""Shock pulses and their response spectra: what a mass on a spring makes of a pulse, classical or measured."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError

Array = NDArray[np.float64]
SHAPES = ("half-sine", "sawtooth", "trapezoid")
STEPS = 400  # of a classical pulse
RISE_SHARE = 0.1  # of a trapezoid's length, to rise and to fall (IEC 60068-2-27)
STEPS_A_PERIOD = 40  # of the quickest spring: its peaks are then met within 0.4 %
MOST_SAMPLES = 400_000
SOURCES = ("shock-spectrum-ramp", "shock-pulses-memory")


def pulse_of(shape: str, peak_g: float, length_s: float) -> tuple[tuple[float, float], ...]:
    """Corners of a classical pulse, (time, acceleration). [s, g]

    Parameters
    ----------
    shape : str
        "half-sine", "sawtooth" (rising to its peak, then off), or "trapezoid" (a tenth to rise, a tenth to fall).

    Raises
    ------
    InputError

    Examples
    --------
    >>> pulse_of("sawtooth", 50.0, 0.011)
    ((0.0, 0.0), (0.011, 50.0), (0.011, 0.0))
    """
    if peak_g <= 0 or length_s <= 0:
        raise InputError("peak and length of a pulse must be positive", found=f"{peak_g:g} g, {length_s:g} s")
    if shape == "half-sine":
        times = np.linspace(0.0, length_s, STEPS + 1)
        return tuple((float(t), float(peak_g * math.sin(math.pi * t / length_s))) for t in times)
    if shape == "sawtooth":
        return ((0.0, 0.0), (length_s, peak_g), (length_s, 0.0))
    if shape == "trapezoid":
        rise = RISE_SHARE * length_s
        return ((0.0, 0.0), (rise, peak_g), (length_s - rise, peak_g), (length_s, 0.0))
    raise InputError("no such pulse", found=shape, expected=", ".join(SHAPES))


def response_spectrum(
    pulse: Sequence[tuple[float, float]], frequency_hz: Array | Sequence[float], q: float = math.inf
) -> Array:
    """Greatest absolute acceleration of masses on springs whose feet follow a pulse, during it and after. [g]

    Parameters
    ----------
    pulse : sequence of (time, acceleration)
        Corners in time, straight between them, at rest before and after. [s, g]
    frequency_hz : array
        Of the springs. [Hz]
    q : float
        1/(2ζ); infinite without damping.

    Raises
    ------
    InputError
        Fewer than two corners, times that fall, frequencies or Q that aren't positive, or a pulse too long for the
        quickest spring.

    Notes
    -----
    The recursion that is exact for straight pieces (Smallwood 1981, recalled; an identity of the equation of motion),
    sampled forty times a period, and one period more after the end.

    Examples
    --------
    A stiff spring follows the peak within 1 %, a half-sine at best amplifies by 1.77:

    >>> pulse = pulse_of("half-sine", 100.0, 0.01)
    >>> stiff, best = response_spectrum(pulse, [5000.0, 81.0])
    >>> print(f"{stiff / 100:.2f} {best / 100:.2f}")
    1.01 1.77
    """
    times, levels = (np.array([corner[axis] for corner in pulse], dtype=float) for axis in (0, 1))
    frequency = np.asarray(frequency_hz, dtype=float)
    if len(times) < 2 or np.any(np.diff(times) < 0) or not times[-1] > times[0]:
        raise InputError("a pulse needs corners that follow in time", found=f"{len(times)} corners")
    if not np.all(np.isfinite(levels)) or np.any(frequency <= 0) or q <= 0:
        raise InputError("levels must be numbers, frequencies and Q positive")
    return np.array([_peak(times - times[0], levels, float(f), q) for f in frequency])


def _peak(times: Array, levels: Array, frequency: float, q: float) -> float:
    from scipy.signal import lfilter

    # A step of the pulse falls on a sample, with the mean of what stands before and after it: its velocity is then
    # exact.
    pieces = float(times[-1]) / math.ceil(times[-1] * STEPS_A_PERIOD / min(1 / frequency, float(times[-1])))
    count = math.ceil((times[-1] + 1 / frequency) / pieces)
    if count > MOST_SAMPLES:
        raise InputError("the pulse is too long for so quick a spring", found=f"{times[-1]:g} s at {frequency:g} Hz")
    at = np.arange(count + 1) * pieces
    before, after = (np.interp(at + shift * pieces, times, levels, left=0.0, right=0.0) for shift in (-1e-6, 1e-6))
    base = (before + after) / 2
    damping = 0.0 if math.isinf(q) else 1 / (2 * q)
    if damping >= 1:
        raise InputError("no swinging below Q 0.5", found=f"{q:g}")
    omega = 2 * math.pi * frequency
    decay, turn = math.exp(-damping * omega * pieces), omega * math.sqrt(1 - damping**2) * pieces
    c, s = decay * math.cos(turn), decay * math.sin(turn)
    front = [1 - s / turn, 2 * (s / turn - c), decay**2 - s / turn]
    found = lfilter(front, [1.0, -2 * c, decay**2], base)
    return float(np.abs(found).max())
