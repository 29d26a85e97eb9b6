"""The life curve of a board: share of boards with a failed joint against years, with its band."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError
from landwise.sheets.axis import Axis, number_text
from landwise.sheets.chartaxes import FIGURE_MM, LIMIT, WIDTH_MM, chart_svg
from landwise.sheets.lettering import line_mm, width_mm
from landwise.sheets.look import DASHED, GRID, LIGHT, SMALL, THIN, WIDE, Stroke, Theme
from landwise.sheets.svg import Area, Mark, Picture, Text, line

HEIGHT_MM = 66.0
LEAST, MOST = 1e-6, 1.0  # shares shown
SHARES = (
    (1e-6, "1 in 10⁶"),
    (1e-5, "1 in 10⁵"),
    (1e-4, "0.01 %"),
    (1e-3, "0.1 %"),
    (1e-2, "1 %"),
    (0.1, "10 %"),
    (1.0, "100 %"),
)
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Curve:
    """Shares failed at the chart's years: value and the ends of the 90 % interval."""

    label: str
    value: Array
    low: Array
    high: Array


def life_chart(
    years: Array, curves: Sequence[Curve], wanted_years: float, accepted: float, *, prefix: str, theme: Theme = LIGHT
) -> str:
    """One or two life curves on logarithmic axes, the first with its band; dashed lines at what is wanted."""
    picture = life_picture(years, curves, wanted_years, accepted)
    at = int(np.argmin(np.abs(years - wanted_years)))
    said = "; ".join(
        f"{curve.label}: {curve.value[at]:.2g} of boards failed after {years[at]:.3g} years" for curve in curves
    )
    return chart_svg(picture, "Failed boards against years", said, prefix, theme)


def life_picture(years: Array, curves: Sequence[Curve], wanted_years: float, accepted: float) -> Picture:
    """The marks of `life_chart`."""
    if not curves or len(years) < 2:
        raise InputError("a life curve needs curves and years")
    top = 2 * line_mm(SMALL) + 2.5
    bottom = top + HEIGHT_MM
    left = max(width_mm(text, SMALL) for _, text in SHARES) + 3.0
    flat = Axis(float(years[0]), float(years[-1]), left, WIDTH_MM - 2.0, log=True)
    upright = Axis(LEAST, MOST, bottom, top, log=True)
    marks = _frame(flat, upright, left, top, bottom)
    first = curves[0]
    marks.append(Area((tuple((x, y, 0.0) for x, y in _outline(flat, upright, years, first)),), "sea", None, 0.18))
    for number, (curve, pen) in enumerate(
        zip(curves, (Stroke("sea", WIDE), Stroke("brick", WIDE, DASHED)), strict=False)
    ):
        run = [
            (flat.at(float(t)), upright.at(float(share)))
            for t, share in zip(years, curve.value, strict=True)
            if share >= LEAST
        ]
        if len(run) < 2:
            continue
        marks.append(line(run, pen))
        # The first curve is named to its right, the second to its left and higher up, within the field.
        x, y = min(run, key=lambda point: abs(point[1] - upright.at(3e-2 if number else 3e-3)))
        wide = width_mm(curve.label, SMALL)
        start = max(x - 1.6 - wide, left + 1.0) if number else min(x + 1.6, WIDTH_MM - 3.0 - wide)
        marks.append(Text(start, y + 1.0, curve.label, colour=pen.colour))
    marks += _wanted(flat, upright, wanted_years, accepted, left, top, bottom)
    return Picture(tuple(marks))


def _outline(flat: Axis, upright: Axis, years: Array, curve: Curve) -> list[tuple[float, float]]:
    """Around a curve's band; what lies below the chart runs along its lower edge."""
    up = [(flat.at(float(t)), upright.at(max(float(s), LEAST))) for t, s in zip(years, curve.high, strict=True)]
    down = [(flat.at(float(t)), upright.at(max(float(s), LEAST))) for t, s in zip(years, curve.low, strict=True)]
    return [*up, *reversed(down)]


def _frame(flat: Axis, upright: Axis, left: float, top: float, bottom: float) -> list[Mark]:
    marks: list[Mark] = []
    for share, text in SHARES:
        y = upright.at(share)
        marks.append(line([(left, y), (WIDTH_MM - 2.0, y)], GRID))
        marks.append(Text(left - 1.8, y + 0.36 * FIGURE_MM, text, colour="graphite", anchor="end"))
    for tick in flat.ticks():
        x, text = flat.at(tick), number_text(tick)
        marks.append(line([(x, bottom), (x, bottom + 1.2)], THIN))
        marks.append(Text(x, bottom + 1.8 + FIGURE_MM, text, colour="graphite", anchor="middle"))
    marks.append(line([(left, top), (left, bottom), (WIDTH_MM - 2.0, bottom)], THIN))
    marks.append(Text(0.0, line_mm(SMALL) - 1.4, "boards with a failed joint of these parts", colour="graphite"))
    marks.append(Text(WIDTH_MM - 2.0, bottom + 2.4 + 2 * line_mm(SMALL), "years", colour="graphite", anchor="end"))
    return marks


def _wanted(
    flat: Axis, upright: Axis, years: float, share: float, left: float, top: float, bottom: float
) -> list[Mark]:
    x, y = flat.at(years), upright.at(share)
    says = f"wanted: {number_text(years)} years, {number_text(100 * share)} % accepted"
    half = width_mm(says, SMALL) / 2
    # Above the field: within it, one curve or another would run through the words.
    middle = min(max(x, half), WIDTH_MM - 2.0 - half)
    return [
        line([(x, top - 0.8), (x, bottom)], LIMIT),
        line([(left, y), (x, y)], LIMIT),
        Text(middle, top - 1.8, says, colour="brick", anchor="middle"),
    ]
