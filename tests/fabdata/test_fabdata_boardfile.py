"""Boards as one file of the open CAD board format: shapes by plane geometry, places against another reader, abuse.

The files are written here by hand. Source of the comparison: gerbonara 1.5.0, which draws board files by itself.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from landwise.assembly.lines import preset
from landwise.errors import InputError, LandwiseError
from landwise.fabdata import boardfile, expressions
from landwise.fabdata.boardfile import is_board_file, read_board_file
from landwise.fabdata.gerber import write_gerber
from landwise.fabdata.layers import open_job
from landwise.review.jobs import read_board
from landwise.review.reviews import Asked, review

LAYERS = """(general (thickness 1.6)) (paper "A4") (layers (0 "F.Cu" signal) (1 "In1.Cu" signal) (2 "In2.Cu" signal)
(31 "B.Cu" signal) (34 "B.Paste" user) (35 "F.Paste" user) (38 "B.Mask" user) (39 "F.Mask" user)
(44 "Edge.Cuts" user))"""


def file_of(body: str, setup: str = "(setup (pad_to_mask_clearance 0))") -> bytes:
    return f'(kicad_pcb (version 20221018) (generator "by_hand") {LAYERS} {setup} (net 0 "") {body})'.encode()


def part(pads: str, at: str = "100 50", layer: str = "F.Cu", more: str = "", name: str = "U1") -> str:
    text = f'(fp_text reference "{name}" (at 0 0) (layer "F.SilkS") (effects (font (size 1 1) (thickness 0.15))))'
    return f'(footprint "lib:PKG" (layer "{layer}") (at {at}) {more} {text} {pads})'


def pad(
    shape: str, at: str = "0 0", size: str = "0.6 0.4", layers: str = '"F.Cu" "F.Paste" "F.Mask"', more: str = ""
) -> str:
    return f'(pad "1" smd {shape} (at {at}) (size {size}) (layers {layers}) {more})'


def paste(body: str, **more: str) -> list:
    return read_board_file(file_of(body, **more), "b").layers["paste-top"].polygons


AREAS = {
    ("rect", ""): 0.24,
    ("circle", ""): math.pi * 0.09,
    ("oval", ""): 0.2 * 0.4 + math.pi * 0.04,
    ("roundrect", "(roundrect_rratio 0.25)"): 0.24 - (4 - math.pi) * 0.01,
    ("roundrect", "(roundrect_rratio 0) (chamfer_ratio 0.25) (chamfer top_left bottom_right)"): 0.24 - 2 * 0.005,
    ("trapezoid", "(rect_delta 0.1 0)"): 0.24,
    (
        "custom",
        "(options (clearance outline) (anchor rect)) (primitives (gr_poly (pts (xy 0.2 -0.2) (xy 0.7 -0.2) (xy 0.7 0.2)"
        " (xy 0.2 0.2)) (width 0)))",
    ): 0.24 + 0.16,
}


@pytest.mark.parametrize(("shape", "more"), list(AREAS))
def test_pads_have_the_area_of_plane_geometry(shape, more):
    [found] = paste(part(pad(shape, more=more)))
    assert found.area == pytest.approx(AREAS[shape, more], rel=2e-3)


def test_the_cut_corners_are_those_named():
    more = "(roundrect_rratio 0) (chamfer_ratio 0.25) (chamfer top_left)"
    [found] = paste(part(pad("roundrect", more=more), at="0 0"))
    corners = np.round(np.asarray(found.exterior.coords), 6).tolist()
    assert [-0.3, 0.2] not in corners  # up is up for the eye
    assert [0.3, 0.2] in corners


def test_margins_come_from_pad_footprint_and_board():
    setup = "(setup (pad_to_mask_clearance 0.05) (pad_to_paste_clearance -0.02) (pad_to_paste_clearance_ratio -0.1))"
    body = part(pad("rect")) + part(
        pad("rect", at="5 0") + pad("rect", at="9 0", more="(solder_paste_margin -0.03) (solder_mask_margin 0.1)"),
        more="(solder_paste_margin_ratio -0.2)",
        name="U2",
    )
    found = read_board_file(file_of(body, setup), "b")
    size = [one.bounds for one in found.layers["paste-top"].polygons]
    sizes = [(round(b[2] - b[0], 6), round(b[3] - b[1], 6)) for b in size]
    # width + 2 (margin + ratio · width), and the same across
    assert sizes == [(0.44, 0.28), (0.32, 0.2), (0.3, 0.18)]
    masks = [one.bounds for one in found.layers["mask-top"].polygons]
    assert [round(b[2] - b[0], 6) for b in masks] == [0.7, 0.7, 0.8]
    assert [round(one.area, 6) for one in found.layers["copper-top"].polygons] == [0.24, 0.24, 0.24]


def test_an_opening_without_copper_is_as_drawn_and_one_shrunk_to_nothing_is_none():
    setup = "(setup (pad_to_paste_clearance -0.3))"
    found = read_board_file(file_of(part(pad("rect", layers='"F.Paste"') + pad("rect", at="3 0")), setup), "b")
    assert [round(one.area, 6) for one in found.layers["paste-top"].polygons] == [0.24]


def test_holes_tracks_vias_zones_and_the_edge_are_read():
    body = """(segment (start 0 0) (end 2 0) (width 0.2) (layer "F.Cu") (net 0))
    (via (at 1 -2) (size 0.6) (drill 0.3) (layers "F.Cu" "B.Cu") (net 0))
    (via blind (at 4 -2) (size 0.5) (drill 0.2) (layers "F.Cu" "In1.Cu") (net 0))
    (zone (net 0) (layer "B.Cu") (polygon (pts (xy 0 0) (xy 9 0) (xy 9 9)))
      (filled_polygon (layer "B.Cu") (pts (xy 0 0) (xy 2 0) (xy 2 1) (xy 0 1))))
    (gr_line (start 0 0) (end 10 0) (layer "Edge.Cuts") (width 0.1))
    (gr_line (start 10 0) (end 10 5) (layer "Edge.Cuts") (width 0.1))
    (gr_line (start 10 5.0004) (end 0 5) (layer "Edge.Cuts") (width 0.1))
    (gr_line (start 0 5) (end 0 0) (layer "Edge.Cuts") (width 0.1))
    (gr_circle (center 5 2) (end 6 2) (layer "Edge.Cuts") (width 0.1))
    (gr_text "words" (at 1 1) (layer "F.Cu"))"""
    found = read_board_file(file_of(body), "b")
    assert found.layers["copper-top"].strokes == [([(0, 0), (2, 0)], 0.2)]
    assert len(found.layers["copper-top"].polygons) == 2
    assert [round(one.area, 6) for one in found.layers["copper-bottom"].polygons][1:] == [2.0]
    assert {one.span: one.diameter_mm for one in found.drills} == {(1, 2): (0.2,), (1, 4): (0.3,)}
    assert found.outline.area == pytest.approx(50, rel=1e-3)
    assert found.outline.bounds == pytest.approx((0, -5, 10, 0), abs=2e-3)
    assert "1 drawings of kind text" in found.notes[0]


def test_what_is_left_out_is_said():
    slot = '(pad "2" thru_hole oval (at 0 0) (size 2 1) (drill oval 1.5 0.6) (layers "*.Cu" "*.Mask"))'
    zone = '(zone (net 0) (layer "F.Cu") (polygon (pts (xy 0 0) (xy 1 0) (xy 1 1))))'
    found = read_board_file(file_of(part(slot, more="(attr smd dnp)") + zone), "b")
    said = " ".join(found.notes)
    assert all(word in said for word in ("slots", "not fitted", "never filled"))
    assert found.drills == ()
    assert set(found.layers) == {"copper-top", "copper-bottom", "mask-top", "mask-bottom"}


BOARD = part(
    pad("rect", "-1.2 0.3 30")
    + pad("roundrect", "1.1 -0.4 75", "0.9 0.5", more="(roundrect_rratio 0.25)")
    + pad("oval", "0 1.5 30", "1.2 0.4")
    + pad("rect", "2 2 30", "0.5 0.3", '"F.Paste"'),
    "110 60 30",
) + part(
    pad("rect", "-2 0.7 200", "0.8 0.5", '"B.Cu" "B.Paste" "B.Mask"')
    + pad("circle", "2 -0.7 200", "0.7 0.7", '"B.Cu" "B.Paste" "B.Mask"'),
    "130 70 200",
    "B.Cu",
    name="U2",
)


def test_a_board_file_is_reviewed_as_its_films_are(tmp_path):
    row = "".join(
        pad("rect", f"{x} {y} 90", "0.35 1.4").replace('"1"', f'"{k}"')
        for k, (x, y) in enumerate([(0.65 * i - 2.275, s * 2.9) for s in (-1, 1) for i in range(8)], 1)
    )
    chips = "".join(
        part(pad("rect", "-0.5 0", "0.5 0.6") + pad("rect", "0.5 0", "0.5 0.6"), f"{112 + 3 * k} 50", name=f"R{k}")
        for k in range(3)
    )
    data = file_of(part(row, "100 50 90") + chips, "(setup (pad_to_mask_clearance 0.05))")
    path = tmp_path / "made up.kicad_pcb"
    path.write_bytes(data)
    job = open_job(path)
    assert {one.role for one in job.layers} >= {"paste-top", "mask-top", "copper-top", "placement"}
    found = review(read_board(path, {}).board, preset("ordinary"), Asked(foils_um=(100,))).sides[0]
    assert len(found.given.paste) == 22
    assert {one.name: one.package for one in found.given.parts} == {"U1": "PKG", "R0": "PKG", "R1": "PKG", "R2": "PKG"}
    assert {str(pin) for pin in found.given.paste.pin} >= {str(k) for k in range(1, 17)}
    assert found.given.lands.basis == "copper and mask"


def test_beside_films_the_board_file_is_left_out(tmp_path):
    (tmp_path / "b.kicad_pcb").write_bytes(file_of(part(pad("rect"))))
    (tmp_path / "b.gtp").write_bytes(write_gerber([shapely.box(0, 0, 1, 1)], {".FileFunction": ("Paste", "Top")}))
    job = open_job(tmp_path)
    assert [one.role for one in job.layers] == ["paste-top"]
    assert any("beside paste films" in note for note in job.notes)


HOSTILE = {
    "open": (b"(kicad_pcb (layers", "ends within a list"),
    "closed twice": (b"(kicad_pcb))", "none opened"),
    "deep": (b"(kicad_pcb " + b"(" * 10_000, "nested too deep"),
    "two": (b"(kicad_pcb) (kicad_pcb)", "not one list"),
    "open text": (b'(kicad_pcb "abc', "can't be understood"),
    "no number": (file_of(part(pad("rect", at="x 0"))), "numbers are missing"),
    "far away": (file_of(part(pad("rect", at="1e12 0"))), "within reach"),
    "not a number": (file_of(part(pad("rect", size="nan 1"))), "within reach"),
    "unknown shape": (file_of(part(pad("star"))), "unknown shape"),
    "short pad": (file_of(part('(pad "1")')), "without a kind"),
    "no size": (file_of(part('(pad "1" smd rect (at 0 0) (layers "F.Cu"))')), "numbers are missing"),
}


@pytest.mark.parametrize("name", list(HOSTILE))
def test_what_can_t_be_read_is_refused_with_its_place(name):
    data, message = HOSTILE[name]
    with pytest.raises(InputError, match=message):
        read_board_file(data, "b.kicad_pcb")


def test_limits_are_named(monkeypatch):
    monkeypatch.setattr(expressions, "MOST_TOKENS", 50)
    with pytest.raises(InputError, match="at most 50"):
        read_board_file(file_of(part(pad("rect"))), "b")
    monkeypatch.undo()
    monkeypatch.setattr(expressions, "MOST_BYTES", 50)
    with pytest.raises(InputError, match="at most 50"):
        read_board_file(file_of(part(pad("rect"))), "b")
    monkeypatch.undo()
    monkeypatch.setattr(boardfile, "MOST_SHAPES", 2)
    with pytest.raises(InputError, match="at most 2"):
        read_board_file(file_of(part(pad("rect"))), "b")


def test_cut_and_mutated_files_give_a_clear_message_or_a_board():
    rng = np.random.default_rng(7)
    data, refused = file_of(BOARD), 0
    for number in range(150):
        broken = bytearray(data)
        signs = b"0123456789.-" if number % 2 else b'()" 0x.-9e'
        for at in rng.integers(0, len(broken), 4):
            if number % 2 == 0 or broken[at] in signs:
                broken[at] = int(rng.choice(list(signs)))
        broken = broken[: int(rng.integers(len(broken) // 2, len(broken)))] if number % 5 == 0 else broken
        try:
            read_board_file(bytes(broken), "b")
        except LandwiseError:
            refused += 1
    assert 0 < refused < 150


def test_other_files_are_not_taken_for_board_files():
    assert is_board_file(b"\xef\xbb\xbf (kicad_pcb (version 1)")
    for data in (b"", b"%FSLAX46Y46*%", b"(kicad_pcbx", b"(footprint", b"<IPC-2581"):
        assert not is_board_file(data)
