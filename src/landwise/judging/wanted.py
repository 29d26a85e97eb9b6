"""The study's own limits on figures: held, broken, or not shown either way."""

from __future__ import annotations

import math
from collections.abc import Mapping
from statistics import NormalDist
from typing import Literal

from landwise.errors import InputError
from landwise.evidence.figures import Figure
from landwise.quantities import DIMENSIONS, parse
from landwise.study.file import Want

LimitState = Literal["held", "broken", "not shown"]
HALF_WIDTH_90 = 1.6449  # standard deviations from the middle to the end of a 90 % interval


def limit_states(figures: Mapping[str, Figure], want: Want) -> dict[str, LimitState]:
    """Of each figure that the study limits, whether it holds.

    A figure that an option does not have at all, such as the toe fillet of a ball, does not bind it; one without a
    better side can't be limited, which the board refuses by name.

    Raises
    ------
    InputError
        For a limit that is no number of the figure's unit.
    """
    return {
        key: state_of(figures[key], limit, want.sure)
        for key, limit in want.limits.items()
        if key in figures and (figures[key].value is None or figures[key].better != "neither")
    }


def state_of(figure: Figure, limit: float | str, sure: float | None = None) -> LimitState:
    """Whether a figure holds a limit, breaks it, or is not shown to do either.

    Parameters
    ----------
    figure : Figure
    limit : float or str
    sure : float, optional
        Confidence at which it must be shown to be held; below it the limit counts as broken.

    Notes
    -----
    Held where the worse end of the 90 % interval keeps the limit, broken where the better end does not. Where a
    confidence is asked for, see `confidence_in`. A figure whose level nobody measured is held only by the whole of its
    interval, and never broken by it: it is not shown.
    """
    if figure.value is None:
        return "held" if figure.verdict == "holds" else "not shown" if sure is None else "broken"
    bound = number_of(limit, figure.unit, f"want, limits, {figure.key}")
    low = figure.value if figure.low is None else figure.low
    high = figure.value if figure.high is None else figure.high
    better, worse = (low, high) if figure.better == "less" else (-high, -low)
    signed = bound if figure.better == "less" else -bound
    tiny = 1e-12 * max(1.0, abs(bound))
    throughout = worse <= signed + tiny
    if sure is not None:
        shown = confidence_in(figure, bound) >= sure - 1e-12 and (figure.measured or throughout)
        return "held" if shown else "broken"
    return "held" if throughout else "broken" if figure.measured and better > signed + tiny else "not shown"


def confidence_in(figure: Figure, bound: float) -> float:
    """Probability that a figure keeps a limit, from its value and its 90 % interval.

    Parameters
    ----------
    figure : Figure
        With a value.
    bound : float
        In its unit.

    Notes
    -----
    Two half normals that meet at the value, each as wide as its end of the interval says, on the scale on which the two
    are more alike: a life of 30 (1…900) years is even in its logarithm, and a normal about the middle of 1 and 900
    would call it surely more than 10.

    Examples
    --------
    >>> from landwise.evidence.figures import figure
    >>> from landwise.evidence.trails import drawn, taken
    >>> years = taken("a life", drawn((1.0, 30.0, 900.0), "x", ("landwise-rule",), "years"))
    >>> life = figure(years, key="life", title="life", better="more")
    >>> [round(confidence_in(life, wanted), 2) for wanted in (1.0, 10.0, 30.0, 900.0)]
    [0.95, 0.7, 0.5, 0.05]
    """
    value = 0.0 if figure.value is None else figure.value
    low, high = (value if end is None else end for end in (figure.low, figure.high))
    if low > 0 and bound > 0 and _lopsided(*map(math.log, (low, value, high))) < _lopsided(low, value, high):
        low, value, high, bound = map(math.log, (low, value, high, bound))
    apart = bound - value
    half = high - value if apart >= 0 else value - low
    tiny = 1e-12 * max(1.0, abs(bound))
    if half <= tiny:
        below = float(apart >= -tiny) if figure.better == "less" else float(apart > tiny)
    else:
        below = NormalDist().cdf(apart / half * HALF_WIDTH_90)
    return below if figure.better == "less" else 1 - below


def _lopsided(low: float, value: float, high: float) -> float:
    """How unlike the two halves of an interval are; 0 where they are equal."""
    return abs((high - value) - (value - low)) / max(high - low, 1e-300)


def number_of(limit: float | str, unit: str, place: str) -> float:
    """A limit as a number of the figure's unit."""
    if not isinstance(limit, str):
        return float(limit)
    for dimension in DIMENSIONS.values():
        if dimension.unit == unit:
            return parse(limit, dimension.name, place=place)
    try:
        return float(limit.removesuffix(unit))
    except ValueError:
        raise InputError(
            "not a number", place=place, found=repr(limit), expected=f"a number of {unit or 'things'}"
        ) from None
