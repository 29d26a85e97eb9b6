"""Lands of leaded and leadless rows: placed by side, kept apart at corners and around a pad in the middle."""

from __future__ import annotations

import math
from dataclasses import replace

from landwise.errors import InputError
from landwise.evidence.figures import Step
from landwise.lands.model import Bind, Land, Level
from landwise.lands.rules import LandRules
from landwise.lands.sizes import (
    AXES,
    LandSize,
    clear_of_pad,
    foot_end_mm,
    goal_size,
    narrowed,
    pad_for_pad_size,
    published_size,
)
from landwise.outlines import Outline, Terminal, terminals
from landwise.outlines.patterns import occupancy
from landwise.shapes import Placed, Shape, circle, geometries, least_gap_mm, polygon, rectangle

STEP_MM = 0.01  # heels and corners are cut in the fine rounding step
LARGEST_CORNER = 0.75  # of a land's width; a larger cut would leave a point
CLOSE_MM = 1e-9


def row_lands(
    outline: Outline, used: str, level: Level, rules: LandRules, binds: list[Bind], trail: list[Step]
) -> list[Land]:
    """Lands of every terminal of rows, the exposed pad last.

    Raises
    ------
    InputError
        If a dimension is missing, or the lands can't keep their gaps.
    """
    axes = list(dict.fromkeys(AXES[side] for side in occupancy(outline)))
    if used == "published":
        sizes = {axis: published_size(outline, axis) for axis in axes}
        trail.append(_published_step(outline))
        corner = outline.published_land.chamfer_mm if outline.published_land else 0.0
        return _placed(outline, used, sizes, corner)
    if used == "pad-for-pad":
        sizes = {axis: pad_for_pad_size(outline, axis, rules) for axis in axes}
        trail.append(_pad_step(outline, rules))
    else:
        sizes = {axis: goal_size(outline, axis, level, rules, binds, trail) for axis in axes}
    sizes = {axis: narrowed(outline, size, rules, binds) for axis, size in sizes.items()}
    sizes = clear_of_pad(outline, sizes, rules, binds)
    sizes = _apart_at_corners(outline, used, sizes, rules, binds)
    corner = _corner_for_centre(outline, used, sizes, rules, binds)
    return _pad_within(outline, _placed(outline, used, sizes, corner), rules, binds)


def _published_step(outline: Outline) -> Step:
    land = outline.published_land
    if land is None:
        raise InputError("no published land is known for this outline", place=outline.name)
    inputs = {"length": f"{land.length_mm:g} mm", "width": f"{land.width_mm:g} mm"}
    return Step(
        says="lands as the maker prints them",
        inputs=inputs,
        value=land.width_mm,
        unit="mm",
        formula=None,
        valid=land.note,
        sources=(land.source,),
    )


def _pad_step(outline: Outline, rules: LandRules) -> Step:
    foot = outline.foot_mm.nom if outline.foot_mm else 0.0
    return Step(
        says=f"lands as large as the terminal, {rules.pad_for_pad_toe_mm:g} mm longer at the toe",
        inputs={"terminal": f"{foot:g} × {outline.terminal_width_mm.nom:g} mm"},
        value=rules.pad_for_pad_toe_mm,
        unit="mm",
        formula=None,
        valid="leadless bodies",
        sources=("ti-house-leadless",),
    )


# --- places ---


def _placed(outline: Outline, used: str, sizes: dict[str, LandSize], corner_mm: float) -> list[Land]:
    lands = []
    for terminal in terminals(outline):
        if terminal.side == "centre":
            place = _centre(outline, used, terminal)
        else:
            size = sizes[AXES[terminal.side]]
            sign = 1 if terminal.side in ("right", "top") else -1
            across = AXES[terminal.side] == "left"
            x = sign * size.centre_mm if across else terminal.x_mm
            y = terminal.y_mm if across else sign * size.centre_mm
            place = Placed(_land_shape(size, terminal, corner_mm), x, y, terminal.outward_deg)
        lands.append(Land(terminal.number, place, place, place))
    return lands


def _land_shape(size: LandSize, terminal: Terminal, corner_mm: float) -> Shape:
    """A rectangle; with a corner, the one that looks at the body's middle is cut."""
    if corner_mm == 0:
        return rectangle(size.length_mm, size.width_mm)
    length, width, cut = size.length_mm / 2, size.width_mm / 2, corner_mm
    # In the land's own frame, length outward, the inner end is at -length. Its upper side faces the middle of
    # the row where the terminal stands clockwise of its side's middle.
    angle = math.radians(terminal.outward_deg)
    along = -terminal.x_mm * math.sin(angle) + terminal.y_mm * math.cos(angle)
    corners = [(-length, -width), (length, -width), (length, width), (-length, width)]
    if along < 0:
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


# --- minimum gaps ---


def _apart_at_corners(
    outline: Outline, used: str, sizes: dict[str, LandSize], rules: LandRules, binds: list[Bind]
) -> dict[str, LandSize]:
    """Shorten heels until lands of different rows keep the copper gap, and a web of mask where feet allow.

    A web is worth a heel only as far as the land stays under the whole nominal foot; the copper gap goes
    before the foot.
    """
    spare = min(foot_end_mm(outline, axis) - size.inner_mm for axis, size in sizes.items())
    lengths = min(size.length_mm for size in sizes.values())
    most = max(0, math.floor(spare / STEP_MM + CLOSE_MM))

    def shortened(steps: int) -> tuple[dict[str, LandSize], float, float]:
        trimmed = {axis: size.with_inner(size.inner_mm + steps * STEP_MM) for axis, size in sizes.items()}
        places = _perimeter(_placed(outline, used, trimmed, 0.0), outline)
        return trimmed, _gap_between_rows(places, 0.0), _gap_between_rows(places, rules.mask_margin_mm)

    # Where even the shortest heel leaves no web, only the copper gap is worth shortening for.
    least_web = rules.least_mask_web_mm if shortened(most)[2] >= rules.least_mask_web_mm - CLOSE_MM else -math.inf
    steps = 0
    trimmed, copper, web = shortened(steps)
    while copper < rules.least_copper_gap_mm - CLOSE_MM or web < least_web - CLOSE_MM:
        steps += 1
        if steps * STEP_MM >= lengths:
            raise InputError(
                "lands of neighbouring rows can't keep their gap",
                place=outline.name,
                found=f"{copper:.3f} mm with heels {(steps - 1) * STEP_MM:.2f} mm shorter",
                expected=f"{rules.least_copper_gap_mm:g} mm",
            )
        trimmed, copper, web = shortened(steps)
    if steps:
        says = f"heels shortened by {steps * STEP_MM:.2f} mm: rows {copper:.3f} mm apart at the corners"
        binds.append(Bind("heel gap", f"{says}, mask web {max(web, 0.0):.3f} mm"))
    return trimmed


def _perimeter(lands: list[Land], outline: Outline) -> list[Placed]:
    return [land.place for land in lands if land.terminal not in ("EP", outline.centre_terminal)]


def _gap_between_rows(places: list[Placed], margin_mm: float) -> float:
    """Smallest distance between lands of different rows, each grown by the margin. [mm]"""
    import shapely

    rows: dict[float, list[Placed]] = {}
    for place in places:
        rows.setdefault(place.angle_deg, []).append(place.with_shape(place.shape.grown(margin_mm)))
    shapes = [shapely.multipolygons(geometries(row)) for row in rows.values()]
    gaps = [float(shapely.distance(one, other)) for k, one in enumerate(shapes) for other in shapes[k + 1 :]]
    return min(gaps, default=math.inf)


def _corner_for_centre(
    outline: Outline, used: str, sizes: dict[str, LandSize], rules: LandRules, binds: list[Bind]
) -> float:
    """How much the inner corners must be cut so that a terminal in the middle keeps the copper gap. [mm]"""
    if not outline.centre_terminal:
        return 0.0
    largest = LARGEST_CORNER * min(min(size.width_mm, size.length_mm) for size in sizes.values())
    steps, gap = 0, 0.0
    while steps * STEP_MM <= largest:
        corner = steps * STEP_MM
        gap = least_gap_mm([land.place for land in _placed(outline, used, sizes, corner)])
        if gap >= rules.least_copper_gap_mm - CLOSE_MM:
            if steps:
                says = f"inner corners cut by {corner:.2f} mm: {gap:.3f} mm to the land in the middle"
                binds.append(Bind("centre terminal gap", says))
            return corner
        steps += 1
    raise InputError(
        "no room for the land of the terminal in the middle",
        place=outline.name,
        found=f"gap {gap:.3f} mm with corners cut by {largest:.2f} mm",
        expected=f"{rules.least_copper_gap_mm:g} mm",
    )


def _pad_within(outline: Outline, lands: list[Land], rules: LandRules, binds: list[Bind]) -> list[Land]:
    """The exposed pad's land cut to the room that its gap leaves between the terminals' lands."""
    if not outline.has_exposed_pad:
        return lands
    pad = next(land.place for land in lands if land.terminal == "EP")
    length, width = pad.shape.length_mm, pad.shape.width_mm
    for land in lands:
        if land.terminal == "EP":
            continue
        box = land.place.box
        if land.place.angle_deg in (0.0, 180.0):
            width = min(width, 2 * (min(abs(box[0]), abs(box[2])) - rules.exposed_gap_mm))
        else:
            length = min(length, 2 * (min(abs(box[1]), abs(box[3])) - rules.exposed_gap_mm))
    if min(length, width) <= 0:
        raise InputError(
            "no room for the exposed pad's land",
            place=outline.name,
            found=f"{length:.2f} × {width:.2f} mm",
            expected=f"a gap of {rules.exposed_gap_mm:g} mm to the terminals' lands",
        )
    length, width = round(length, 6), round(width, 6)
    if (length, width) == (pad.shape.length_mm, pad.shape.width_mm):
        return lands
    before = f"{pad.shape.length_mm:.2f} × {pad.shape.width_mm:.2f}"
    says = f"pad land cut from {before} to {length:.2f} × {width:.2f} mm"
    binds.append(Bind("exposed pad gap", f"{says}: {rules.exposed_gap_mm:g} mm to the terminals"))
    place = pad.with_shape(rectangle(length, width))
    return [
        land if land.terminal != "EP" else replace(land, place=place, copper=place, opening=place) for land in lands
    ]


# --- what lies off its land ---


def feet_off_lands(outline: Outline, lands: list[Land]) -> list[Bind]:
    """Report nominal feet that reach past their lands at the heel, the toe or the sides, and a short pad land."""
    worst: dict[str, tuple[float, str]] = {}
    for terminal, land in zip(terminals(outline), lands, strict=True):
        size = land.copper.shape
        if terminal.side == "centre":
            past = {
                "pad": max(terminal.length_mm - size.length_mm, terminal.width_mm - size.width_mm) / 2,
            }
        else:
            angle = math.radians(terminal.outward_deg)
            out, along = (math.cos(angle), math.sin(angle)), (-math.sin(angle), math.cos(angle))
            dx, dy = terminal.x_mm - land.copper.x_mm, terminal.y_mm - land.copper.y_mm
            ahead, aside = dx * out[0] + dy * out[1], abs(dx * along[0] + dy * along[1])
            longer, wider = (terminal.length_mm - size.length_mm) / 2, (terminal.width_mm - size.width_mm) / 2
            past = {"heel": longer - ahead, "toe": longer + ahead, "side": wider + aside}
        for end, by_mm in past.items():
            if by_mm > max(worst.get(end, (5e-4, ""))[0], 5e-4):
                worst[end] = (by_mm, terminal.number)
    return [
        Bind(
            "foot off its land",
            f"terminal {number} reaches {by_mm:.3f} mm past the {'edge' if end == 'pad' else end} of its land",
        )
        for end, (by_mm, number) in worst.items()
    ]
