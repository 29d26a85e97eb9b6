"""The process window as a map: foil across, aperture reduction up, and where bridges or opens exceed the target."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from landwise.assembly.window import REDUCTIONS_MM, Window
from landwise.sheets.axis import Axis, number_text
from landwise.sheets.chartaxes import FIGURE_MM, chart_svg
from landwise.sheets.lettering import line_mm, width_mm
from landwise.sheets.look import LIGHT, NARROW, SMALL, THIN, WIDE, Stroke, Theme
from landwise.sheets.svg import Anchor, Disc, Mark, Picture, Text, line, rectangle

HEIGHT_MM = 62.0
PLOT_MM = 120.0
FINE = (72, 36)  # cells of the drawn map, across and up
# State of a cell: both kept, too many opens, too many bridges, both.
FILLS = ("", "hatch/sea", "back/brick", "cross/slate")
WORDS = ("", "too many opens", "too many bridges", "both")
INSIDE = "both kept"
TOO_NARROW = "above: less than half of the narrowest land would be left"
BRIDGE_LINE, OPEN_LINE = Stroke("brick", WIDE), Stroke("sea", WIDE)
Grid = NDArray[np.float64]
Beside = tuple[str, float, float]  # name, foil in µm, reduction in mm


def window_chart(
    window: Window,
    *,
    here: tuple[float, float] | None = None,
    beside: Sequence[Beside] = (),
    name: str = "",
    prefix: str = "window",
    theme: Theme = LIGHT,
) -> str:
    """The map of one part as SVG.

    Parameters
    ----------
    window : Window
    here : (foil in µm, reduction in mm), optional
        The study's own print, marked.
    beside : sequence of (name, foil in µm, reduction in mm), optional
        Other prints of the part, marked with their names; those off the map are left out.
    name : str
        The part's, for the description.
    """
    picture = window_picture(window, here=here, beside=beside)
    title = f"process window of {name}" if name else "process window"
    return chart_svg(picture, title, window.says, prefix, theme)


def window_picture(
    window: Window, *, here: tuple[float, float] | None = None, beside: Sequence[Beside] = ()
) -> Picture:
    """The marks of `window_chart`."""
    key, top = _key()
    bottom = top + HEIGHT_MM
    cuts = [cut * 1000 for cut in window.reductions_mm]
    left = max(width_mm(number_text(cut), SMALL) for cut in cuts) + 4.0
    flat = Axis(window.foils_um[0], window.foils_um[-1], left, left + PLOT_MM)
    # Every part's map has the same axes, so that maps compare; above its own last reduction nothing was worked.
    upright = Axis(cuts[0], max(cuts[0] + REDUCTIONS_MM[-1] * 1000, cuts[-1]), bottom, top)
    last = cuts[-1] if len(cuts) > 1 else cuts[0] + 1.0
    fine = max(1, round(FINE[1] * (last - cuts[0]) / (upright.high - upright.low)))
    foils, ups = np.linspace(flat.low, flat.high, FINE[0] + 1), np.linspace(upright.low, last, fine + 1)
    bridges, opens = (_refined(rate, window.foils_um, cuts, foils, ups) for rate in (window.bridges, window.opens))
    target = np.log10(window.target)
    marks: list[Mark] = [*_regions(bridges > target, opens > target, foils, ups, flat, upright)]
    marks += _contour(bridges - target, foils, ups, flat, upright, BRIDGE_LINE)
    marks += _contour(opens - target, foils, ups, flat, upright, OPEN_LINE)
    prints = _prints(here, beside, flat, upright, last)
    named = [_text_box(mark) for mark in prints if isinstance(mark, Text)]
    marks += _inside(bridges > target, opens > target, foils, ups, flat, upright, named)
    ticks = [cuts[0] + cut * 1000 for cut in REDUCTIONS_MM] if last < upright.high else cuts
    marks += _frame(window, flat, upright, ticks)
    if last < upright.high:
        y = upright.at(last)
        marks.append(line([(flat.start, y), (flat.end, y)], Stroke("graphite", NARROW)))
        marks.append(_above(flat.start + 2.0, y, upright))
    marks += key
    marks += prints
    return Picture(tuple(marks))


def _prints(
    here: tuple[float, float] | None, beside: Sequence[Beside], flat: Axis, upright: Axis, last_um: float
) -> list[Mark]:
    """The study's own print and others beside it, with their names."""
    marks: list[Mark] = []
    if here is not None and flat.low <= here[0] <= flat.high and upright.low <= here[1] * 1000:
        # A print beyond the map stands at its edge with its value.
        x, y = flat.at(here[0]), upright.at(min(here[1] * 1000, upright.high))
        marks += [Disc(x, y, 1.7, "paper", THIN), Disc(x, y, 0.9, "ink")]
        if here[1] * 1000 > upright.high:
            marks.append(Text(x + 2.6, y - 0.6, f"at {number_text(here[1] * 1000)}", colour="ink"))
    for word, foil, cut in beside:
        if flat.low <= foil <= flat.high and upright.low <= cut * 1000 <= upright.high:
            x, y = flat.at(foil), upright.at(cut * 1000)
            # Near the end of what was worked, where that is said above the line, a name stands below its print.
            near = last_um < upright.high and y - upright.at(last_um) < line_mm(SMALL)
            at = y + FIGURE_MM if near else y - 0.6
            marks += [Disc(x, y, 1.2, "paper", THIN), Text(x + 2.2, at, word, colour="ink")]
    return marks


def _text_box(text: Text) -> tuple[float, float, float, float]:
    """Left, top, right and bottom of a text that starts at its place. [mm]"""
    return text.x, text.y - FIGURE_MM, text.x + text.width, text.y + 0.3 * FIGURE_MM


def _above(x: float, y: float, upright: Axis) -> Text:
    """What lies above a map that ends early, where there is room for it."""
    room = y - upright.end
    return Text(x, y - 1.6 if room > line_mm(SMALL) + 2.0 else upright.end - 5.0, TOO_NARROW, colour="graphite")


def _refined(rate: Grid, foils_um: tuple[float, ...], cuts: list[float], foils: Grid, ups: Grid) -> Grid:
    """Logarithm of a rate between the worked points, straight along each axis; (ups, foils)."""
    logs = np.log10(rate)
    across = np.array([np.interp(foils, foils_um, row) for row in logs])
    return np.array([np.interp(ups, cuts, column) for column in across.T]).T


def _regions(
    bridges: NDArray[np.bool_], opens: NDArray[np.bool_], foils: Grid, ups: Grid, flat: Axis, upright: Axis
) -> list[Mark]:
    """Rectangles of like cells, run by run."""
    state = opens[:-1, :-1] + 2 * bridges[:-1, :-1]
    marks: list[Mark] = []
    for row in range(state.shape[0]):
        edges = [0, *(np.flatnonzero(np.diff(state[row])) + 1), state.shape[1]]
        for start, end in pairwise(edges):
            fill = FILLS[int(state[row, start])]
            if fill:
                box = (flat.at(foils[start]), upright.at(ups[row + 1]), flat.at(foils[end]), upright.at(ups[row]))
                marks.append(rectangle(box, fill))
    return marks


def _contour(level: Grid, foils: Grid, ups: Grid, flat: Axis, upright: Axis, stroke: Stroke) -> list[Mark]:
    """Where a level crosses zero, cell by cell."""
    marks: list[Mark] = []
    above = level > 0
    several = np.stack([above[:-1, :-1], above[:-1, 1:], above[1:, 1:], above[1:, :-1]]).sum(axis=0) % 4 != 0
    for row, column in np.argwhere(several):
        corners = (
            (foils[column], ups[row], level[row, column]),
            (foils[column + 1], ups[row], level[row, column + 1]),
            (foils[column + 1], ups[row + 1], level[row + 1, column + 1]),
            (foils[column], ups[row + 1], level[row + 1, column]),
        )
        crossed = []
        for (x1, y1, a), (x2, y2, b) in zip(corners, (*corners[1:], corners[0]), strict=True):
            if (a > 0) != (b > 0):
                share = a / (a - b)
                crossed.append((flat.at(x1 + share * (x2 - x1)), upright.at(y1 + share * (y2 - y1))))
        marks += [line(crossed[k : k + 2], stroke) for k in range(0, len(crossed) - 1, 2)]
    return marks


def _inside(
    bridges: NDArray[np.bool_],
    opens: NDArray[np.bool_],
    foils: Grid,
    ups: Grid,
    flat: Axis,
    upright: Axis,
    named: Sequence[tuple[float, float, float, float]],
) -> list[Mark]:
    """The window's name, in the middle of its longest run that no print's name lies on, where it has room."""
    kept, half = ~(bridges | opens), width_mm(INSIDE, SMALL, "bold") / 2
    best: tuple[float, float, float] = (0.0, 0.0, 0.0)
    for row in range(1, kept.shape[0] - 1):
        edges = [-1, *np.flatnonzero(~kept[row]), kept.shape[1]]
        for start, end in pairwise(edges):
            if end - start > 2:
                x1, x2, y = flat.at(foils[start + 1]), flat.at(foils[end - 1]), upright.at(ups[row])
                middle = (x1 + x2) / 2
                taken = any(
                    left < middle + half and right > middle - half and high < y + FIGURE_MM and low > y - FIGURE_MM
                    for left, high, right, low in named
                )
                if x2 - x1 > best[0] + 1.0 and not taken:
                    best = (x2 - x1, middle, y)
    wide, x, y = best
    if wide < 2 * half + 3.0:
        return []
    return [Text(x, y + 0.36 * FIGURE_MM, INSIDE, font="bold", anchor="middle")]


def _frame(window: Window, flat: Axis, upright: Axis, cuts: list[float]) -> list[Mark]:
    bottom, top, left = upright.start, upright.end, flat.start
    marks: list[Mark] = [line([(left, top), (left, bottom), (flat.end, bottom)], THIN)]
    for foil in window.foils_um:
        x = flat.at(foil)
        marks.append(line([(x, bottom), (x, bottom + 1.2)], THIN))
        marks.append(Text(x, bottom + 1.8 + FIGURE_MM, number_text(foil), colour="graphite", anchor="middle"))
    for cut in cuts:
        y = upright.at(cut)
        marks.append(line([(left - 1.2, y), (left, y)], THIN))
        marks.append(Text(left - 1.8, y + 0.36 * FIGURE_MM, number_text(cut), colour="graphite", anchor="end"))
    wide = flat.end + 5.0
    says: tuple[tuple[str, float, float, Anchor], ...] = (
        ("taken off every edge of an aperture, µm", left - 1.0, top - 1.6, "start"),
        ("foil, µm", flat.end, bottom + 2.4 + 2 * line_mm(SMALL), "end"),
    )
    for text, x, y, anchor in says:
        marks.append(Text(x, y, text, colour="graphite", anchor=anchor))
    notes = (
        f"limit: {number_text(window.target)} per",
        "million joints, each;",
        "levels are known to",
        "a factor of ten at best",
    )
    for number, text in enumerate(notes):
        marks.append(Text(wide, top + (number + 1) * line_mm(SMALL), text, colour="graphite"))
    return marks


def _key() -> tuple[list[Mark], float]:
    """What the patterns mean, and where the plot begins."""
    marks: list[Mark] = []
    x = 0.0
    for fill, word in zip(FILLS[1:], WORDS[1:], strict=True):
        marks.append(rectangle((x, 0.4, x + 5.5, 3.6), fill, Stroke("graphite", NARROW)))
        marks.append(Text(x + 7.0, 0.4 + FIGURE_MM * 0.87, word, colour="graphite"))
        x += 7.0 + width_mm(word, SMALL) + 6.0
    marks.append(Disc(x + 1.7, 2.0, 1.7, "paper", THIN))
    marks.append(Disc(x + 1.7, 2.0, 0.9, "ink"))
    marks.append(Text(x + 5.0, 0.4 + FIGURE_MM * 0.87, "this study's print", colour="graphite"))
    return marks, 2 * line_mm(SMALL) + 4.0
