"""The solids of a part on its lands: their sizes are the outline's, their solder holds what the joints say."""

from __future__ import annotations

import math

import numpy as np
import pytest

from landwise.joints.mounted import mounted
from landwise.joints.standing import ball_stand, cap_volume
from landwise.lands import land_pattern
from landwise.outlines import GRIDS, find
from landwise.printing import Foil, print_part
from landwise.sheets.mesh import box, joined, revolved, shaded
from landwise.sheets.soldersolid import barrel_solid, fillet_solid, sheet_solid
from landwise.sheets.solid import solid_of
from landwise.sheets.solidpieces import Stood

# One of every family of the catalogue, gull-wings with two and four rows, leadless parts with and without a pad.
PARTS = (
    "SO-14",
    "SOT-23-5",
    "TQFP-48",
    "SOT-5x3-5",
    "PLCC-20",
    "QFN-16-3x3",
    "DFN-8-2x2",
    "SON-6-1.0x1.0",
    "SON-5-0.8x0.8",
    "WLP-5-0.5",
    "BGA-48-0.65",
    "DIP-14",
)
NOT_COMPUTED = {"PLCC-20", "DIP-14"}
BOARD_MM = 1.6
FILLET_WITHIN = 0.01  # chords for arcs and ellipses
FLAT_WITHIN = 0.001  # the model's own mesh
BALL_WITHIN = 0.005
SHEET_WITHIN = 0.02  # corners of the thin sheet's bulge are left out in its model


@pytest.fixture(scope="module")
def made():
    """Every part printed through 100 µm, with its joints and its solids."""
    found = {}
    for name in PARTS:
        outline = find(name)
        pattern = land_pattern(outline)
        printed = print_part(pattern, Foil(100), outline=outline)
        stand = ball_stand(outline, pattern, printed)
        stood = Stood(outline, pattern, printed, stand, mounted(outline, pattern, printed, stand), BOARD_MM)
        found[name] = stood, solid_of(stood)
    return found


def placed(piece):
    """The piece's points at all its places."""
    points = []
    for x, y, turn in piece.places:
        c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        p = piece.mesh.points
        points.append(np.column_stack([p[:, 0] * c - p[:, 1] * s + x, p[:, 0] * s + p[:, 1] * c + y, p[:, 2]]))
    return np.concatenate(points)


def open_edges(mesh):
    """Lengths of the edges that face only one way: none where the surface is closed."""
    keys = np.round(mesh.points / 1e-7).astype(np.int64)
    _, place = np.unique(keys, axis=0, return_inverse=True)
    faces = place.ravel()[mesh.faces]
    pairs = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    pairs = pairs[pairs[:, 0] != pairs[:, 1]]
    low, high = pairs.min(axis=1), pairs.max(axis=1)
    sign = np.where(pairs[:, 0] == low, 1, -1)
    _, index = np.unique(np.column_stack([low, high]), axis=0, return_inverse=True)
    total = np.bincount(index.ravel(), weights=sign)
    return np.flatnonzero(total)


@pytest.mark.parametrize("name", PARTS)
def test_body_and_terminals_have_the_outlines_sizes(made, name):
    stood, solid = made[name]
    outline = stood.outline
    low, high = solid.of("body")[0].mesh.box_mm
    assert high[0] - low[0] == pytest.approx(outline.body_width_mm.nom)
    assert high[1] - low[1] == pytest.approx(outline.body_length_mm.nom)
    assert high[2] - low[2] == pytest.approx(outline.height_mm.nom - outline.standoff_mm.nom)
    assert high[2] == pytest.approx(solid.high_mm)
    leads = solid.of("terminal")
    if outline.span_mm:
        across = np.concatenate([placed(one) for one in leads])[:, 0]
        assert np.ptp(across) == pytest.approx(outline.span_mm.nom, abs=0.001)  # a bend in chords
    if leads and not outline.drilled:
        assert min(one.mesh.box_mm[0][2] for one in leads) == pytest.approx(solid.standoff_mm, abs=1e-9)
    count = sum(len(one.places) for one in leads)
    assert count == (0 if outline.family in GRIDS else len(stood.terminals))


@pytest.mark.parametrize("name", PARTS)
def test_every_solid_is_closed_and_stands_the_right_way_out(made, name):
    _, solid = made[name]
    for piece in solid.pieces:
        assert piece.mesh.volume_mm3 > 0
        if piece.kind in ("terminal", "body", "board", "mask", "land", "paste", "foil"):
            assert len(open_edges(piece.mesh)) == 0


@pytest.mark.parametrize("name", PARTS)
def test_there_is_solder_on_every_printed_land(made, name):
    stood, solid = made[name]
    lands = {(round(land.place.x_mm, 4), round(land.place.y_mm, 4)) for land in stood.pattern.lands}
    joints = solid.of("solder", "reflowed")
    assert sum(len(one.places) for one in joints) == len(lands)
    assert solid.computed == (name not in NOT_COMPUTED)
    for one in joints:
        assert one.mesh.box_mm[0][2] == pytest.approx(0.0 if not stood.outline.drilled else one.mesh.box_mm[0][2])


def test_fillets_hold_the_joints_solder_and_climb_as_high(made):
    for name in ("SO-14", "SOT-23-5", "TQFP-48", "SOT-5x3-5"):
        stood, solid = made[name]
        lead = stood.mounted.lead
        mesh = solid.of("solder")[0].mesh
        assert mesh.volume_mm3 == pytest.approx(lead.solder_mm3, rel=FILLET_WITHIN)
        highest = max(lead.fillet.heel_mm, lead.fillet.toe_mm, lead.fillet.side_mm)
        assert mesh.box_mm[1][2] >= highest - 1e-9
        land = stood.pattern.lands[0].place.shape
        low, high = mesh.box_mm
        assert high[0] - low[0] <= land.length_mm + 1e-6
        assert high[1] - low[1] <= land.width_mm + 1e-6


def test_fillets_hold_their_volume_over_foils():
    for name in ("SC-74-6", "QFP-32", "SO-20W", "SOT-9x3-6"):
        outline = find(name)
        pattern = land_pattern(outline)
        for um in (80, 130):
            lead = mounted(outline, pattern, print_part(pattern, Foil(um), outline=outline)).lead
            if lead.fillet is not None:
                mesh = fillet_solid(lead.foot, lead.fillet)
                assert mesh.volume_mm3 == pytest.approx(lead.fillet.volume_mm3, rel=FILLET_WITHIN)


def test_flat_joints_stand_at_the_standoff_and_hold_their_deposit(made):
    for name in ("QFN-16-3x3", "DFN-8-2x2", "SON-6-1.0x1.0"):
        stood, solid = made[name]
        mesh = solid.of("solder")[0].mesh
        assert mesh.volume_mm3 == pytest.approx(stood.printed.deposits[0].solder_mm3, rel=FLAT_WITHIN)
        assert solid.standoff_mm == pytest.approx(stood.mounted.leadless.height_mm, abs=0.0006)
        assert mesh.box_mm[0][2] == pytest.approx(0.0, abs=0.001)


def test_the_sheet_under_a_pad_holds_its_solder_with_its_gas(made):
    stood, solid = made["QFN-16-3x3"]
    pad = next(land for land in stood.pattern.lands if land.terminal == "EP").place.shape
    window = stood.mounted.leadless.window
    sheet = solid.of("solder")[-1].mesh
    assert sheet.volume_mm3 == pytest.approx(window.nominal_um / 1000 * pad.area_mm2, rel=SHEET_WITHIN)
    # Without bulge or neck the sheet is a block.
    assert sheet_solid((2.0, 1.0), 0.1, 0.05).volume_mm3 == pytest.approx(0.1, rel=1e-3)


def test_balls_hold_ball_and_paste_and_stand_as_high(made):
    for name in ("WLP-5-0.5", "BGA-48-0.65"):
        stood, solid = made[name]
        mesh = solid.of("solder")[0].mesh
        # The spherical cap of the drawing's ball, πh/6·(3a² + h²), and the metal of the paste.
        ball = cap_volume(stood.outline.standoff_mm.nom, stood.outline.package_land_mm.nom)
        assert mesh.volume_mm3 == pytest.approx(ball + stood.printed.deposits[0].solder_mm3, rel=BALL_WITHIN)
        assert mesh.box_mm[1][2] == pytest.approx(stood.stand.height_mm)
        assert 2 * mesh.box_mm[1][0] == pytest.approx(stood.stand.max_diameter_mm, rel=BALL_WITHIN)
        free = solid.of("ball")[0].mesh
        assert free.volume_mm3 == pytest.approx(ball, rel=0.02)
        assert free.box_mm[1][2] == pytest.approx(stood.outline.standoff_mm.nom)


def test_paste_is_as_printed_before_the_foil_and_fills_it_behind(made):
    for name in ("SO-14", "WLP-5-0.5", "QFN-16-3x3"):
        stood, solid = made[name]
        foil = solid.of("foil")[0].mesh.box_mm
        heights = {round(float(one.mesh.box_mm[1][2]), 9) for one in solid.of("paste")}
        wet = {round(one.wet_height_um / 1000, 9) for one in stood.printed.deposits}
        assert foil[1][2] - foil[0][2] == pytest.approx(0.1)
        assert heights <= {0.1, *wet}
        assert len(heights & wet) >= 1


def test_a_barrel_holds_its_ring():
    # A hole less a lead of that section, π d²/4 − w t, over its depth.
    ring = (math.pi / 4 * 0.9**2 - 0.25 * 0.46) * 1.2
    assert barrel_solid(0.9, (0.25, 0.46), 1.2, 0.0).volume_mm3 == pytest.approx(ring, rel=0.01)


def test_a_turned_half_circle_is_a_sphere():
    turn = np.linspace(1e-6, math.pi - 1e-6, 61)
    sphere = revolved(np.column_stack([np.sin(turn), -np.cos(turn)]), 48)
    assert sphere.volume_mm3 == pytest.approx(4 / 3 * math.pi, rel=0.002)
    lit = shaded(sphere)
    # Lit as a ball is: every direction is that of its point.
    assert np.abs(lit.normals - lit.points).max() < 0.05


def test_sharp_edges_stay_and_parts_that_touch_do_not_blend():
    lit = shaded(joined([box((0, 0, 0), (1, 1, 1)), box((1, 0, 0), (2, 1, 2))]))
    axes = np.sort(np.abs(lit.normals), axis=1)
    assert np.allclose(axes, [0.0, 0.0, 1.0])


def test_the_cut_goes_through_a_terminal(made):
    for name in PARTS:
        stood, solid = made[name]
        assert any(
            abs(one.y_mm - solid.cut_mm) < 1e-9 for one in stood.terminals if one.side in ("left", "right", "grid")
        )


def test_the_part_stands_where_its_joints_say(made):
    for name in ("WLP-5-0.5", "BGA-48-0.65"):
        stood, solid = made[name]
        assert solid.of("body")[0].mesh.box_mm[0][2] == pytest.approx(stood.stand.height_mm)
    stood, solid = made["SOT-5x3-5"]
    assert solid.standoff_mm == stood.mounted.lead.foot.gap_mm > 0.001
    stood, solid = made["QFN-16-3x3"]
    under = solid.standoff_mm + stood.outline.standoff_mm.nom
    assert solid.of("body")[0].mesh.box_mm[0][2] == pytest.approx(under)
