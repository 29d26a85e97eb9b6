"""Formula-book entries of the lands room."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from landwise.errors import InputError, ValidityError
from landwise.evidence.book import Formula, Input, Output, gathered
from landwise.lands.balls import ball_land, rigid_ball_land
from landwise.lands.courtyard import courtyard_size
from landwise.lands.goals import goals, inner_gap, inner_gap_limits, land_width, outer_span
from landwise.lands.holes import SOURCE, hole_size, lead_diagonal
from landwise.lands.model import LEVELS, Level


def _level(letter: str) -> Level:
    letters: dict[str, Level] = {"a": "most", "b": "nominal", "c": "least"}
    names: dict[str, Level] = {level: level for level in LEVELS}
    return {**letters, **names}[letter]


_LEVELS = ("most", "nominal", "least", "a", "b", "c")
_FORMS = (
    "gull-wing",
    "gull-wing fine",
    "flat lead",
    "J-lead",
    "leadless",
    "leadless pulled back",
    "chip",
    "small chip",
)
_COURTYARD_FORMS = (*_FORMS, "ball grid", "wafer-level", "drilled")


@dataclass(frozen=True)
class _LandSpan:
    form: str
    level: str
    span_min: float
    span_max: float
    foot_min: float
    foot_max: float
    width_min: float
    width_max: float
    fabrication: float
    placement: float


def _land_span(at: _LandSpan) -> Mapping[str, float]:
    for low, high, name in (
        (at.span_min, at.span_max, "span"),
        (at.foot_min, at.foot_max, "foot"),
        (at.width_min, at.width_max, "width"),
    ):
        if not 0 < low <= high:
            raise InputError("limits out of order", place=name, found=f"{low:g}, {high:g} mm", expected="0 < min ≤ max")
    if min(at.fabrication, at.placement) < 0:
        raise InputError(
            "a tolerance can't be negative",
            place="fabrication, placement",
            found=f"{at.fabrication:g}, {at.placement:g} mm",
            expected="0 mm or more",
        )
    goal = goals(at.form, _level(at.level))
    gap_low, gap_high = inner_gap_limits(at.span_min, at.span_max, at.foot_min, at.foot_max)
    outer = float(outer_span(at.span_min, at.span_max, goal.toe_mm, at.fabrication, at.placement))
    inner = float(inner_gap(gap_low, gap_high, goal.heel_mm, at.fabrication, at.placement))
    width = float(land_width(at.width_min, at.width_max, goal.side_mm, at.fabrication, at.placement))
    if not (0 < inner < outer and width > 0):
        raise ValidityError(
            "the goals leave no gap between opposite lands",
            place="land-span",
            found=f"outer {outer:.3f}, inner {inner:.3f}, width {width:.3f} mm",
            expected="0 < inner < outer: a longer span or shorter feet",
        )
    return {
        "outer": outer,
        "inner": inner,
        "width": width,
        "length": (outer - inner) / 2,
    }


def _ball_land(ball: float, kind: str, level: str) -> Mapping[str, float]:
    row = ball_land(ball) if kind == "collapsing" else rigid_ball_land(ball, _level(level))
    return {"land": row.land_mm, "low": row.low_mm, "high": row.high_mm}


def _courtyard(
    form: str, level: str, lands_width: float, lands_height: float, body_width: float, body_height: float
) -> Mapping[str, float]:
    excess = goals(form, _level(level)).courtyard_mm
    width = courtyard_size(lands_width, body_width, excess)
    height = courtyard_size(lands_height, body_height, excess)
    return {"width": width, "height": height, "area": width * height, "excess": excess}


def _hole_size(
    lead_diameter: float | None, lead_width: float | None, lead_thickness: float | None, level: str
) -> Mapping[str, float]:
    if lead_diameter is None:
        if lead_width is None or lead_thickness is None:
            raise InputError(
                "the lead's size is missing",
                place="hole-size",
                expected="lead_diameter, or lead_width and lead_thickness",
            )
        lead_diameter = lead_diagonal(lead_width, lead_thickness)
    elif lead_width is not None or lead_thickness is not None:
        raise InputError(
            "the lead's size is given twice", place="hole-size", expected="a diameter, or width and thickness"
        )
    size = hole_size(lead_diameter, _level(level))
    return {"hole": size.hole_mm, "land": size.land_mm, "least_hole": size.least_hole_mm}


BOOK: tuple[Formula, ...] = (
    Formula(
        "land-span",
        "Lands of opposite terminals by toe, heel and side goals",
        (
            Input(
                "form",
                "choice",
                "terminal form",
                "gull-wing",
                _FORMS,
            ),
            Input("level", "choice", "density level", "nominal", _LEVELS),
            Input("span_min", "length", "least tip-to-tip span"),
            Input("span_max", "length", "largest tip-to-tip span"),
            Input("foot_min", "length", "least foot length"),
            Input("foot_max", "length", "largest foot length"),
            Input("width_min", "length", "least terminal width"),
            Input("width_max", "length", "largest terminal width"),
            Input("fabrication", "length", "land tolerance between boards", "0.10 mm"),
            Input("placement", "length", "placement tolerance", "0.10 mm"),
        ),
        (
            Output("outer", "mm", "outer distance over the lands, Z"),
            Output("inner", "mm", "inner distance between the lands, G"),
            Output("width", "mm", "land width, X"),
            Output("length", "mm", "land length, Y"),
        ),
        gathered(_LandSpan, _land_span),
        "opposite terminals of one form; before rounding, heel trimming and minimum gaps",
        ("ipc-sm-782a-method", "ipc-7351b-goals"),
        "Z = Lmin + 2 JT + √(CL² + F² + P²); G = Smax − 2 JH − √(CS² + F² + P²); X = Wmin + 2 JS + √(CW² + F² + P²)",
    ),
    Formula(
        "ball-land",
        "Land for a solder ball",
        (
            Input("ball", "length", "nominal ball diameter"),
            Input("kind", "choice", "whether the ball melts", "collapsing", ("collapsing", "rigid")),
            Input("level", "choice", "density level, for rigid balls", "nominal", _LEVELS),
        ),
        (
            Output("land", "mm", "nominal land diameter"),
            Output("low", "mm", "smallest land"),
            Output("high", "mm", "largest land"),
        ),
        _ball_land,
        "collapsing balls of 0.15 to 0.75 mm, by the nearest row; rigid balls of any size",
        ("ipc-7095-smtnet", "ball-lands-moko", "ball-lands-memory", "ball-lands-rigid"),
        "collapsing: table; rigid: land = ball × 1.15 / 1.10 / 1.05",
    ),
    Formula(
        "courtyard",
        "Board area that a part claims",
        (
            Input("form", "choice", "terminal form", "gull-wing", _COURTYARD_FORMS),
            Input("level", "choice", "density level", "nominal", _LEVELS),
            Input("lands_width", "length", "outer width over the lands"),
            Input("lands_height", "length", "outer height over the lands"),
            Input("body_width", "length", "largest body width"),
            Input("body_height", "length", "largest body height"),
        ),
        (
            Output("width", "mm", "courtyard width"),
            Output("height", "mm", "courtyard height"),
            Output("area", "mm2", "courtyard area"),
            Output("excess", "mm", "margin on every side"),
        ),
        _courtyard,
        "parts centred on their lands; before rounding",
        ("ipc-7351b-goals", "ipc-7251-goals"),
        "side = max(lands, body) + 2 × excess",
    ),
    Formula(
        "hole-size",
        "Hole and land of a drilled lead",
        (
            Input("lead_diameter", "length", "largest lead diameter", optional=True),
            Input("lead_width", "length", "largest width of a rectangular lead", optional=True),
            Input("lead_thickness", "length", "largest thickness of a rectangular lead", optional=True),
            Input("level", "choice", "producibility level", "nominal", _LEVELS),
        ),
        (
            Output("hole", "mm", "finished hole, next 0.05 drill"),
            Output("land", "mm", "land diameter"),
            Output("least_hole", "mm", "hole before rounding up"),
        ),
        _hole_size,
        "plated holes on outer layers; rectangular leads enter by their diagonal",
        (SOURCE,),
        "hole = lead + 0.25 / 0.20 / 0.15; land = hole + 0.10 + 0.60 / 0.50 / 0.40",
    ),
)
