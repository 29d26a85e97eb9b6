"""From computed joints to what a side view draws."""

from __future__ import annotations

import numpy as np

from landwise.joints.standing import BallStand
from landwise.outlines import Outline, terminals
from landwise.sheets.profile import SolderProfile


def grid_solder(outline: Outline, stand: BallStand | None) -> SolderProfile | None:
    """The computed contour at each column of a grid's front row; None without a computed stand."""
    if stand is None:
        return None
    radius, height = stand.contour_mm[::4].T if len(stand.contour_mm) > 8 else stand.contour_mm.T
    right = np.column_stack([radius, height])
    left = np.column_stack([-radius, height])[::-1]
    shape = np.vstack([right, left])
    columns = sorted({round(terminal.x_mm, 6) for terminal in terminals(outline)})
    contours = tuple(tuple((float(x) + at, float(z)) for x, z in shape) for at in columns)
    return SolderProfile(contours, stand.height_mm - outline.standoff_mm.nom)
