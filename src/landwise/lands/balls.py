"""Ball to land: the published table for collapsing solder balls."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources

from landwise.errors import ValidityError


@dataclass(frozen=True)
class BallLand:
    """One row: nominal ball, nominal land and its range. [mm]"""

    ball_mm: float
    land_mm: float
    low_mm: float
    high_mm: float
    source: str


@cache
def ball_table() -> tuple[BallLand, ...]:
    """All rows, largest ball first."""
    text = resources.files("landwise.lands").joinpath("balls.toml").read_text(encoding="utf-8")
    return tuple(BallLand(**row) for row in tomllib.loads(text)["row"])


def ball_land(ball_mm: float) -> BallLand:
    """The land for a ball: the row of the nearest nominal ball.

    Raises
    ------
    ValidityError
        Outside the table's balls by more than half a step.

    Notes
    -----
    The table names nominal balls 0.05 apart; a ball between two rows takes the smaller ball's land, which
    can't be undercut by a small ball.

    Examples
    --------
    >>> ball_land(0.30).land_mm, ball_land(0.23).land_mm
    (0.25, 0.17)
    """
    rows = ball_table()
    if not rows[-1].ball_mm - 0.025 <= ball_mm <= rows[0].ball_mm + 0.05:
        raise ValidityError(
            "no published land for this ball",
            found=f"{ball_mm:g} mm",
            expected=f"{rows[-1].ball_mm:g} to {rows[0].ball_mm:g} mm",
        )
    below = [row for row in rows if row.ball_mm <= ball_mm + 1e-9]
    return below[0] if below else rows[-1]
