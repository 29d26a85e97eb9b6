"""The map of choices: which package each part comes in over the two inputs that move the choice most."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from landwise.sheets.axis import Axis, fitted
from landwise.sheets.chartaxes import FIGURE_MM, WIDTH_MM, chart_svg, filled, key_of
from landwise.sheets.lettering import line_mm, shortened, width_mm
from landwise.sheets.look import LIGHT, SERIES, SMALL, THIN, Theme
from landwise.sheets.svg import Disc, Mark, Picture, Text, line, rectangle
from landwise.sweeping.axes import Value
from landwise.sweeping.changes import ANSWERS, Chosen
from landwise.sweeping.plan import Plan

MOST_COLUMNS, MOST_ROWS, MOST_PANELS = 60, 40, 6
CELL_MM, LABEL_MM = 8.0, 34.0
SIGNS = {"decided": "", "equal": "=", "not decided": "?"}
SAYS = "= equal within what is known, ? not decided, × no choice or not finished"


@dataclass(frozen=True)
class Cut:
    """What a map shows: the axes flat, upright and from panel to panel (-1 for none); the others stand still."""

    flat: int
    upright: int
    panels: int
    held: str


def cut_of(plan: Plan, order: Sequence[int]) -> Cut:
    """The cut through the grid along the inputs that move the choice most; the others at their first value."""
    wide = [n for n in order if plan.points is not None or plan.shape[n] > 1] or list(order)
    flat, upright, panels = (*wide[:3], -1, -1, -1)[:3]
    rest = [n for n in wide[3:] if plan.points is None]
    held = ", ".join(f"{plan.axes[n].path} = {plan.axes[n].values[0].says}" for n in rest)
    return Cut(flat, upright, panels, held)


def part_map(plan: Plan, chosen: Chosen, part: int, cut: Cut, *, prefix: str = "map", theme: Theme = LIGHT) -> str:
    """One part's map as a drawing.

    Parameters
    ----------
    part : int
        Place in `chosen.parts`.
    cut : Cut
        From `cut_of`.
    """
    picture, said = (_spread if plan.points is not None else _grid)(plan, chosen, part, cut)
    title = f"Package of {chosen.parts[part]}"
    return chart_svg(picture, title, said, prefix, theme)


def _names(chosen: Chosen, part: int) -> list[int]:
    """The packages that a part takes, the most frequent first."""
    codes, counts = np.unique(chosen.codes[:, part][chosen.codes[:, part] >= 0], return_counts=True)
    return [int(code) for code in codes[np.argsort(-counts, kind="stable")]]


def _grid(plan: Plan, chosen: Chosen, part: int, cut: Cut) -> tuple[Picture, str]:
    cube = chosen.codes[:, part].reshape(plan.shape)
    sure = chosen.answers[:, part].reshape(plan.shape)
    names = _names(chosen, part)
    marks, y = key_of([chosen.packages[code] for code in names])
    shown = plan.shape[cut.panels] if cut.panels >= 0 else 1
    said = []
    for panel in range(min(shown, MOST_PANELS)):
        at: list[int | slice] = [0] * len(plan.shape)
        at[cut.flat] = slice(None)
        if cut.upright >= 0:
            at[cut.upright] = slice(None)
        if cut.panels >= 0:
            at[cut.panels] = panel
        cells, signs = np.atleast_2d(cube[tuple(at)]), np.atleast_2d(sure[tuple(at)])
        if cut.upright >= 0 and cut.flat < cut.upright:
            cells, signs = cells.T, signs.T
        head = f"{plan.axes[cut.panels].path} = {plan.axes[cut.panels].values[panel].says}" if cut.panels >= 0 else ""
        made, y = _panel(plan, cut, cells, signs, names, head, y)
        marks += made
        said.append(f"{head + ': ' if head else ''}{_told(cells, chosen)}")
    notes = [SAYS]
    if cut.held:
        notes.append(f"held: {cut.held}")
    if shown > MOST_PANELS:
        notes.append(f"{shown - MOST_PANELS} more values of {plan.axes[cut.panels].path} stand in the table")
    for note in notes:
        y += line_mm(SMALL)
        marks.append(Text(0.0, y, shortened(note, WIDTH_MM, SMALL), colour="graphite"))
    return Picture(tuple(marks)), ". ".join(said)


def _told(cells: np.ndarray, chosen: Chosen) -> str:
    counts = {chosen.packages[code]: int((cells == code).sum()) for code in np.unique(cells) if code >= 0}
    return ", ".join(f"{name} in {count} of {cells.size} cases" for name, count in counts.items())


def _panel(
    plan: Plan, cut: Cut, cells: np.ndarray, signs: np.ndarray, names: Sequence[int], head: str, top: float
) -> tuple[list[Mark], float]:
    rows, columns = min(cells.shape[0], MOST_ROWS), min(cells.shape[1], MOST_COLUMNS)
    upright = plan.axes[cut.upright] if cut.upright >= 0 else None
    left = 0.0
    if upright is not None:
        left = min(LABEL_MM, max(width_mm(value.says, SMALL) for value in upright.values) + 2.0)
    wide = min(26.0, (WIDTH_MM - left) / columns)
    marks: list[Mark] = []
    if head:
        marks.append(Text(0.0, top + FIGURE_MM, head, font="bold"))
        top += line_mm(SMALL) + 1.0
    if upright is not None:
        marks.append(Text(0.0, top + FIGURE_MM, shortened(upright.path, WIDTH_MM, SMALL), colour="graphite"))
        top += line_mm(SMALL) + 1.0
    for row in range(rows):
        y = top + (rows - 1 - row) * CELL_MM  # larger values stand higher, as on any chart
        if upright is not None:
            says = shortened(upright.values[row].says, left - 2.0, SMALL)
            marks.append(Text(left - 1.5, y + CELL_MM / 2 + FIGURE_MM * 0.36, says, colour="graphite", anchor="end"))
        for column in range(columns):
            x, code = left + column * wide, int(cells[row, column])
            box = (x, y, x + wide, y + CELL_MM)
            sign = "×"
            if code >= 0:
                marks += filled(box, SERIES[names.index(code) % len(SERIES)])
                kind = int(signs[row, column])
                sign = SIGNS[ANSWERS[kind]] if kind >= 0 else ""
            else:
                marks.append(rectangle(box, "", THIN))
            if sign:
                marks += _sign(x + wide / 2, y + CELL_MM / 2, sign)
    bottom = top + rows * CELL_MM
    flat, taken = plan.axes[cut.flat], -1.0
    for column in range(columns):
        text, x = flat.values[column].says, left + (column + 0.5) * wide
        half = width_mm(text, SMALL) / 2
        if x - half > taken + 1.0:
            marks.append(Text(x, bottom + 1.0 + FIGURE_MM, text, colour="graphite", anchor="middle"))
            taken = x + half
    base = bottom + 1.0 + FIGURE_MM + line_mm(SMALL)
    marks.append(Text(left, base, shortened(flat.path, WIDTH_MM - left, SMALL), colour="graphite"))
    return marks, base + 3.0


def _sign(x: float, y: float, sign: str) -> list[Mark]:
    """A sign on a light disc, so that it reads on any pattern."""
    return [Disc(x, y, 1.9, "body"), Text(x, y + FIGURE_MM * 0.36, sign, anchor="middle")]


def _spread(plan: Plan, chosen: Chosen, part: int, cut: Cut) -> tuple[Picture, str]:
    assert plan.points is not None
    names = _names(chosen, part)
    marks, top = key_of([chosen.packages[code] for code in names])
    cases = [plan.case(n) for n in range(min(chosen.read, 4000))]
    flat, upright = plan.axes[cut.flat], plan.axes[cut.upright] if cut.upright >= 0 else None
    height, left = 90.0, 26.0
    x_of = _scale([_place(plan, case.values, cut.flat) for case in cases], left, WIDTH_MM - 2.0, plan, cut.flat)
    bottom = top + height
    places = [_place(plan, case.values, cut.upright) if upright is not None else 0.5 for case in cases]
    y_of = _scale(places, bottom, top, plan, cut.upright) if upright is not None else fitted([0.0, 1.0], bottom, top)
    for n, case in enumerate(cases):
        code = int(chosen.codes[n, part])
        if code < 0:
            continue
        x, y = x_of.at(_place(plan, case.values, cut.flat)), y_of.at(places[n])
        fill = SERIES[names.index(code) % len(SERIES)]
        if "/" in fill:
            marks.append(Disc(x, y, 1.3, "body"))
        marks.append(Disc(x, y, 1.3, fill, THIN))
    marks.append(line([(left, bottom), (WIDTH_MM, bottom)], THIN))
    marks.append(line([(left, top), (left, bottom)], THIN))
    for tick in x_of.ticks():
        text = _tick(plan, cut.flat, tick)
        marks.append(Text(x_of.at(tick), bottom + 1.5 + FIGURE_MM, text, colour="graphite", anchor="middle"))
    if upright is not None:
        for tick in y_of.ticks():
            y = y_of.at(tick) + FIGURE_MM * 0.36
            marks.append(Text(left - 1.5, y, _tick(plan, cut.upright, tick), colour="graphite", anchor="end"))
        marks.append(Text(0.0, top - 1.0, shortened(upright.column, WIDTH_MM, SMALL), colour="graphite"))
    base = bottom + 1.5 + FIGURE_MM + line_mm(SMALL)
    marks.append(Text(left, base, shortened(flat.column, WIDTH_MM - left, SMALL), colour="graphite"))
    counts = {chosen.packages[code]: int((chosen.codes[:, part] == code).sum()) for code in names}
    return Picture(tuple(marks)), ", ".join(f"{name} in {count} cases" for name, count in counts.items())


def _place(plan: Plan, values: Sequence[Value], axis: int) -> float:
    """Where a value lies: its size, or its place among those listed."""
    number = values[axis].number
    return (
        float(number)
        if plan.axes[axis].numeric and number is not None
        else float(plan.axes[axis].values.index(values[axis]))
    )


def _scale(places: Sequence[float], start: float, end: float, plan: Plan, axis: int) -> Axis:
    span = plan.axes[axis].span
    return fitted(list(places), start, end, log=span is not None and span.log, zero=False)


def _tick(plan: Plan, axis: int, tick: float) -> str:
    values = plan.axes[axis].values
    if plan.axes[axis].numeric:
        return f"{tick:g}"
    return values[int(tick)].says if tick == int(tick) and 0 <= tick < len(values) else ""
