"""Lands of ball grids: the published table, or the maker's land, held to the gap between balls."""

from __future__ import annotations

import math

from landwise.errors import InputError
from landwise.evidence.figures import Step
from landwise.lands.balls import ball_land, rigid_ball_land
from landwise.lands.model import Bind, Land, Level
from landwise.lands.rules import LandRules, round_down
from landwise.outlines import Outline, terminals
from landwise.shapes import Placed, circle


def grid_lands(
    outline: Outline, used: str, level: Level, rules: LandRules, binds: list[Bind], trail: list[Step]
) -> list[Land]:
    """A round land under every ball.

    Raises
    ------
    InputError
        If the pitch leaves no gap for the smallest land of the ball's row.
    """
    diameter = _published(outline, trail) if used == "published" else _calculated(outline, level, rules, binds, trail)
    lands = []
    for terminal in terminals(outline):
        place = Placed(circle(diameter), terminal.x_mm, terminal.y_mm)
        lands.append(Land(terminal.number, place, place, place))
    return lands


def _published(outline: Outline, trail: list[Step]) -> float:
    land = outline.published_land
    if land is None:
        raise InputError("no published land is known for this outline", place=outline.name)
    trail.append(
        Step(
            says="land as the maker prints it",
            inputs={},
            value=land.width_mm,
            unit="mm",
            formula=None,
            valid=land.note,
            sources=(land.source,),
        )
    )
    return land.width_mm


def _calculated(outline: Outline, level: Level, rules: LandRules, binds: list[Bind], trail: list[Step]) -> float:
    ball = outline.terminal_width_mm.nom
    row = ball_land(ball) if rules.collapsing_balls else rigid_ball_land(ball, level)
    says = "balls that collapse" if rules.collapsing_balls else "balls that keep their shape"
    trail.append(
        Step(
            says=f"land for a ball of {ball:g} mm: {row.land_mm:g} ({row.low_mm:g} to {row.high_mm:g}) mm",
            inputs={"ball": f"{ball:g} mm", "table row": f"{row.ball_mm:g} mm"},
            value=row.land_mm,
            unit="mm",
            formula="ball-land",
            valid=says,
            sources=(row.source,),
        )
    )
    pitch = min(outline.pitch_mm, outline.pitch_across_mm or math.inf)
    widest = round_down(pitch - rules.least_copper_gap_mm, rules)
    if row.land_mm <= widest:
        return row.land_mm
    if widest < row.low_mm:
        raise InputError(
            "no land of this ball fits the pitch",
            place=outline.name,
            found=f"pitch {pitch:g} mm, smallest land {row.low_mm:g} mm",
            expected=f"a copper gap of {rules.least_copper_gap_mm:g} mm",
        )
    binds.append(
        Bind(
            "copper gap",
            f"land cut from {row.land_mm:.3f} to {widest:.3f} mm: copper gap {pitch - widest:.3f} mm",
        )
    )
    return widest
