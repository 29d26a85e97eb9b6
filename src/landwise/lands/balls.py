"""Ball to land: the published table for balls that collapse, and the share for balls that keep their shape."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType

from landwise.errors import InputError, ValidityError
from landwise.lands.model import Level

# How far a ball may lie from a row's nominal ball: half of the table's finest step, and as much beyond its ends.
REACH_MM = 0.025
TIE_MM = 1e-9
# A ball that does not melt stands on a fillet, so its land is larger than the ball, by this share of it.
GROWTH: Mapping[str, float] = MappingProxyType({"most": 0.15, "nominal": 0.10, "least": 0.05})
GROWTH_SOURCE = "ball-lands-rigid"


@dataclass(frozen=True)
class BallLand:
    """Nominal ball, nominal land and the land's range. [mm]"""

    ball_mm: float
    land_mm: float
    low_mm: float
    high_mm: float
    source: str


@cache
def ball_table() -> tuple[BallLand, ...]:
    """All rows of `balls.toml`, largest ball first."""
    text = resources.files("landwise.lands").joinpath("balls.toml").read_text(encoding="utf-8")
    return tuple(BallLand(**row) for row in tomllib.loads(text)["row"])


def ball_land(ball_mm: float) -> BallLand:
    """The land for a ball that melts: the table's row of the nearest nominal ball.

    Parameters
    ----------
    ball_mm : float
        Nominal ball diameter. [mm]

    Raises
    ------
    ValidityError
        More than half the table's step beyond its largest or smallest ball.

    Notes
    -----
    A ball in the middle between two rows takes the smaller ball's land: a land that is too large thins the
    joint, one that is too small only loses some strength.

    Examples
    --------
    >>> ball_land(0.30).land_mm, ball_land(0.23).land_mm
    (0.25, 0.2)
    """
    rows = ball_table()
    if not rows[-1].ball_mm - REACH_MM - TIE_MM <= ball_mm <= rows[0].ball_mm + REACH_MM + TIE_MM:
        raise ValidityError(
            "no published land for this ball",
            found=f"{ball_mm:g} mm",
            expected=f"{rows[-1].ball_mm - REACH_MM:g} to {rows[0].ball_mm + REACH_MM:g} mm",
        )
    nearest = min(abs(row.ball_mm - ball_mm) for row in rows)
    return next(row for row in reversed(rows) if abs(row.ball_mm - ball_mm) <= nearest + TIE_MM)


def rigid_ball_land(ball_mm: float, level: Level = "nominal") -> BallLand:
    """The land for a ball that keeps its shape: the ball and 15, 10 or 5 % of it.

    Parameters
    ----------
    ball_mm : float
        Nominal ball diameter. [mm]
    level : {"most", "nominal", "least"}

    Raises
    ------
    InputError
        For a ball that isn't positive, or an unknown level.

    Examples
    --------
    >>> land = rigid_ball_land(0.60)
    >>> print(f"{land.land_mm:.2f} ({land.low_mm:.2f} to {land.high_mm:.2f})")
    0.66 (0.63 to 0.69)
    """
    if not 0 < ball_mm < float("inf"):
        raise InputError("a ball needs a positive diameter", found=f"{ball_mm:g} mm", expected="> 0")
    if level not in GROWTH:
        raise InputError("unknown density level", found=str(level), expected=" | ".join(GROWTH))
    low, land, high = (round(ball_mm * (1 + share), 6) for share in (GROWTH["least"], GROWTH[level], GROWTH["most"]))
    return BallLand(ball_mm, land, low, high, GROWTH_SOURCE)
