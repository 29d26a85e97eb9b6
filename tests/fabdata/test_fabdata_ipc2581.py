"""Boards as one file of the open product-data standard: shapes by closed formulas, boards against their films, abuse.

Elements and attributes are written here by hand after the standard's schema (from memory); areas are those of plane
geometry. The board read from films is the shared one, drawn by others.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import shapely

from landwise.assembly.lines import preset
from landwise.errors import InputError
from landwise.fabdata.gerber import read_gerber, write_gerber
from landwise.fabdata.ipc2581 import is_product_data, read_product_data
from landwise.fabdata.layers import open_job
from landwise.fabdata.productlayers import product_layers
from landwise.review.jobs import read_board
from landwise.review.reviews import Asked, review

BOARDS = Path(__file__).resolve().parents[2].parent / "shared" / "boards"
LAYERS = """<Layer name="T" layerFunction="CONDUCTOR" side="TOP"/><Layer name="B" layerFunction="SIGNAL" side="BOTTOM"/>
<Layer name="P" layerFunction="SOLDERPASTE" side="TOP"/><Layer name="M" layerFunction="SOLDERMASK" side="TOP"/>
<Layer name="D" layerFunction="DRILL" side="ALL"><Span fromLayer="T" toLayer="B"/></Layer>"""


def file_of(step: str, *, books: str = "", unit: str = "MILLIMETER", layers: str = LAYERS) -> bytes:
    """A file around the content of its one step."""
    return (
        f'<?xml version="1.0"?><IPC-2581 revision="C" xmlns="http://webstds.ipc.org/2581"><Content><StepRef name="s"/>'
        f'{books}</Content><Ecad><CadHeader units="{unit}"/><CadData>{layers}<Step name="s">{step}</Step></CadData>'
        f"</Ecad></IPC-2581>"
    ).encode()


def feature(layer: str, content: str) -> str:
    return f'<LayerFeature layerRef="{layer}"><Set>{content}</Set></LayerFeature>'


def pad(shape: str, x: float = 0, y: float = 0, xform: str = "") -> str:
    return f'<Pad>{xform}<Location x="{x}" y="{y}"/>{shape}</Pad>'


def contour(shape: shapely.Polygon, scale: float = 1.0) -> str:
    """A polygon with its holes as the standard writes them."""

    def ring(points, tag: str) -> str:
        (x, y), *more = [(px * scale, py * scale) for px, py in points]
        steps = "".join(f'<PolyStepSegment x="{a:.9f}" y="{b:.9f}"/>' for a, b in more)
        return f'<{tag}><PolyBegin x="{x:.9f}" y="{y:.9f}"/>{steps}</{tag}>'

    cuts = "".join(ring(hole.coords, "Cutout") for hole in shape.interiors)
    return f"<Contour>{ring(shape.exterior.coords, 'Polygon')}{cuts}</Contour>"


def paste_of(data: bytes) -> list:
    return read_product_data(data, "b.xml").layers["paste-top"].polygons


SHAPES = {
    '<Circle diameter="0.5"/>': math.pi / 16,
    '<RectCenter width="0.6" height="0.3"/>': 0.18,
    '<RectCorner lowerLeftX="0" lowerLeftY="-0.1" upperRightX="0.4" upperRightY="0.2"/>': 0.12,
    '<RectRound width="0.6" height="0.4" radius="0.1"/>': 0.24 - (4 - math.pi) * 0.01,
    '<RectRound width="0.6" height="0.4" radius="0.1" upperLeft="true" lowerLeft="false"/>': 0.24
    - (1 - math.pi / 4) * 0.01,
    '<RectCham width="0.6" height="0.4" chamfer="0.1"/>': 0.24 - 4 * 0.005,
    '<Oval width="0.8" height="0.3"/>': 0.5 * 0.3 + math.pi * 0.15**2,
    '<Ellipse width="0.8" height="0.3"/>': math.pi * 0.4 * 0.15,
    '<Octagon length="0.5"/>': 2 * (math.sqrt(2) - 1) * 0.25,
    '<Hexagon length="0.5"/>': 3 * math.sqrt(3) / 2 * 0.25**2,
    '<Diamond width="0.6" height="0.4"/>': 0.12,
    '<Triangle base="0.6" height="0.4"/>': 0.12,
    '<Donut shape="ROUND" outerDiameter="1" innerDiameter="0.5"/>': math.pi / 4 * 0.75,
}


@pytest.mark.parametrize("xml", list(SHAPES))
def test_primitives_have_the_area_of_plane_geometry(xml):
    [shape] = paste_of(file_of(feature("P", pad(xml))))
    assert shape.area == pytest.approx(SHAPES[xml], rel=2e-3)


def test_contours_have_arcs_and_cut_outs():
    half = (
        '<Contour><Polygon><PolyBegin x="-1" y="0"/>'
        '<PolyStepCurve x="1" y="0" centerX="0" centerY="0" clockwise="true"/><PolyStepSegment x="-1" y="0"/></Polygon>'
        '<Cutout><PolyBegin x="-0.1" y="0.2"/><PolyStepSegment x="0.1" y="0.2"/>'
        '<PolyStepSegment x="0.1" y="0.4"/><PolyStepSegment x="-0.1" y="0.4"/></Cutout></Contour>'
    )
    [shape] = paste_of(file_of(feature("P", f"<Features>{half}</Features>")))
    assert shape.area == pytest.approx(math.pi / 2 - 0.04, rel=2e-3)
    assert shape.bounds == pytest.approx((-1, 0, 1, 1), abs=2e-3)


def test_a_pad_is_mirrored_then_turned_then_moved_in_the_files_unit():
    turned = '<Xform rotation="30" mirror="true"/>'
    [shape] = paste_of(
        file_of(
            feature(
                "P",
                pad('<RectCorner lowerLeftX="0" lowerLeftY="0" upperRightX="0.1" upperRightY="0.02"/>', 1, 2, turned),
            ),
            unit="INCH",
        )
    )
    x, y = -0.05 * 25.4, 0.01 * 25.4
    cos, sin = math.cos(math.radians(30)), math.sin(math.radians(30))
    middle = shape.centroid
    assert (middle.x, middle.y) == pytest.approx((25.4 + x * cos - y * sin, 50.8 + x * sin + y * cos))


def test_padstacks_and_dictionaries_give_a_pad_its_shape_on_its_layer():
    books = (
        '<DictionaryStandard units="INCH"><EntryStandard id="r"><Circle diameter="0.02"/></EntryStandard>'
        "</DictionaryStandard>"
    )
    stack = (
        '<PadStackDef name="k"><PadstackPadDef layerRef="P" padUse="REGULAR"><Location x="0" y="0"/>'
        '<StandardPrimitiveRef id="r"/></PadstackPadDef></PadStackDef>'
    )
    own = '<Pad padstackDefRef="k"><Location x="3" y="4"/><PinRef componentRef="U1" pin="7"/></Pad>'
    found = read_product_data(file_of(stack + feature("P", own), books=books), "b.xml").layers["paste-top"]
    assert found.polygons[0].area == pytest.approx(math.pi / 4 * 0.508**2, rel=2e-3)
    assert (found.components, found.pins) == (["U1"], ["7"])


def test_holes_components_profile_and_strokes_are_read():
    holes = '<Hole name="h" diameter="0.3" platingStatus="VIA" x="1" y="2"/>'
    line = (
        '<Features><Line startX="0" startY="0" endX="2" endY="0"><LineDesc lineWidth="0.2" lineEnd="ROUND"/></Line>'
        "</Features>"
    )
    edge = contour(shapely.box(0, 0, 9, 5)).removeprefix("<Contour>").removesuffix("</Contour>")
    profile = f"<Profile>{edge}</Profile>"
    part = (
        '<Component refDes="U1" packageRef="QFN, 32" layerRef="B"><Xform rotation="90"/><Location x="4" y="3"/>'
        "</Component>"
    )
    data = file_of(profile + part + feature("D", holes) + feature("T", line))
    found = read_product_data(data, "b.xml")
    assert found.drills[0].diameter_mm == (0.3,)
    assert found.drills[0].span == (1, 2)
    assert (found.placed[0].side, found.placed[0].package, found.placed[0].rotation_deg) == ("bottom", "QFN, 32", 90)
    assert found.outline.area == pytest.approx(45)
    assert found.layers["copper-top"].strokes == [([(0, 0), (2, 0)], 0.2)]
    film = next(data for _, role, _, data in product_layers(data, "b.xml")[0] if role == "copper-top")
    assert read_gerber(film, "x.gbr").pads.area_mm2.sum() == pytest.approx(0.4 + math.pi * 0.01, rel=2e-3)


def test_negative_sets_and_panel_steps_are_left_out_with_a_note():
    data = file_of(
        feature("M", pad('<Circle diameter="1"/>')).replace("<Set>", '<Set polarity="NEGATIVE">')
        + feature("P", pad('<Circle diameter="1"/>'))
    ).replace(b"</CadData>", b'<Step name="panel"><StepRepeat stepRef="s"/></Step></CadData>')
    found = read_product_data(data, "b.xml")
    assert "mask-top" not in found.layers
    assert len(found.layers["paste-top"].polygons) == 1
    assert any("negative" in note for note in found.notes)
    assert any("left out panel" in note for note in found.notes)


LAUGHS = (
    b'<!DOCTYPE l [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]>'
    b"<IPC-2581>&c;</IPC-2581>"
)
OUTSIDE = b'<!DOCTYPE l [<!ENTITY x SYSTEM "file:///etc/hostname">]><IPC-2581>&x;</IPC-2581>'
LOOP = (
    '<DictionaryUser><EntryUser id="u"><UserSpecial><UserPrimitiveRef id="u"/></UserSpecial></EntryUser>'
    "</DictionaryUser>"
)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (LAUGHS, "document type"),
        (OUTSIDE, "document type"),
        (b"<IPC-2581><a></IPC-2581>", "well-formed"),
        (b"<IPC-2581/>", "unit"),
        (b"<x><IPC-2581/></x>", "this standard"),
        (file_of("", unit="CUBIT"), "unit"),
        (file_of(feature("P", pad('<Circle diameter="wide"/>'))), "not a number"),
        (file_of(feature("P", pad('<Circle diameter="nan"/>'))), "not a number"),
        (file_of(feature("P", pad('<StandardPrimitiveRef id="none"/>'))), "no such primitive"),
        (file_of(feature("P", pad('<UserPrimitiveRef id="u"/>')), books=LOOP), "too deep"),
    ],
)
def test_what_is_wrong_is_refused_by_name(data, says):
    with pytest.raises(InputError, match=says):
        read_product_data(data, "b.xml")


def test_a_shape_within_another_ones_hole_stays_when_it_is_written():
    ring = shapely.box(0, 0, 4, 4).difference(shapely.box(1, 1, 3, 3))
    island = shapely.box(1.5, 1.5, 2.5, 2.5)
    for order in ([ring, island], [island, ring]):
        pads = read_gerber(write_gerber(order, {}), "x.gbr").pads
        assert pads.area_mm2.sum() == pytest.approx(13, abs=1e-6)


def drawn(its, row: int, scale: float) -> str:
    """A shape as a contour, or a stroke as the line along its middle."""
    shape, width = its.polygon[row], its.width_mm[row]
    half = (its.length_mm[row] - width) / 2
    turn = math.radians(its.angle_deg[row])
    dx, dy = half * math.cos(turn), half * math.sin(turn)
    x, y = its.x_mm[row], its.y_mm[row]
    if its.kind[row] != "stroke" or shape.area < 0.98 * (2 * half * width + math.pi / 4 * width**2):
        return contour(shape, scale)
    ends = (
        f'startX="{(x - dx) * scale}" startY="{(y - dy) * scale}" endX="{(x + dx) * scale}" endY="{(y + dy) * scale}"'
    )
    return f'<Line {ends}><LineDesc lineWidth="{width * scale}" lineEnd="ROUND"/></Line>'


def written(tmp_path: Path, board, scale: float, unit: str) -> Path:
    """A board's layers as one file, by the plain writer of this test."""
    layers: list[str] = []
    step = ""
    for side in board.sides:
        name = side.side.upper()
        for ref, x, y, turn, package in side.placements:
            step += (
                f'<Component refDes="{ref}" packageRef="{package}" layerRef="C{name}"><Xform rotation="{turn}"/>'
                f'<Location x="{x * scale}" y="{y * scale}"/></Component>'
            )
        for what, function, its in (
            ("P", "SOLDERPASTE", side.paste),
            ("M", "SOLDERMASK", side.mask),
            ("C", "CONDUCTOR", side.copper),
        ):
            if its is None:
                continue
            layers.append(f'<Layer name="{what}{name}" layerFunction="{function}" side="{name}"/>')
            shapes = "".join(
                f'<Pad><Location x="0" y="0"/>{contour(shape, scale)}'
                + (f'<PinRef componentRef="{part}" pin="{pin}"/>' if part else "")
                + "</Pad>"
                if kind == "flash"
                else f"<Features>{drawn(its, row, scale)}</Features>"
                for row, (shape, kind, part, pin) in enumerate(
                    zip(its.polygon, its.kind, its.component, its.pin, strict=True)
                )
            )
            step += feature(f"{what}{name}", shapes)
    holes = next((side.holes for side in board.sides if side.holes is not None), None)
    if holes is not None:
        layers.append('<Layer name="D" layerFunction="DRILL" side="ALL"/>')
        rows = zip(holes.x_mm, holes.y_mm, holes.diameter_mm, strict=True)
        step += feature(
            "D", "".join(f'<Hole x="{x * scale}" y="{y * scale}" diameter="{d * scale}"/>' for x, y, d in rows)
        )
    path = tmp_path / "board.xml"
    path.write_bytes(file_of(step, unit=unit, layers="".join(layers)))
    return path


@pytest.mark.skipif(not BOARDS.is_dir(), reason="../shared is not here")
@pytest.mark.parametrize(("scale", "unit"), [(1.0, "MILLIMETER"), (1 / 25.4, "INCH")])
def test_a_board_of_films_and_the_same_board_as_one_file_are_reviewed_alike(tmp_path, scale, unit):
    films = read_board(BOARDS / "snappergps", {}).board
    one = read_board(written(tmp_path, films, scale, unit), {}).board
    assert [side.side for side in one.sides] == [side.side for side in films.sides]
    for was, now in zip(films.sides, one.sides, strict=True):
        assert len(now.paste) == len(was.paste)
        assert np.sort(now.paste.area_mm2) == pytest.approx(np.sort(was.paste.area_mm2), abs=1e-4)
    asked = Asked(foils_um=(100,))
    found = [review(board, preset("ordinary"), asked) for board in (films, one)]
    for was, now in zip(found[0].sides, found[1].sides, strict=True):
        assert now.given.lands.basis == was.given.lands.basis == "copper and mask"
        assert len(now.given.parts) == pytest.approx(len(was.given.parts), rel=0.03)
        names = [{part.name for part in one.given.parts if part.named_by != "geometry"} for one in (was, now)]
        assert names[0]
        assert names[0] == names[1]
        assert now.given.under.code.tolist().count(2) == was.given.under.code.tolist().count(2)


def test_a_file_alone_or_in_a_folder_is_a_job_and_its_corrected_layer_can_be_written(tmp_path):
    from landwise.review.filmsout import films, writable

    slots = "".join(pad('<RectCenter width="0.8" height="0.2"/>', s * 2.6, 0.5 * k) for s in (-1, 1) for k in range(6))
    stray = pad('<RectCenter width="1" height="1"/>', 8, 8)
    lands = "".join(pad('<RectCenter width="0.9" height="0.3"/>', s * 2.6, 0.5 * k) for s in (-1, 1) for k in range(6))
    data = file_of(feature("P", slots + stray) + feature("T", lands) + feature("M", lands))
    path = tmp_path / "made up.xml"
    path.write_bytes(data)
    assert is_product_data(data)
    assert {one.role for one in open_job(path).layers} == {one.role for one in open_job(tmp_path).layers}
    read = read_board(path, {})
    result = writable(review(read.board, preset("ordinary"), Asked(foils_um=(100,), apply="safe")), read)
    made = films(result, read)["paste-top.gbr"]
    assert len(read_gerber(made, "paste-top.gbr").pads) == 12
