"""Axes of charts: round ticks on a linear or logarithmic scale, and where a value stands on paper."""

from __future__ import annotations

import math
from dataclasses import dataclass

from landwise.errors import InputError
from landwise.quantities import significant

STEPS = (1.0, 2.0, 5.0, 10.0)


@dataclass(frozen=True)
class Axis:
    """A scale from `low` to `high` laid on paper from `start` to `end`. [mm on paper]"""

    low: float
    high: float
    start: float
    end: float
    log: bool = False

    def at(self, value: float) -> float:
        """Place of a value on paper; values outside stand at the nearer end.

        >>> Axis(0, 10, 0, 100).at(2.5), Axis(1, 100, 0, 100, log=True).at(10)
        (25.0, 50.0)
        """
        value = min(max(value, self.low), self.high)
        if self.log:
            share = math.log(value / self.low) / math.log(self.high / self.low)
        else:
            share = (value - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)

    def ticks(self, most: int = 7) -> list[float]:
        """Round values within the scale, at most about `most` of them."""
        if self.log:
            return _log_ticks(self.low, self.high, most)
        step = round_step((self.high - self.low) / most)
        first = math.ceil(self.low / step - 1e-9)
        last = math.floor(self.high / step + 1e-9)
        return [round(n * step, 12) + 0.0 for n in range(first, last + 1)]


def round_step(least: float) -> float:
    """The smallest of 1, 2, 5 × 10ⁿ that is not below `least`.

    >>> round_step(0.3), round_step(7)
    (0.5, 10.0)
    """
    power = 10.0 ** math.floor(math.log10(least))
    return next(step * power for step in STEPS if step * power >= least * (1 - 1e-9))


def fitted(values: list[float], start: float, end: float, *, log: bool = False, zero: bool = True) -> Axis:
    """An axis that holds all values with a little air, from zero where all are on one side of it.

    Raises
    ------
    InputError
        Without values, for one that is not finite, or for a logarithm of zero or less.
    """
    if not values or not all(math.isfinite(value) for value in values):
        raise InputError("a chart needs finite values", found=", ".join(f"{v:g}" for v in values) or "none")
    low, high = min(values), max(values)
    if log:
        if low <= 0:
            raise InputError("a logarithmic axis needs positive values", found=f"{low:g}", expected="> 0")
        spread = max(high / low, 2.0)
        return Axis(low / spread**0.06, high * spread**0.06 if high > low else low * 2, start, end, log=True)
    if zero:
        low, high = min(low, 0.0), max(high, 0.0)
    spread = high - low or abs(high) or 1.0
    low, high = (
        (low - 0.06 * spread if low < 0 or not zero else low),
        (high + 0.06 * spread if high > 0 or not zero else high),
    )
    return Axis(low, high if high > low else low + spread, start, end)


def _log_ticks(low: float, high: float, most: int) -> list[float]:
    decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    for parts in ((1.0, 2.0, 5.0), (1.0, 3.0), (1.0,)):
        found = [p * 10.0**d for d in decades for p in parts if low <= p * 10.0**d <= high]
        if 2 <= len(found) <= most:
            return found
    stride = max(1, math.ceil(len(found) / most))
    return found[::stride]


def number_text(value: float, digits: int = 3) -> str:
    """A number with so many significant digits, thousands of long ones set apart, a true minus.

    >>> number_text(20000.0) == "20\\u2009000", number_text(-0.5), number_text(1842.0)
    (True, '−0.5', '1840')
    """
    text = significant(abs(value), digits)
    if text.isdigit() and len(text) > 4:
        text = f"{int(text):,}".replace(",", "\u2009")
    return f"−{text}" if value < 0 and text != "0" else text
