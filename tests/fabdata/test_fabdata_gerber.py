"""The Gerber reader, feature by feature, against areas that are known and against two libraries."""

import importlib.util
import io
import math
import random
import sys
import warnings
import zipfile
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
import shapely

from landwise.errors import FileError, InputError, LandwiseError
from landwise.fabdata.drills import read_drill
from landwise.fabdata.gerber import Limits, edited, read_gerber, write_gerber
from landwise.fabdata.layerroles import recognise
from landwise.fabdata.layers import open_job

FUZZ = Path(__file__).resolve().parents[2] / "fuzz"
HEAD = "%FSLAX46Y46*%%MOMM*%"


def area_of(body: str, head: str = HEAD) -> float:
    return float(read_gerber((head + body + "M02*").encode(), "layer.gbr").pads.area_mm2.sum())


CASES = {
    "circle": ("%ADD10C,2*%D10*X0Y0D03*", math.pi),
    "circle with a hole": ("%ADD10C,2X1*%D10*X0Y0D03*", math.pi * 0.75),
    "rectangle": ("%ADD10R,2X1*%D10*X0Y0D03*", 2.0),
    "oblong": ("%ADD10O,3X1*%D10*X0Y0D03*", 2 + math.pi / 4),
    "hexagon": ("%ADD10P,2X6*%D10*X0Y0D03*", 6 * math.sqrt(3) / 4),
    "macro with arithmetic": ("%AMAB*$3=$1x2*21,1,$3,$2-0.5,0,0,30*%%ADD10AB,1X1.5*%D10*X0Y0D03*", 2.0),
    "macro cut by exposure off": ("%AMAB*21,1,2,2,0,0,0*21,0,1,1,0,0,0*%%ADD10AB*%D10*X0Y0D03*", 3.0),
    "macro outline": ("%AMAB*4,1,3,0,0,2,0,0,2,0,0,0*%%ADD10AB*%D10*X0Y0D03*", 2.0),
    "macro of one letter, polygon": ("%AMT*5,1,4,0,0,2,0*%%ADD10T*%D10*X0Y0D03*", 2.0),
    "macro thermal": ("%AMAB*7,0,0,2,1,0,0*%%ADD10AB*%D10*X0Y0D03*", math.pi * 0.75),
    "macro vector line": ("%AMAB*20,1,0.5,0,0,2,0,45*%%ADD10AB*%D10*X0Y0D03*", 1.0),
    "macro lower left": ("%AMAB*22,1,2,0.5,1,1,0*%%ADD10AB*%D10*X0Y0D03*", 1.0),
    "repeat": ("%ADD10R,1X1*%%SRX3Y2I2J2*%D10*X0Y0D03*%SR*%", 6.0),
    "clear on dark": ("%ADD10R,2X2*%%ADD11R,1X1*%D10*X0Y0D03*%LPC*%D11*X0Y0D03*%LPD*%", 3.0),
    "dark again in the clear": (
        "%ADD10R,2X2*%%ADD11R,1X1*%%ADD12R,.5X.5*%D10*X0Y0D03*%LPC*%D11*X0Y0D03*%LPD*%D12*X0Y0D03*",
        3.25,
    ),
    "scaled and turned": ("%ADD10R,2X1*%%LS0.5*%%LR90*%D10*X0Y0D03*", 0.5),
    "block": ("%ABD12*%%ADD10R,1X1*%D10*X0Y0D03*X3000000Y0D03*%AB*%D12*X0Y0D03*X0Y5000000D03*", 4.0),
    "block within a block": (
        "%ABD13*%%ABD12*%%ADD10R,1X1*%D10*X0Y0D03*%AB*%D12*X0Y0D03*X2000000Y0D03*%AB*%D13*X0Y0D03*X0Y5000000D03*",
        4.0,
    ),
    "stroke": ("%ADD10C,1*%D10*X0Y0D02*X3000000D01*", 3 + math.pi / 4),
    "stroke with a rectangle": ("%ADD10R,1X1*%D10*X0Y0D02*X3000000D01*", 4.0),
    "region": ("G36*X0Y0D02*X2000000D01*Y1000000D01*X0D01*Y0D01*G37*", 2.0),
    "region with an arc": ("G75*G36*X1000000Y0D02*G03*X-1000000Y0I-1000000J0D01*G01*X1000000D01*G37*", math.pi / 2),
    "region with a single-quadrant arc": (
        "G74*G36*X0Y0D02*X1000000D01*G03*X0Y1000000I1000000J0D01*G01*X0Y0D01*G37*",
        math.pi / 4,
    ),
    "full circle drawn": (
        "%ADD10C,0.2*%G75*D10*X1000000Y0D02*G03*X1000000Y0I-1000000J0D01*",
        math.pi * (1.1**2 - 0.9**2),
    ),
    "two contours": (
        "G36*X0Y0D02*X1000000D01*Y1000000D01*X0Y0D01*X5000000Y0D02*X6000000D01*Y1000000D01*X5000000Y0D01*G37*",
        1.0,
    ),
    "flashes without their code": ("%ADD10R,1X1*%D10*X0Y0D03*X3000000Y0*X6000000Y0*", 3.0),
    "strokes that paint a pad": ("%ADD10R,1X1*%D10*X0Y0D02*X1000000D01*X1000000Y500000D02*X0D01*", 3.0),
}


@pytest.mark.parametrize("name", CASES)
def test_each_feature_has_its_analytic_area(name):
    body, area = CASES[name]
    assert area_of(body) == pytest.approx(area, rel=1e-3)


# What each library leaves out or reads otherwise, measured one by one (November 2026, gerbonara 1.5.0, pygerber 2.4.3).
NOT_GERBONARA = {
    "macro of one letter, polygon": "no such macro name",
    "macro thermal": "raises NameError",
    "macro lower left": "refused",
    "repeat": "one of six",
    "scaled and turned": "not applied",
    "block": "not supported",
    "block within a block": "not supported",
    "stroke with a rectangle": "drawn round",
    "strokes that paint a pad": "drawn round",
    "flashes without their code": "refused",
}
NOT_PYGERBER = {
    "macro thermal": "drawn empty",
    "macro lower left": "refused",
    "region with a single-quadrant arc": "wrong arc",
    "flashes without their code": "drawn as strokes",
}


@pytest.mark.parametrize("name", [name for name in CASES if name not in NOT_GERBONARA])
def test_a_library_of_vectors_finds_the_same_area(name):
    """Source: gerbonara's primitives, polygons of 128 corners made of them here."""
    second = load("make_gerber_agreement", Path(__file__).resolve().parents[2] / "docs").second
    body, area = CASES[name]
    assert second((HEAD + body + "M02*").encode())[1] == pytest.approx(area, rel=1e-3)
    assert area_of(body) == pytest.approx(second((HEAD + body + "M02*").encode())[1], rel=1e-3)


@pytest.mark.parametrize("name", [name for name in CASES if name not in NOT_PYGERBER])
def test_a_library_of_pixels_finds_the_same_area(name):
    """Source: pygerber's raster; an edge is out by up to a pixel of 5 µm."""
    body, _ = CASES[name]
    pads = read_gerber((HEAD + body + "M02*").encode(), "layer.gbr").pads
    edge = float(shapely.length(pads.polygon).sum())
    assert raster_area(HEAD + body + "M02*") == pytest.approx(float(pads.area_mm2.sum()), abs=edge * 0.005)


def load(module, folder):
    spec = importlib.util.spec_from_file_location(module, folder / f"{module}.py")
    found = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(found)
    return found


def raster_area(text, per_mm=200):
    """Dark area of a raster by pygerber. [mm²]"""
    into = io.BytesIO()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library's own, of the parser below it
        from PIL import Image
        from pygerber.gerberx3.api.v2 import GerberFile, ImageFormatEnum

        GerberFile.from_str(text).parse().render_raster(into, dpmm=per_mm, image_format=ImageFormatEnum.PNG)
    pixels = np.asarray(Image.open(io.BytesIO(into.getvalue())).convert("RGB")).astype(np.int16)
    return float((np.abs(pixels - (40, 143, 40)).sum(axis=-1) < 20).sum()) / per_mm**2  # its colour of dark


def test_inch_and_omitted_zeros_and_increments_mean_the_same():
    mm = area_of("%ADD10R,2.54X2.54*%D10*X25400000Y0D03*")
    assert area_of("%ADD10R,.1X.1*%D10*X10000Y0D03*", "%FSLAX24Y24*%%MOIN*%") == pytest.approx(mm)
    trailing = read_gerber(b"%FSTAX24Y24*%%MOIN*%%ADD10R,.1X.1*%D10*X01Y002D03*M02*", "a")
    assert (trailing.pads.x_mm[0], trailing.pads.y_mm[0]) == pytest.approx((25.4, 5.08))
    steps = read_gerber(b"%FSLIX24Y24*%%MOIN*%%ADD10R,.01X.01*%D10*X10000Y0D03*X10000Y0D03*M02*", "a")
    assert steps.pads.x_mm == pytest.approx([25.4, 50.8])
    both = read_gerber(b"%FSLAX25Y25*MOIN*%%ADD10R,.1X.1*%G54D10*X100000Y0D03*M02*", "a")
    assert both.pads.x_mm[0] == pytest.approx(25.4)


def test_a_file_without_a_unit_is_taken_as_inches_and_says_so():
    layer = read_gerber(b"%FSLAX24Y24*%%ADD10R,.1X.1*%D10*X0Y0D03*M02*", "a")
    assert layer.unit == "inch"
    assert any("no unit" in note for note in layer.notes)


def test_attributes_name_the_component_and_pin_in_both_forms():
    for form in ("%TO.P,U3,7*%", "G04 #@! TO.P,U3,7*"):
        pads = read_gerber(f"{HEAD}%ADD10R,1X1*%{form}D10*X0Y0D03*%TD*%X5000000D03*M02*".encode(), "a").pads
        assert (pads.component[0], pads.pin[0]) == ("U3", "7")
    assert read_gerber(b"%TF.FileFunction,Paste,Top*%%FSLAX46Y46*%%MOMM*%M02*", "a").attributes[".FileFunction"] == (
        "Paste",
        "Top",
    )


HOSTILE = {
    "cut short": HEAD + "%ADD10R,1X1*%D10*X0Y0",
    "binary": "\0\1\2\3" * 100,
    "empty": "",
    "macro without end": HEAD + "%AMA*1,1,1,0,0*",
    "macro that is not defined": HEAD + "%ADD10NOPE,1*%M02*",
    "huge repeat": HEAD + "%ADD10R,1X1*%%SRX100000Y100000I1J1*%D10*X0Y0D03*%SR*%M02*",
    "coordinates out of reach": HEAD + "%ADD10R,1X1*%D10*X99999999999999999Y0D03*M02*",
    "size of 1e308": HEAD + "%ADD10R,1e308X1*%D10*X0Y0D03*M02*",
    "size that is no number": HEAD + "%ADD10R,nanX1*%D10*X0Y0D03*M02*",
    "division by zero": HEAD + "%AMA*1,1,1/0,0,0*%%ADD10A*%M02*",
    "deep brackets": HEAD + "%AMA*1,1," + "(" * 300 + "1" + ")" * 300 + ",0,0*%%ADD10A*%M02*",
    "polygon of 1e8 corners": HEAD + "%ADD10P,1X100000000*%D10*X0Y0D03*M02*",
    "block without end": HEAD + "%ABD10*%M02*",
    "blocks nested deep": HEAD + "".join(f"%ABD{k}*%" for k in range(10, 40)) + "M02*",
    "block that flashes itself": HEAD + "%ABD10*%D10*X0Y0D03*%AB*%M02*",
    "flash before an aperture": HEAD + "X0Y0D03*M02*",
    "unknown code": HEAD + "G99*M02*",
    "region not closed": HEAD + "G36*X0Y0D02*X1D01*M02*",
    "negative image": HEAD + "%IPNEG*%M02*",
    "turned image": HEAD + "%IR90*%M02*",
    "megabyte without a star": "X" * 1_000_000,
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_files_end_with_one_clear_message(name):
    with pytest.raises(FileError) as caught:
        read_gerber(HOSTILE[name].encode("latin-1"), "evil.gbr")
    assert "evil.gbr" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_blocks_that_double_and_double_again_are_stopped():
    body = HEAD + "%ADD10R,1X1*%%ABD11*%D10*X0Y0D03*%AB*%"
    for k in range(12, 50):
        body += f"%ABD{k}*%D{k - 1}*X0Y0D03*X1Y0D03*%AB*%"
    with pytest.raises(FileError, match="too many objects"):
        read_gerber((body + "M02*").encode(), "a", Limits(objects=50_000))


def test_mutated_files_are_read_or_refused_but_never_crash():
    """Seeded mutations of every feature; a longer run is `make fuzz`."""
    rng = random.Random(5)
    refusals = []
    seeds = [(HEAD + body + "M02*").encode() for body, _ in CASES.values()]
    for _ in range(400):
        data = bytearray(rng.choice(seeds))
        for _ in range(rng.randint(1, 6)):
            at = rng.randrange(len(data))
            what = rng.random()
            if what < 0.4:
                data[at] = rng.choice(b"0123456789XYIJDGM*%,.-+$()ACLRTSOP")
            elif what < 0.7:
                del data[at : at + rng.randint(1, 5)]
            else:
                data[at:at] = data[rng.randrange(len(data)) :][: rng.randint(1, 12)]
            if not data:
                data = bytearray(b"*")
        try:
            read_gerber(bytes(data), "mutant.gbr", Limits(objects=20_000, vertices=200_000))
        except LandwiseError as error:
            refusals.append(str(error))
    assert len(refusals) > 50
    assert all("mutant.gbr" in text for text in refusals)


def test_written_layers_read_back_to_the_nanometre():
    rng = np.random.default_rng(3)
    shapes = [shapely.box(x, 0, x + round(rng.uniform(0.2, 0.6), 6), round(rng.uniform(0.2, 1), 6)) for x in range(20)]
    shapes += [shapely.Point(x, 5).buffer(0.3, quad_segs=8) for x in range(5)]
    shapes.append(shapely.box(0, 10, 3, 13).difference(shapely.box(1, 11, 2, 12)))
    names = [f"U{k}" for k in range(len(shapes))]
    layer = read_gerber(write_gerber(shapes, {".FileFunction": ("Paste", "Top")}, components=names), "out.gbr")
    found = dict(zip(layer.pads.component, layer.pads.polygon, strict=True))
    for name, shape in zip(names, shapes, strict=True):
        assert shapely.hausdorff_distance(found[name], shape) < 1e-6
    assert layer.pads.area_mm2.sum() == pytest.approx(sum(shape.area for shape in shapes), rel=1e-6)


def test_an_edited_layer_keeps_every_untouched_opening_and_takes_exactly_the_new_ones():
    body = (
        b"%FSLAX25Y25*MOIN*%%ADD10R,.04X.02*%%ADD11C,.03*%%TO.C,R1*%D10*X0Y0D03*X50000Y0*X100000Y0*%TO.C,R2*%D11*Y50000D03*"
        b"G36*X0Y100000D02*X20000D01*Y120000D01*X0Y100000D01*X50000D02*X70000D01*Y120000D01*X50000Y100000D01*G37*"
        b"D11*X0Y200000D02*X50000D01*M02*"
    )
    layer = read_gerber(body, "paste.gtp")
    gone = [
        1,
        next(k for k in range(len(layer.pads)) if abs(layer.pads.y_mm[k] - 27.94) < 1 and layer.pads.x_mm[k] < 5),
    ]
    new = [shapely.box(1.2345671, 2, 1.7, 2.3333333), shapely.Point(3.1, 3.3).buffer(0.2)]
    again = read_gerber(edited(layer, gone, new, ["R1", "R2"]), "paste.gtp")
    assert len(again.pads) == len(layer.pads) - 2 + 2
    kept = [layer.pads.polygon[k] for k in range(len(layer.pads)) if k not in gone]
    tree = shapely.STRtree(again.pads.polygon)
    for shape in [*kept, *new]:
        near = again.pads.polygon[tree.nearest(shape)]
        assert shapely.hausdorff_distance(near, shape) < 1e-6


def test_nothing_changed_is_written_byte_for_byte():
    data = (HEAD + CASES["two contours"][0] + "M02*").encode()
    layer = read_gerber(data, "a.gtp")
    assert edited(layer, [], []) == data


def test_an_opening_of_a_repeat_is_not_changed_alone():
    layer = read_gerber((HEAD + CASES["repeat"][0] + "M02*").encode(), "a.gtp")
    with pytest.raises(InputError, match="a block or a repeat"):
        edited(layer, [0], [])


DRILLS = {
    "points": ("M48\nMETRIC\nT1C0.3\n%\nT1\nX1.5Y2.0\nM30\n", 1.5, 2.0),
    "trailing kept": ("M48\nMETRIC,TZ,000.000\nT1C0.3\n%\nT1\nX1500Y2000\nM30\n", 1.5, 2.0),
    "leading kept": ("M48\nMETRIC,LZ,000.000\nT1C0.3\n%\nT1\nX0015Y002\nM30\n", 1.5, 2.0),
    "inch": ("M48\nINCH,TZ\nT1C0.0118\n%\nT1\nX10000Y20000\nM30\n", 25.4, 50.8),
}


@pytest.mark.parametrize("name", DRILLS)
def test_drill_dialects_give_the_same_hole(name):
    text, x, y = DRILLS[name]
    pads = read_drill(text.encode(), "board.drl").pads
    assert (pads.x_mm[0], pads.y_mm[0]) == pytest.approx((x, y))
    assert pads.width_mm[0] == pytest.approx(0.3, rel=2e-3)


def test_slots_are_capsules_whether_drilled_or_routed():
    for body in ("X0Y0G85X3.0Y0", "G00X0Y0\nM15\nG01X3.0Y0\nM16"):
        pads = read_drill(f"M48\nMETRIC\nT1C1.0\n%\nG05\nT1\n{body}\nM30\n".encode(), "a.drl").pads
        assert pads.area_mm2.sum() == pytest.approx(3 + math.pi / 4, rel=1e-3)


@pytest.mark.parametrize(
    ("name", "role"),
    [
        ("board-F_Paste.gbr", "paste-top"),
        ("solderpaste_bottom.gbr", "paste-bottom"),
        ("spse.gbr", "paste-bottom"),
        ("x.gts", "mask-top"),
        ("TOP.art", "copper-top"),
        ("panel.bp", "paste-bottom"),
        ("Edge_Cuts.gbr", "outline"),
        ("copper_bottom_l4.gbr", "copper-bottom"),
        ("b.In1_Cu.g2", "copper-inner"),
        ("notes.gbr", "other"),
    ],
)
def test_layers_without_attributes_are_told_by_name(name, role):
    assert recognise(name, b"%FSLAX24Y24*%%MOIN*%M02*")[0] == role


def test_zips_that_lead_out_or_blow_up_are_refused(tmp_path):
    for number, (name, data) in enumerate(
        [("../evil.gtp", b"M02*"), ("/evil.gtp", b"M02*"), ("a.gtp", b" " * 50_000_000)]
    ):
        path = tmp_path / f"{number}.zip"
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr(name, data)
        with pytest.raises(FileError):
            open_job(path)
    broken = tmp_path / "broken.zip"
    broken.write_bytes((tmp_path / "0.zip").read_bytes()[:-30])
    job = open_job(broken)
    assert job.layers[0].role == "other"


def test_an_override_outranks_what_is_recognised(tmp_path):
    (tmp_path / "a.gtp").write_bytes(b"%FSLAX46Y46*%%MOMM*%M02*")
    (tmp_path / "b.gbr").write_bytes(b"%FSLAX46Y46*%%MOMM*%M02*")
    roles = {layer.file: layer.role for layer in open_job(tmp_path, {"paste-top": "b.gbr"}).layers}
    assert roles == {"a.gtp": "other", "b.gbr": "paste-top"}
    with pytest.raises(InputError, match="no such file"):
        open_job(tmp_path, {"paste-top": "c.gbr"})
    with pytest.raises(InputError, match="unknown role"):
        open_job(tmp_path, {"glue": "b.gbr"})


def fuzzer():
    sys.path.insert(0, str(FUZZ))
    try:
        import fuzz_gerber
    finally:
        sys.path.remove(str(FUZZ))
    return fuzz_gerber


def test_a_short_run_of_the_fuzzer_crashes_nothing():
    count, crash = fuzzer().guided(60.0, most=400)
    assert crash == ""
    assert count == 400


def test_the_fuzzer_climbs_where_chance_alone_does_not(monkeypatch):
    """Four statements together, of some hundred: one input in 10^8 by chance, some thousands where each is kept."""
    fuzz = fuzzer()
    words = (b"G74*", b"%LR45*%", b"%IPNEG*%", b"M15")
    lines = [f"{'    ' * (k + 1)}if {word!r} in data:" for k, word in enumerate(words)]
    source = "\n".join(["def read(data, *_):", *lines, "                    raise IndexError(data)"])
    steps = ModuleType("steps")
    steps.__file__ = "steps"
    exec(compile(source, "steps", "exec"), steps.__dict__)
    monkeypatch.setattr(fuzz, "followed", lambda: [steps])
    monkeypatch.setattr(fuzz, "read_gerber", steps.read)
    monkeypatch.setattr(fuzz, "read_drill", lambda *_: None)
    count, crash = fuzz.guided(60.0, most=60_000)
    assert "IndexError" in crash
    assert count > 100
    monkeypatch.setattr(fuzz, "followed", list)  # no line is followed: nothing is kept, and nothing found
    assert fuzz.guided(60.0, most=2 * count) == (2 * count, "")
