"""How far each number of a design may move: mask, powder, toe, and what makers print."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from landwise.designing.frame import Frame
from landwise.designing.stacked import Line
from landwise.designing.variables import CENTRE, CORNER, HEEL, ROUND, ROUNDED_SQUARE, TOE, WIDTH, most_coverage
from landwise.outlines import LEADED
from landwise.printing.paste import least_opening_um

Array = NDArray[np.float64]
NARROWEST = 0.65  # of a land's width: beyond it an opening is no reduction any more
SHORTEST = 0.75  # of a land's length, at either end
ROUNDEST = -0.6  # corner radius over half the shorter side, negative as a corner
LEAST_COVERAGE = 0.30
SMALLEST_ROUND = 0.75  # of a round land


def bounds_of(frame: Frame, line: Line, base: Array) -> tuple[Array, Array]:
    """Least and largest value of every variable of a part. [mm, -]

    Notes
    -----
    Sideways and at the heel an opening stays inside the mask's; at the toe, and over a land that the mask defines, it
    may pass it by the line's print offset, which prints paste on the mask anyhow. An opening is never narrower than
    the powder's five balls, unless the print it is held against is.
    """
    low, high = base.copy(), base.copy()
    least = least_opening_um(line.powder) / 1000
    over = 3 * line.scatter.print_mm
    for stand in frame.stands.values():
        shape, mask = stand.land.place.shape, stand.land.opening.shape
        side = max(0.0, min((mask.width_mm - shape.width_mm) / 2, (mask.length_mm - shape.length_mm) / 2))
        if stand.kind == "pad":
            low[CENTRE] = min(LEAST_COVERAGE, base[CENTRE])
            high[CENTRE] = max(most_coverage(stand.land.place, frame.rules), base[CENTRE])
        elif shape.kind == "circle":
            column = CENTRE if stand.kind == "middle" else WIDTH
            smallest = max(least - shape.length_mm, (SMALLEST_ROUND - 1) * shape.length_mm)
            low[column] = min(base[column], max(smallest, -shape.length_mm / 2), 0.0)
            high[column] = max(base[column], 2 * side + (2 * over if stand.land.mask_defined or not side else 0.0))
            low[ROUND], high[ROUND] = ROUNDED_SQUARE, 1.0
        else:
            narrow = max(least - shape.width_mm, (NARROWEST - 1) * shape.width_mm)
            beside = 2 * side if side > 0 else 2 * over
            _widen(low, high, WIDTH, base, (min(narrow, 0.0), beside))
            _widen(low, high, TOE, base, ((SHORTEST - 1) * shape.length_mm, max(side + over, frame.rules.toe_out_mm)))
            _widen(low, high, HEEL, base, (-side, (1 - SHORTEST) * shape.length_mm))
            low[CORNER] = ROUNDEST
            high[CORNER] = 0.0 if frame.outline.family in LEADED else 1.0
    return low, high


def _widen(low: Array, high: Array, column: int, base: Array, ends: tuple[float, float]) -> None:
    """Take the narrower range where lands differ, but keep what is there today inside."""
    fresh = low[column] == high[column]
    down, up = (ends[0], ends[1]) if fresh else (max(low[column], ends[0]), min(high[column], ends[1]))
    low[column], high[column] = min(down, float(base[column])), max(up, float(base[column]))
