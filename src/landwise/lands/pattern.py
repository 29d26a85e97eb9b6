"""Assembling a land pattern: lands by style, minimum gaps held, mask openings, courtyard."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from landwise.errors import InputError
from landwise.evidence.figures import Step
from landwise.lands.balls import ball_land
from landwise.lands.goals import (
    courtyard_form,
    form_of,
    goals,
    inner_gap,
    inner_gap_limits,
    land_width,
    outer_span,
)
from landwise.lands.holes import SOURCE as HOLE_SOURCE
from landwise.lands.holes import hole_size, lead_diagonal
from landwise.lands.model import LEVELS, STYLES, Bind, Land, LandPattern, Level, Style
from landwise.lands.rules import LandRules, round_down, round_near, round_up
from landwise.outlines import GRIDS, LEADLESS, Outline, terminals
from landwise.outlines.model import Terminal
from landwise.outlines.patterns import occupancy, tip_to_tip
from landwise.shapes import Placed, Shape, bounding_box, circle, least_gap_mm, polygon, rectangle

# Beyond this a corner conflict is not a matter of trimming heels.
LARGEST_TRIM_STEPS = 60
TRIM_STEP_MM = 0.01


@dataclass(frozen=True)
class _Size:
    """Land size of one side: outward length, width along the row, distance of the centre from the middle."""

    length_mm: float
    width_mm: float
    centre_mm: float


def land_pattern(
    outline: Outline, *, style: Style = "auto", level: Level = "nominal", rules: LandRules | None = None
) -> LandPattern:
    """The lands, mask openings, holes and courtyard for an outline.

    Parameters
    ----------
    outline : Outline
    style : {"auto", "goals", "pad-for-pad", "published"}
        `auto` takes the maker's printed land where the outline carries one, pad-for-pad for leadless bodies
        of the 1 mm class, and the goals otherwise.
    level : {"most", "nominal", "least"}
        Density level of the goals and of the courtyard.
    rules : LandRules, optional
        Tolerances and minima; the defaults carry reasons.

    Raises
    ------
    InputError
        For an unknown style or level, a style the outline can't have, or gaps that can't be held.

    Examples
    --------
    >>> from landwise.outlines import find
    >>> pattern = land_pattern(find("TSSOP-14"))
    >>> pattern.style, len(pattern.lands), round(pattern.least_copper_gap_mm, 2)
    ('goals', 14, 0.22)
    """
    rules = rules or LandRules()
    if style not in STYLES:
        raise InputError("unknown land style", found=str(style), expected=" | ".join(STYLES))
    if level not in LEVELS:
        raise InputError("unknown density level", found=str(level), expected=" | ".join(LEVELS))
    used = _style_in_effect(outline, style, rules)
    binds: list[Bind] = []
    trail: list[Step] = []
    if outline.drilled:
        lands = _drilled(outline, rules, trail)
    elif outline.family in GRIDS:
        lands = _grid(outline, used, rules, binds, trail)
    else:
        lands = _rows(outline, used, level, rules, binds, trail)
    lands = _with_mask(outline, used, lands, rules, binds)
    copper_gap = least_gap_mm([land.copper for land in lands])
    web = least_gap_mm([land.opening for land in lands])
    courtyard = _courtyard(outline, lands, level, rules, trail)
    return LandPattern(
        outline=outline.name,
        style=used,
        level=level,
        lands=tuple(lands),
        courtyard_mm=courtyard,
        least_copper_gap_mm=round(copper_gap, 6),
        least_web_mm=round(web, 6),
        binds=tuple(binds),
        trail=tuple(trail),
    )


def _style_in_effect(outline: Outline, style: Style, rules: LandRules) -> str:
    if style == "published" and outline.published_land is None:
        raise InputError(
            "no published land is known for this outline",
            place=outline.name,
            expected="another style, or add published_land",
        )
    if style == "pad-for-pad" and outline.family not in LEADLESS:
        raise InputError(
            "pad-for-pad lands are for leadless outlines",
            place=outline.name,
            found=outline.family,
            expected="style goals",
        )
    if style != "auto":
        return style
    if outline.published_land is not None:
        return "published"
    longest = max(outline.body_length_mm.nom, outline.body_width_mm.nom)
    return "pad-for-pad" if outline.family in LEADLESS and longest <= rules.pad_for_pad_longest_mm else "goals"


# --- drilled ---


def _drilled(outline: Outline, rules: LandRules, trail: list[Step]) -> list[Land]:
    thickness = outline.terminal_thickness_mm
    if thickness is None:
        raise InputError("a drilled outline needs terminal_thickness_mm", place=outline.name)
    diagonal = lead_diagonal(outline.terminal_width_mm.max, thickness.max)
    size = hole_size(diagonal, rules.hole_level)
    trail.append(
        Step(
            f"hole for the largest lead {diagonal:.3f} mm, land around it",
            {"lead": f"{diagonal:.3f} mm", "level": rules.hole_level},
            size.land_mm,
            "mm",
            "hole-size",
            "rectangular leads",
            (HOLE_SOURCE,),
        )
    )
    lands = []
    for terminal in terminals(outline):
        # Terminal 1 gets a square land, so that it can be told on the bare board.
        shape = rectangle(size.land_mm, size.land_mm) if terminal.number == "1" else circle(size.land_mm)
        place = Placed(shape, terminal.x_mm, terminal.y_mm, terminal.outward_deg)
        lands.append(Land(terminal.number, place, place, place, hole_mm=size.hole_mm))
    return lands


# --- grids ---


def _grid(outline: Outline, used: str, rules: LandRules, binds: list[Bind], trail: list[Step]) -> list[Land]:
    if used == "published" and outline.published_land is not None:
        diameter, source = outline.published_land.width_mm, outline.published_land.source
        trail.append(Step("land as the maker prints it", {}, diameter, "mm", None, "", (source,)))
    else:
        row = ball_land(outline.terminal_width_mm.nom)
        diameter = row.land_mm
        trail.append(
            Step(
                f"land for a ball of {outline.terminal_width_mm.nom:g} mm",
                {"ball": f"{outline.terminal_width_mm.nom:g} mm"},
                diameter,
                "mm",
                "ball-land",
                "balls that collapse",
                (row.source,),
            )
        )
    pitch = min(outline.pitch_mm, outline.pitch_across_mm or math.inf)
    if pitch - diameter < rules.least_copper_gap_mm:
        binds.append(
            Bind(
                "copper gap",
                f"lands of {diameter:.3f} mm leave {pitch - diameter:.3f} mm at {pitch:g} mm pitch",
            )
        )
    lands = []
    for terminal in terminals(outline):
        place = Placed(circle(diameter), terminal.x_mm, terminal.y_mm)
        lands.append(Land(terminal.number, place, place, place))
    return lands


# --- rows ---


def _rows(
    outline: Outline, used: str, level: Level, rules: LandRules, binds: list[Bind], trail: list[Step]
) -> list[Land]:
    sides = occupancy(outline)
    if used == "published":
        sizes = {side: _published_size(outline, side) for side in sides}
        published = outline.published_land
        source = published.source if published else ""
        trail.append(Step("lands as the maker prints them", {}, None, "", None, "", (source,)))
    elif used == "pad-for-pad":
        sizes = {side: _pad_size(outline, side, rules) for side in sides}
        trail.append(
            Step(
                f"land = terminal, {rules.pad_for_pad_toe_mm:g} mm longer at the toe",
                {},
                None,
                "",
                None,
                "leadless bodies",
                ("ti-house-leadless",),
            )
        )
    else:
        sizes = {side: _goal_size(outline, side, level, rules, binds, trail) for side in sides}
    limited = {side: _width_for_gap(outline, size, used, rules, binds) for side, size in sizes.items()}
    lands = _place(outline, used, limited)
    if used != "published":
        lands = _trim_corners(outline, lands, rules, binds)
        lands = _shrink_exposed(outline, lands, rules, binds)
    return lands


def _published_size(outline: Outline, side: str) -> _Size:
    land = outline.published_land
    if land is None:
        raise InputError("no published land", place=outline.name)
    rows = land.rows_mm if side in ("left", "right") else land.columns_mm
    if rows is None:
        raise InputError(
            "the published land does not say how far its rows are apart",
            place=outline.name,
            expected="rows_mm" if side in ("left", "right") else "columns_mm",
        )
    return _Size(land.length_mm, land.width_mm, rows / 2)


def _pad_size(outline: Outline, side: str, rules: LandRules) -> _Size:
    if outline.foot_mm is None:
        raise InputError("a leadless outline needs foot_mm", place=outline.name)
    length = outline.foot_mm.nom + rules.pad_for_pad_toe_mm
    outer = tip_to_tip(outline, side).nom / 2 + rules.pad_for_pad_toe_mm
    return _Size(length, outline.terminal_width_mm.nom, outer - length / 2)


def _goal_size(
    outline: Outline, side: str, level: Level, rules: LandRules, binds: list[Bind], trail: list[Step]
) -> _Size:
    if outline.foot_mm is None:
        raise InputError(f"a {outline.family} outline needs foot_mm", place=outline.name)
    goal = goals(form_of(outline), level)
    span, foot, width = tip_to_tip(outline, side), outline.foot_mm, outline.terminal_width_mm
    tolerance = (rules.fabrication_mm, rules.placement_mm)
    low, high = inner_gap_limits(span.min, span.max, foot.min, foot.max, rms=rules.rms)
    outer = round_up(float(outer_span(span.min, span.max, goal.toe_mm, *tolerance)), rules)
    inner = round_down(float(inner_gap(low, high, goal.heel_mm, *tolerance)), rules)
    land = round_near(float(land_width(width.min, width.max, goal.side_mm, *tolerance)), rules)
    body = outline.body_width_mm if side in ("left", "right") else outline.body_length_mm
    if rules.trim_heels and outline.family.startswith("gull-wing") and inner < body.min:
        if side in ("left", "top"):
            binds.append(
                Bind(
                    "heel under the body",
                    f"inner gap {side} raised from {inner:.2f} to the body's {body.min:.2f} mm",
                )
            )
        inner = body.min
    if inner <= 0:
        raise InputError(
            "opposite lands would meet", place=outline.name, found=f"inner gap {inner:g} mm", expected="> 0"
        )
    if side in ("left", "top"):
        facts = {"span": f"{span.text()} mm", "foot": f"{foot.text()} mm", "terminal": f"{width.text()} mm"}
        across = "left to right" if side == "left" else "top to bottom"
        trail.append(
            Step(
                f"lands {across}: outer {outer:.2f}, inner {inner:.2f}, width {land:.2f} mm at level {level}",
                facts,
                outer,
                "mm",
                "land-span",
                "toe, heel and side goals",
                ("ipc-sm-782a-method", goal.source),
            )
        )
    return _Size(round((outer - inner) / 2, 6), land, (outer + inner) / 4)


def _width_for_gap(outline: Outline, size: _Size, used: str, rules: LandRules, binds: list[Bind]) -> _Size:
    widest = round_down(outline.pitch_mm - rules.least_copper_gap_mm, rules)
    if used == "published" or size.width_mm <= widest:
        return size
    says = f"width cut from {size.width_mm:.3f} to {widest:.3f} mm: copper gap {rules.least_copper_gap_mm:g} mm"
    if widest <= 0:
        raise InputError(
            "no land fits the pitch",
            place=outline.name,
            found=f"pitch {outline.pitch_mm:g} mm",
            expected=says,
        )
    if not any(bind.says == says for bind in binds):
        binds.append(Bind("copper gap", says))
    return replace(size, width_mm=widest)


def _place(outline: Outline, used: str, sizes: dict[str, _Size]) -> list[Land]:
    lands = []
    for terminal in terminals(outline):
        if terminal.side == "centre":
            place = _centre(outline, used, terminal)
        else:
            size = sizes[terminal.side]
            across = terminal.side in ("left", "right")
            sign = 1 if terminal.side in ("right", "top") else -1
            x = sign * size.centre_mm if across else terminal.x_mm
            y = terminal.y_mm if across else sign * size.centre_mm
            shape = _land_shape(outline, used, size, terminal)
            place = Placed(shape, x, y, terminal.outward_deg)
        lands.append(Land(terminal.number, place, place, place))
    return lands


def _land_shape(outline: Outline, used: str, size: _Size, terminal: Terminal) -> Shape:
    land = outline.published_land
    if used != "published" or land is None or land.chamfer_mm == 0:
        return rectangle(size.length_mm, size.width_mm)
    # The corner that looks at the centre terminal is cut; in the land's own frame that is its inner end, on
    # the side nearer to the middle of the row.
    length, width, cut = size.length_mm / 2, size.width_mm / 2, land.chamfer_mm
    upper = (terminal.y_mm > 0) == (terminal.side == "left")
    corners = [(-length, -width), (length, -width), (length, width), (-length, width)]
    if upper:
        corners[3:] = [(-length + cut, width), (-length, width - cut)]
    else:
        corners[:1] = [(-length, -width + cut), (-length + cut, -width)]
    return polygon(corners)


def _centre(outline: Outline, used: str, terminal: Terminal) -> Placed:
    length, width = outline.exposed_length_mm, outline.exposed_width_mm
    if length is None or width is None:
        raise InputError("a centre terminal needs exposed_length_mm and exposed_width_mm", place=outline.name)
    land = outline.published_land
    if used == "published" and land and land.exposed_length_mm and land.exposed_width_mm:
        size = (land.exposed_length_mm, land.exposed_width_mm)
    elif outline.centre_terminal:
        size = (length.nom, width.nom)
    else:
        size = (length.max, width.max)
    shape = circle(min(size)) if outline.centre_terminal else rectangle(*size)
    return Placed(shape, 0.0, 0.0, terminal.outward_deg)


def _trim_corners(outline: Outline, lands: list[Land], rules: LandRules, binds: list[Bind]) -> list[Land]:
    """Shorten heels until lands of other rows, and a centre terminal's, keep the copper gap."""
    fixed = {"EP", outline.centre_terminal}
    least = rules.least_copper_gap_mm
    trimmed, steps = lands, 0
    while _row_gap(trimmed) < least - 1e-9:
        steps += 1
        if steps > LARGEST_TRIM_STEPS:
            raise InputError("the lands can't keep their gap", place=outline.name, expected=f"{least:g} mm")
        by_mm = steps * TRIM_STEP_MM
        trimmed = [land if land.terminal in fixed else _shorter_heel(land, by_mm) for land in lands]
    if steps:
        binds.append(Bind("heel gap", f"heels shortened by {steps * TRIM_STEP_MM:.2f} mm: lands keep {least:g} mm"))
    return trimmed


def _row_gap(lands: list[Land]) -> float:
    return least_gap_mm([land.place for land in lands if land.terminal != "EP"])


def _shorter_heel(land: Land, by_mm: float) -> Land:
    place = land.place
    angle = math.radians(place.angle_deg)
    shorter = replace(
        place,
        shape=rectangle(place.shape.length_mm - by_mm, place.shape.width_mm),
        x_mm=round(place.x_mm + by_mm / 2 * math.cos(angle), 9),
        y_mm=round(place.y_mm + by_mm / 2 * math.sin(angle), 9),
    )
    return Land(land.terminal, shorter, shorter, shorter)


def _shrink_exposed(outline: Outline, lands: list[Land], rules: LandRules, binds: list[Bind]) -> list[Land]:
    if not outline.has_exposed_pad:
        return lands
    around = [land.place for land in lands if land.terminal != "EP"]
    pad = next(land for land in lands if land.terminal == "EP")
    length, width = pad.place.shape.length_mm, pad.place.shape.width_mm
    for place in around:
        box = place.box
        if place.angle_deg in (0.0, 180.0):
            width = min(width, 2 * (min(abs(box[0]), abs(box[2])) - rules.exposed_gap_mm))
        else:
            length = min(length, 2 * (min(abs(box[1]), abs(box[3])) - rules.exposed_gap_mm))
    if min(length, width) <= 0:
        raise InputError(
            "no room for the exposed pad's land",
            place=outline.name,
            expected=f"gap {rules.exposed_gap_mm:g} mm",
        )
    before = (pad.place.shape.length_mm, pad.place.shape.width_mm)
    if (length, width) == before:
        return lands
    binds.append(
        Bind(
            "exposed pad gap",
            f"pad land cut from {before[0]:.2f} × {before[1]:.2f} to {length:.2f} × {width:.2f} mm: "
            f"{rules.exposed_gap_mm:g} mm to the terminals",
        )
    )
    place = pad.place.with_shape(rectangle(round(length, 6), round(width, 6)))
    return [land if land.terminal != "EP" else Land("EP", place, place, place) for land in lands]


# --- mask and courtyard ---


def _with_mask(outline: Outline, used: str, lands: list[Land], rules: LandRules, binds: list[Bind]) -> list[Land]:
    published = outline.published_land if used == "published" else None
    gap = least_gap_mm([land.place for land in lands])
    if published and published.mask_defined:
        overlap = max(0.0, min(rules.mask_overlap_mm, (gap - rules.least_copper_gap_mm / 1.5) / 2))
        if overlap < rules.mask_overlap_mm:
            binds.append(
                Bind(
                    "copper gap",
                    f"copper reaches {overlap:.3f} mm under the mask, not {rules.mask_overlap_mm:g} mm",
                )
            )
        grown = [
            land.place.with_shape(land.place.shape.grown(overlap)) if overlap > 0 else land.place for land in lands
        ]
        return [replace(land, copper=copper, mask_defined=True) for land, copper in zip(lands, grown, strict=True)]
    wanted = published.mask_margin_mm if published and published.mask_margin_mm is not None else rules.mask_margin_mm
    margin = wanted
    if gap - 2 * margin < rules.least_mask_web_mm:
        fitting = (gap - rules.least_mask_web_mm) / 2
        if fitting >= rules.least_mask_margin_mm - 1e-9:
            margin = round(fitting, 6)
            binds.append(
                Bind(
                    "mask web",
                    f"margin cut from {wanted:g} to {margin:.3f} mm: web {rules.least_mask_web_mm:g} mm",
                )
            )
        else:
            binds.append(
                Bind(
                    "mask web",
                    f"no web fits lands {gap:.3f} mm apart (margin {margin:g}, web {rules.least_mask_web_mm:g}): "
                    "openings closer than a web are merged into one",
                )
            )
    return [replace(land, opening=land.place.with_shape(land.place.shape.grown(margin))) for land in lands]


def _courtyard(
    outline: Outline, lands: list[Land], level: Level, rules: LandRules, trail: list[Step]
) -> tuple[float, float]:
    goal = goals(courtyard_form(outline), level)
    x0, y0, x1, y1 = bounding_box([land.copper for land in lands])
    wide = max(2 * max(-x0, x1), outline.body_width_mm.max) + 2 * goal.courtyard_mm
    high = max(2 * max(-y0, y1), outline.body_length_mm.max) + 2 * goal.courtyard_mm
    trail.append(
        Step(
            f"courtyard: lands and body with {goal.courtyard_mm:g} mm all round",
            {"level": level},
            goal.courtyard_mm,
            "mm",
            "courtyard",
            "",
            (goal.source,),
        )
    )
    return round_up(wide, rules), round_up(high, rules)
