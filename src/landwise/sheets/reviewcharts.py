"""Histograms of a review: area ratio and paste on the land, a row a foil, with the limits they are held to."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from landwise.printing.transfer import failing_area_ratio, holding_area_ratio
from landwise.review.reviews import SideReview
from landwise.review.verdicts import EXCESS, HALF, UnderFoil
from landwise.sheets.axis import Axis, number_text
from landwise.sheets.chartaxes import LIMIT, WIDTH_MM, chart_svg
from landwise.sheets.lettering import line_mm, width_mm
from landwise.sheets.look import GRID, HAIR, MM_PER_PT, SMALL, THIN, Stroke
from landwise.sheets.svg import Mark, Picture, Text, line, rectangle

ROW_MM, LABEL_MM, COUNT_MM = 17.0, 16.0, 30.0
BINS = 48
BASE_MM = 0.36 * SMALL * MM_PER_PT


def area_ratio_svg(side: SideReview, prefix: str) -> str:
    """Area ratios under each foil, with the ratios from which release holds and below which it fails."""
    some = next(iter(side.unders.values()))
    technology, powder = some.foil.technology, some.powder
    failing, holding = failing_area_ratio(technology, powder), holding_area_ratio(technology, powder)
    limits = [(failing, f"below {failing:.2f} fails")]
    if holding is not None:
        limits.append((holding, f"from {holding:.2f} holds"))
    return _rows_svg(side, lambda under: under.area_ratio, 0.2, 2.2, "area ratio", limits, prefix)


def volume_svg(side: SideReview, prefix: str) -> str | None:
    """Paste on each land over land area times foil; None where lands are not known."""
    if side.given.lands.basis == "paste":
        return None
    limits = [(HALF, f"half ({HALF:.0%})"), (EXCESS, f"{EXCESS:.0%}")]
    title = "paste on the land over land × foil"
    return _rows_svg(side, lambda under: under.share[~np.isnan(under.share)], 0.0, 2.0, title, limits, prefix)


def _rows_svg(
    side: SideReview,
    values_of: Callable[[UnderFoil], NDArray[np.float64]],
    low: float,
    high: float,
    title: str,
    limits: list[tuple[float, str]],
    prefix: str,
) -> str:
    axis = Axis(low, high, LABEL_MM, WIDTH_MM - COUNT_MM)
    top = 2 * line_mm(SMALL)
    bottom = top + ROW_MM * len(side.unders)
    marks: list[Mark] = []
    said = []
    edges = np.linspace(low, high, BINS + 1)
    for number, (um, under) in enumerate(sorted(side.unders.items())):
        foot = top + ROW_MM * (number + 1)
        values = values_of(under)
        counts = np.histogram(np.clip(values, low, high - 1e-9), edges)[0]
        tall = (ROW_MM - 3.0) / max(int(counts.max()), 1) if len(counts) else 0.0
        best = um == side.choice.best_um
        for left, right, count in zip(edges[:-1], edges[1:], counts.tolist(), strict=True):
            if count:
                # One aperture among thousands must still be seen.
                height = max(count * tall, 0.5)
                box = (axis.at(float(left)), foot - height, axis.at(float(right)), foot)
                marks.append(rectangle(box, "steel" if best else "solder", Stroke("ink", HAIR)))
        marks.append(line([(axis.start, foot), (axis.end, foot)], THIN))
        marks.append(Text(0.0, foot - 1.2, f"{um:g} µm", SMALL, "ink", "bold" if best else "sans"))
        below = int((values < limits[0][0]).sum())
        marks.append(Text(WIDTH_MM, foot - 1.2, f"{below} below {limits[0][0]:.2f}", SMALL, "graphite", anchor="end"))
        said.append(f"{um:g} µm: {below} of {len(values)} below {limits[0][0]:.2f}")
    for tick in axis.ticks():
        x = axis.at(tick)
        marks.insert(0, line([(x, top), (x, bottom)], GRID))
        marks.append(line([(x, bottom), (x, bottom + 1.2)], THIN))
        marks.append(Text(x, bottom + 1.6 + SMALL * MM_PER_PT, number_text(tick), SMALL, "graphite", anchor="middle"))
    for number, (value, text) in enumerate(sorted(limits)):
        x = axis.at(value)
        marks.append(line([(x, top - 1.0), (x, bottom)], LIMIT))
        # Two limits stand close: the lower one's words end at its line, the upper one's begin at theirs.
        last = number == len(limits) - 1
        wide = width_mm(text, SMALL)
        start = x - wide if not last and x - wide > 0 else x
        marks.append(Text(start, top - 2.0, text, SMALL, "brick"))
    said_title = f"{title}; best foil dark; what lies beyond stands in the end bars"
    marks.append(Text(LABEL_MM, bottom + 1.6 + SMALL * MM_PER_PT + line_mm(SMALL), said_title, SMALL, "graphite"))
    return chart_svg(Picture(tuple(marks)), title, "; ".join(said), prefix)
