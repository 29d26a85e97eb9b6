"""Marks written small: neighbours of one look become one path, and shapes that repeat are put into words once.

For pictures that a browser takes anew at every move of a slider: a part with 48 terminals is some 300 marks, most of
them a few shapes over and over. Written so it is a tenth of the elements and a fifth of the text, and looks the same:
only marks that do not touch each other are joined, so none covers or cuts out what another one drew.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby, pairwise

import numpy as np

from landwise.sheets.look import Stroke
from landwise.sheets.svg import Area, Disc, Mark, Writer

STEP_MM = 0.001  # on paper; a hundredth of a screen's pixel is 0.0026

Run = tuple[tuple[float, float, float], ...]
Step = tuple[int, int, int]  # along x, along y, radius
Look = tuple[str, Stroke | None, float, bool]


def compact(marks: Iterable[Mark], out: Writer) -> str:
    """The marks as SVG elements, in drawing order.

    Parameters
    ----------
    marks : iterable of Mark
    out : Writer
        Takes the patterns that are used.

    Examples
    --------
    >>> from landwise.sheets.look import LIGHT
    >>> from landwise.sheets.svg import rectangle
    >>> lands = [rectangle((x, 0.0, x + 1.0, 2.0), "ochre") for x in (0.0, 3.0)]
    >>> compact(lands, Writer(LIGHT, "lw"))
    '<path d="M0 0h1v2h-1zM3 0h1v2h-1z" class="f-ochre" fill="#c98a2b"/>'
    """
    found: list[str] = []
    for look, group in groupby(marks, _look):
        alike = list(group)
        if look is None:
            found += [mark.write(out) for mark in alike]
        else:
            drawn = [mark for mark in alike if isinstance(mark, (Area, Disc))]
            found += [_path(drawn[start:end], out) for start, end in pairwise(_breaks(drawn))]
    return "\n".join(found)


def _look(mark: Mark) -> Look | None:
    if isinstance(mark, Area):
        return mark.fill, mark.stroke, mark.opacity, mark.closed
    return (mark.fill, mark.stroke, mark.opacity, True) if isinstance(mark, Disc) else None


def _breaks(marks: Sequence[Area | Disc]) -> list[int]:
    """Where a new path must begin, first and end included: before a mark that touches one of its path."""
    if not marks[0].fill:
        return [0, len(marks)]  # lines cover nothing
    pen = marks[0].stroke
    half = pen.width_mm / 2 if pen else 0.0
    x1, y1, x2, y2 = (np.array([mark.box for mark in marks]) + half * np.array([-1, -1, 1, 1])).T
    touch = (x1[:, None] <= x2) & (x2[:, None] >= x1) & (y1[:, None] <= y2) & (y2[:, None] >= y1)
    found = [0]
    for at in range(1, len(marks)):
        if touch[at, found[-1] : at].any():
            found.append(at)
    return [*found, len(marks)]


def _path(marks: Sequence[Area | Disc], out: Writer) -> str:
    first = marks[0]
    words: dict[tuple[Step, ...], str] = {}
    parts = []
    for mark in marks:
        closed = not isinstance(mark, Area) or mark.closed
        for run in mark.runs if isinstance(mark, Area) else (_round(mark),):
            (x, y, _), steps = _steps(run)
            if steps not in words:
                words[steps] = _words(steps) + ("z" if closed else "")
            parts.append(f"M{_number(x)} {_number(y)}{words[steps]}")
    return f'<path d="{"".join(parts)}"{out.paint(first.fill, first.stroke, first.opacity)}/>'


def _round(disc: Disc) -> Run:
    """A circle as two half turns."""
    left, right, r = disc.x - disc.radius, disc.x + disc.radius, disc.radius
    return (left, disc.y, 0.0), (right, disc.y, r), (left, disc.y, r)


def _steps(run: Run) -> tuple[Step, tuple[Step, ...]]:
    """Where a run begins, and its steps from point to point with their radii; in steps of paper, so nothing adds up."""
    whole = [(round(x / STEP_MM), round(y / STEP_MM), round(r / STEP_MM)) for x, y, r in run]
    steps = tuple((x - a, y - b, r) for (a, b, _), (x, y, r) in pairwise(whole))
    return whole[0], steps


def _words(steps: tuple[Step, ...]) -> str:
    found = []
    for dx, dy, radius in steps:
        if radius:
            size = _number(abs(radius))
            found.append(f"a{size} {size} 0 0 {1 if radius > 0 else 0} {_number(dx)} {_number(dy)}")
        elif not dy:
            found.append(f"h{_number(dx)}")
        elif not dx:
            found.append(f"v{_number(dy)}")
        else:
            found.append(f"l{_number(dx)} {_number(dy)}")
    return "".join(found)


def _number(steps: int) -> str:
    return f"{steps / 1000:.3f}".rstrip("0").rstrip(".") if steps % 1000 else str(steps // 1000)
