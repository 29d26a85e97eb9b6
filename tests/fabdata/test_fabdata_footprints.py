"""Footprint files, read back by an independent reader of the format (kiutils), against the lands they came from."""

from __future__ import annotations

import pytest
import shapely
from kiutils.footprint import Footprint
from kiutils.utils.sexpr import parse_sexp
from shapely import affinity

from landwise.fabdata.footprints import ENDING, footprint
from landwise.lands import land_pattern
from landwise.outlines import catalogue, find
from landwise.printing import Foil, print_part
from whole import of_each_family

FINE_MM2 = 2e-4  # arcs are drawn with chords on both sides
SOME = ["SO-14", "DIP-14", "TSSOP-16", "QFN-16-3.5x4", "SON-5-0.8x0.8", "WLP-5-0.5", "QFP-64", "SOT-5x3-6", "PLCC-20"]


def made(name, foil_um=100.0, **options):
    outline = find(name)
    pattern = land_pattern(outline, **options)
    printed = print_part(pattern, Foil(foil_um), outline=outline)
    return outline, pattern, printed, footprint(outline, pattern, printed)


def read(text):
    return Footprint().from_sexpr(parse_sexp(text))


def drawn(pad):
    """A pad's copper as the format's reader places it, back in our axes (y up)."""
    length, width = pad.size.X, pad.size.Y
    if pad.shape == "custom":
        (polygon,) = pad.customPadPrimitives
        shape = shapely.Polygon([(point.X, point.Y) for point in polygon.coordinates])
    elif pad.shape == "circle":
        shape = shapely.Point(0, 0).buffer(length / 2, quad_segs=64)
    else:
        shape = shapely.box(-length / 2, -width / 2, length / 2, width / 2)
        corner = {"rect": 0.0, "oval": 0.5, "roundrect": pad.roundrectRatio or 0.0}[pad.shape] * min(length, width)
        if corner:
            shape = (
                shape.buffer(-corner).buffer(corner, quad_segs=64)
                if corner < min(length, width) / 2
                else oval(length, width)
            )
    # The file's y axis runs down, and positive angles turn counterclockwise for the eye.
    shape = affinity.rotate(shape, -(pad.position.angle or 0.0), origin=(0, 0))
    shape = affinity.translate(shape, pad.position.X, pad.position.Y)
    return affinity.scale(shape, 1, -1, origin=(0, 0))


def oval(length, width):
    half = (max(length, width) - min(length, width)) / 2
    ends = [(-half, 0), (half, 0)] if length >= width else [(0, -half), (0, half)]
    return shapely.LineString(ends).buffer(min(length, width) / 2, quad_segs=64)


def same(first, second):
    return first.symmetric_difference(second).area < FINE_MM2 + 0.002 * second.area


def on(footprint_read, layer):
    return [pad for pad in footprint_read.pads if layer in pad.layers]


@pytest.mark.parametrize("name", SOME)
def test_a_separate_reader_finds_our_lands(name):
    _, pattern, _, text = made(name)
    pads = [pad for pad in read(text).pads if pad.number]
    assert [pad.number for pad in pads] == [land.terminal for land in pattern.lands]
    for pad, land in zip(pads, pattern.lands, strict=True):
        assert same(drawn(pad), land.copper.geometry())
        assert (pad.drill.diameter if pad.drill else None) == land.hole_mm
        assert pad.type == ("thru_hole" if land.hole_mm else "smd")


@pytest.mark.parametrize("name", SOME)
def test_mask_and_paste_are_our_openings(name):
    _, pattern, printed, text = made(name)
    back = read(text)
    masks = on(back, "F.Mask")
    assert len(masks) == len(pattern.lands)
    for pad, land in zip(masks, pattern.lands, strict=True):
        assert not pad.number
        assert same(drawn(pad), land.opening.geometry())
    openings = [opening for aperture in printed.apertures for opening in aperture.openings]
    pastes = on(back, "F.Paste")
    assert len(pastes) == len(openings)
    assert all(same(drawn(pad), opening.geometry()) for pad, opening in zip(pastes, openings, strict=True))
    assert all("F.Paste" not in pad.layers and "F.Mask" not in pad.layers for pad in back.pads if pad.number)


@pytest.mark.parametrize("name", SOME)
def test_courtyard_body_and_texts(name):
    outline, pattern, _, text = made(name)
    back = read(text)
    courtyard = [item for item in back.graphicItems if getattr(item, "layer", "") == "F.CrtYd"]
    xs = {round(point.X, 6) for line in courtyard for point in (line.start, line.end)}
    ys = {round(point.Y, 6) for line in courtyard for point in (line.start, line.end)}
    half_x, half_y = (side / 2 for side in pattern.courtyard_mm)
    assert xs == {round(-half_x, 6), round(half_x, 6)}
    assert ys == {round(-half_y, 6), round(half_y, 6)}
    body = [item for item in back.graphicItems if getattr(item, "layer", "") == "F.Fab" and hasattr(item, "start")]
    assert len(body) == 5  # one corner cut
    assert max(line.end.X for line in body) == pytest.approx(outline.body_width_mm.nom / 2)
    assert back.entryName == outline.name
    assert back.attributes.type == ("through_hole" if outline.drilled else "smd")


def test_number_one_stands_at_the_top_left_for_the_eye():
    """In the file's axes, y down, terminal 1 of a two-row part has negative x and y."""
    back = read(made("SO-14")[3])
    first = next(pad for pad in back.pads if pad.number == "1")
    assert first.position.X < 0
    assert first.position.Y < 0


def test_a_land_moved_in_the_file_is_noticed():
    _, pattern, _, text = made("SO-14")
    land = pattern.lands[0].copper
    pad = next(
        pad for pad in read(text.replace(f"(at {land.x_mm:g} ", f"(at {land.x_mm + 0.05:g} ", 1)).pads if pad.number
    )
    assert not same(drawn(pad), land.geometry())


def test_paste_follows_the_print():
    _, _, thin, first = made("QFN-16-3.5x4", foil_um=80.0)
    _, _, thick, second = made("QFN-16-3.5x4", foil_um=150.0)
    areas = [sum(drawn(pad).area for pad in on(read(text), "F.Paste")) for text in (first, second)]
    ours = [sum(o.shape.area_mm2 for a in printed.apertures for o in a.openings) for printed in (thin, thick)]
    assert areas == pytest.approx(ours, rel=1e-3)


def test_without_a_print_there_is_no_paste_and_the_text_is_the_same_every_time():
    outline = find("SO-8")
    pattern = land_pattern(outline)
    text = footprint(outline, pattern)
    assert "F.Paste" not in text
    assert text == footprint(outline, pattern)
    assert ENDING.startswith(".")


def test_every_outline_gives_a_file_that_parses_and_equals_its_lands_mask_and_paste():
    """Every land, mask opening and paste pane, as the separate reader finds them; each third of every family."""
    for outline in of_each_family(catalogue().values(), 3):
        pattern = land_pattern(outline)
        printed = print_part(pattern, Foil(100.0), outline=outline)
        back = read(footprint(outline, pattern, printed))
        pads = [pad for pad in back.pads if pad.number]
        assert [pad.number for pad in pads] == [land.terminal for land in pattern.lands], outline.name
        openings = [opening for aperture in printed.apertures for opening in aperture.openings]
        for drawings, ours in (
            (pads, [land.copper for land in pattern.lands]),
            (on(back, "F.Mask"), [land.opening for land in pattern.lands]),
            (on(back, "F.Paste"), openings),
        ):
            for pad, place in zip(drawings, ours, strict=True):
                assert same(drawn(pad), place.geometry()), (outline.name, pad.number, pad.layers)


def test_panes_of_a_pad_in_the_middle_lie_within_it_and_apart():
    for name in ("QFN-64-9x9", "QFN-24-3.5x5.5", "DFN-8-3x3"):
        _, pattern, printed, text = made(name)
        pad = next(land.copper.geometry() for land in pattern.lands if land.terminal == "EP")
        shapes = [drawn(one) for one in on(read(text), "F.Paste")]
        panes = [shape for shape in shapes if pad.intersects(shape.centroid)]
        assert len(panes) >= 4
        assert all(pad.buffer(1e-6).contains(pane) for pane in panes)
        assert shapely.union_all(panes).area == pytest.approx(sum(pane.area for pane in panes))
        assert printed.foil.thickness_um == 100.0
