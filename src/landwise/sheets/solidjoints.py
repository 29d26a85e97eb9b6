"""The solder of every terminal as solids: equal joints share one."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from landwise.errors import ValidityError
from landwise.joints.gullwing import Foot, fillet_volumes, gullwing_fillet
from landwise.joints.leadform import foot_on_land
from landwise.joints.pad import Faces
from landwise.outlines.model import GRIDS, LEADLESS, Terminal
from landwise.printing.model import Deposit
from landwise.sheets.mesh import Mesh, joined, revolved
from landwise.sheets.profile import COPPER_MM
from landwise.sheets.soldersolid import (
    NARROWER,
    ball_solid,
    barrel_solid,
    cap_contour,
    cone_solid,
    fillet_solid,
    flat_solid,
    schematic_solid,
    sheet_solid,
)
from landwise.sheets.solidpieces import Piece, Stood, outward_of, place_of

SCHEMATIC_RISE = 0.7  # of a terminal's thickness: how high uncomputed solder is drawn up its ends, as in the side view


def joints(stood: Stood) -> list[Piece]:
    """The solder of every terminal: equal joints share one solid."""
    if stood.outline.family in GRIDS:
        return _balls(stood)
    if stood.outline.drilled:
        return _barrels(stood)
    groups: dict[tuple[float, ...], list[Terminal]] = {}
    for terminal in stood.terminals:
        if terminal.side != "centre":
            groups.setdefault(_key(stood, terminal), []).append(terminal)
    pieces = [_joint(stood, alike) for alike in groups.values()]
    return [*(one for one in pieces if one is not None), *_centre(stood)]


def _key(stood: Stood, terminal: Terminal) -> tuple[float, ...]:
    land, deposit = stood.lands[terminal.number], stood.deposits.get(terminal.number)
    shape = land.place.shape
    sizes = (terminal.length_mm, terminal.width_mm, shape.length_mm, shape.width_mm, outward_of(terminal, land))
    return tuple(round(size, 6) for size in (*sizes, deposit.solder_mm3 if deposit else 0.0))


def _joint(stood: Stood, alike: list[Terminal]) -> Piece | None:
    first = alike[0]
    deposit, land = stood.deposits.get(first.number), stood.lands[first.number]
    if deposit is None:
        return None
    mesh, shift = _computed(stood, first, deposit), outward_of(first, land)
    computed = mesh is not None
    if mesh is None:
        sizes = (land.place.shape.length_mm, land.place.shape.width_mm), (first.length_mm, first.width_mm)
        leadless = stood.outline.family in LEADLESS
        rise = stood.lift_mm + (0.0 if leadless else SCHEMATIC_RISE * stood.thickness_mm)
        mesh = schematic_solid(*sizes, -shift, rise).moved(shift)
    elif stood.outline.family in LEADLESS:
        mesh = mesh.moved(shift)  # from its land's middle to its terminal's
    return Piece("solder", mesh, tuple(map(place_of, alike)), "reflowed", computed=computed)


def _computed(stood: Stood, terminal: Terminal, deposit: Deposit) -> Mesh | None:
    if stood.mounted.lead is not None and stood.mounted.lead.fillet is not None:
        foot = foot_on_land(stood.outline, stood.pattern, terminal.number)
        return None if foot is None else _fillet(replace(foot, gap_mm=stood.lift_mm), deposit.solder_mm3)
    if stood.mounted.leadless is None:
        return None
    land = stood.lands[terminal.number]
    shape, out = land.place.shape, outward_of(terminal, land)
    beyond = (shape.length_mm - terminal.length_mm) / 2
    toe, heel = max(0.0, beyond + out), max(0.0, beyond - out)
    faces = Faces(
        round(terminal.length_mm + toe + heel, 6),
        shape.width_mm,
        terminal.length_mm,
        round(min(terminal.width_mm, NARROWER * shape.width_mm), 6),
        round((heel - toe) / 2, 6),
    )
    return flat_solid(faces, round(deposit.solder_mm3, 6), stood.lift_mm)


def _fillet(foot: Foot, solder_mm3: float) -> Mesh | None:
    """The first terminal's solder lets the part stand as it does; a millionth less keeps a lifted foot inside."""
    try:
        fillet = gullwing_fillet(foot, min(solder_mm3, fillet_volumes(foot)[1] * (1 - 1e-6)))
    except ValidityError:
        return None
    return fillet_solid(foot, fillet)


def _centre(stood: Stood) -> list[Piece]:
    """The thin sheet under a pad in the middle: with its gas pockets where the standoff's window tells them."""
    centre = next((one for one in stood.terminals if one.side == "centre"), None)
    leadless, deposit = stood.mounted.leadless, stood.deposits.get(centre.number) if centre else None
    if centre is None or leadless is None or deposit is None:
        return []
    place = stood.lands[centre.number].place
    long, wide = place.shape.length_mm, place.shape.width_mm
    filled = leadless.window.nominal_um / 1000 * long * wide if leadless.window else deposit.solder_mm3
    mesh = sheet_solid((long, wide), filled, stood.lift_mm)
    return [Piece("solder", mesh, ((place.x_mm, place.y_mm, place.angle_deg),), "reflowed")]


def _balls(stood: Stood) -> list[Piece]:
    places = tuple((one.x_mm, one.y_mm, 0.0) for one in stood.terminals)
    standoff, first = stood.outline.standoff_mm.nom, stood.terminals[0]
    package = stood.outline.package_land_mm
    before = cap_contour(standoff, package.nom if package else 0.8 * first.width_mm)
    free = Piece("ball", revolved(before), places, "printed", lifts=True)
    if stood.stand is None:
        radius = first.width_mm / 2
        cut = min(standoff / 2, 0.98 * radius)
        turn = np.linspace(-math.asin(cut / radius), math.asin(cut / radius), 17)
        contour = np.column_stack([radius * np.cos(turn), standoff / 2 + radius * np.sin(turn) * standoff / 2 / cut])
        return [free, Piece("solder", revolved(contour), places, "reflowed", computed=False)]
    return [free, Piece("solder", ball_solid(stood.stand.contour_mm), places, "reflowed")]


def _barrels(stood: Stood) -> list[Piece]:
    """Solder in the holes: as full as printed paste makes them, or full where a wave does it, with schematic cones."""
    drilled = stood.mounted.drilled
    places = tuple(map(place_of, stood.terminals))
    land = stood.lands[stood.terminals[0].number]
    if drilled is None or not land.hole_mm:
        return []
    lead = (stood.terminals[0].length_mm, stood.terminals[0].width_mm)
    depth = stood.board_mm + 2 * COPPER_MM
    if drilled.fill is not None and drilled.fill <= 1:
        return [
            Piece("solder", barrel_solid(land.hole_mm, lead, drilled.fill * stood.board_mm, 0.0), places, "reflowed")
        ]
    cone = 0.8 * (land.place.shape.width_mm / 2 - max(lead) / 2)
    solder = [
        barrel_solid(land.hole_mm, lead, depth, 0.0),
        cone_solid(land.place.shape.width_mm, lead, 0.0, 0.35 * cone),
        cone_solid(land.place.shape.width_mm, lead, -depth, -depth - cone),
    ]
    return [Piece("solder", joined(solder), places, "reflowed", computed=False)]
