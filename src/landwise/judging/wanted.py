"""The study's own limits on figures: held, broken, or not shown either way."""

from __future__ import annotations

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
    confidence is asked for, the interval is taken as that of a normal number about its middle.
    """
    if figure.value is None:
        return "held" if figure.verdict == "holds" else "not shown" if sure is None else "broken"
    bound = number_of(limit, figure.unit, f"want, limits, {figure.key}")
    low = figure.value if figure.low is None else figure.low
    high = figure.value if figure.high is None else figure.high
    better, worse = (low, high) if figure.better == "less" else (-high, -low)
    bound = bound if figure.better == "less" else -bound
    tiny = 1e-12 * max(1.0, abs(bound))
    if sure is not None:
        return "held" if _confidence(better, worse, bound + tiny) >= sure else "broken"
    return "held" if worse <= bound + tiny else "broken" if better > bound + tiny else "not shown"


def _confidence(better: float, worse: float, bound: float) -> float:
    """Probability that a number with this 90 % interval lies below a bound."""
    middle, sd = (better + worse) / 2, (worse - better) / (2 * HALF_WIDTH_90)
    if sd <= 0:
        return float(middle <= bound)
    return NormalDist(middle, sd).cdf(bound)


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
