"""The print window as a picture: foil thickness over reduction, with the foils on hand and where the study stands."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from landwise.printing.window import PrintWindow
from landwise.sheets.axis import Axis, number_text
from landwise.sheets.lettering import line_mm, width_mm
from landwise.sheets.look import DASHED, GRID, MM_PER_PT, NARROW, SMALL, THIN, WIDE, Stroke
from landwise.sheets.svg import Disc, Mark, Picture, Text, line, points

FIGURE_MM = SMALL * MM_PER_PT
HIGHEST_UM = 260.0  # thicker foils are of no interest: the window is drawn open to the top there


def window_picture(
    window: PrintWindow,
    foils_um: Sequence[float],
    stands: tuple[float, float],
    *,
    wide_mm: float = 100.0,
    high_mm: float = 58.0,
) -> Picture:
    """The window, its limits labelled where they run out at the right.

    Parameters
    ----------
    window : PrintWindow
    foils_um : sequence of float
        On hand; drawn across. [µm]
    stands : (float, float)
        The study's own reduction and foil. [µm]
    wide_mm, high_mm : float
        Of the field on paper. [mm]
    """
    low = min([*foils_um, stands[1], window.least_um or 1e9, *window.holds_um]) * 0.8
    high = min(HIGHEST_UM, max([*foils_um, stands[1], *window.works_um]) * 1.12)
    left = max(width_mm(f"{um:g}", SMALL) for um in foils_um) + 3.0
    top = line_mm(SMALL) + 1.5
    flat = Axis(window.reductions_um[0], window.reductions_um[-1], left, left + wide_mm)
    upright = Axis(low, high, top + high_mm, top)
    marks: list[Mark] = [Text(0.0, 0.8 * line_mm(SMALL), "foil [µm]", colour="graphite")]
    marks += _areas(window, flat, upright)
    for um in foils_um:
        y = upright.at(um)
        marks.append(line([(left, y), (left + wide_mm, y)], GRID))
        marks.append(Text(left - 1.6, y + 0.36 * FIGURE_MM, f"{um:g}", colour="graphite", anchor="end"))
    marks += _frame(flat, upright)
    marks += _limits(window, flat, upright)
    x, y = flat.at(stands[0]), upright.at(stands[1])
    marks += [Disc(x, y, 1.9, "paper", Stroke("ink", WIDE)), Disc(x, y, 0.8, "ink")]
    return Picture(tuple(marks))


def _curve(window: PrintWindow, heights: Sequence[float], flat: Axis, upright: Axis) -> list[tuple[float, float]]:
    return [(flat.at(um), upright.at(height)) for um, height in zip(window.reductions_um, heights, strict=True)]


def _areas(window: PrintWindow, flat: Axis, upright: Axis) -> list[Mark]:
    """Where the print holds (plain), where it is marginal (hatched)."""
    holds = _curve(window, window.holds_um, flat, upright)
    works = _curve(window, window.works_um, flat, upright)
    floor = upright.at(window.least_um) if window.least_um else upright.start
    good = [*((x, min(y, floor)) for x, y in holds), (flat.end, floor), (flat.start, floor)]
    between = [*((x, min(y, floor)) for x, y in works), *((x, min(y, floor)) for x, y in reversed(holds))]
    return [points(good, "board"), points(between, "hatch/umber")]


def _frame(flat: Axis, upright: Axis) -> list[Mark]:
    bottom = upright.start
    marks: list[Mark] = [
        line([(flat.start, bottom), (flat.end, bottom)], THIN),
        line([(flat.start, upright.end), (flat.start, bottom)], THIN),
    ]
    for tick in flat.ticks():
        x = flat.at(tick)
        marks.append(line([(x, bottom), (x, bottom + 1.2)], THIN))
        marks.append(Text(x, bottom + 1.8 + FIGURE_MM, number_text(tick, 4), colour="graphite", anchor="middle"))
    said = "taken off every edge [µm]"
    marks.append(Text(flat.start, bottom + 1.8 + FIGURE_MM + line_mm(SMALL), said, colour="graphite"))
    return marks


def _limits(window: PrintWindow, flat: Axis, upright: Axis) -> list[Mark]:
    """The curves and their names, kept apart at the right edge."""
    rows: list[tuple[str, float, Stroke]] = []
    marks: list[Mark] = []
    for heights, name, pen in (
        (window.works_um, "release fails above", Stroke("brick", WIDE)),
        (window.holds_um, "marginal above", Stroke("umber", WIDE)),
    ):
        curve = np.array(_curve(window, heights, flat, upright))
        marks.append(line(curve, pen))
        rows.append((name, float(curve[-1, 1]), pen))
    if window.least_um is not None:
        y = upright.at(window.least_um)
        pen = Stroke("slate", NARROW, DASHED)
        marks.append(line([(flat.start, y), (flat.end, y)], pen))
        rows.append(("uneven leads below", y, pen))
    last = -1e9
    for name, y, pen in sorted(rows, key=lambda row: row[1]):
        base = max(y + 0.36 * FIGURE_MM, last + line_mm(SMALL))
        marks.append(Text(flat.end + 2.0, base, name, colour=pen.colour))
        last = base
    return marks
