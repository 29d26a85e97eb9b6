"""One board in the dialects of real programs: the review finds the same, whatever wrote the files.

The board is the invented example. Its layers are written anew as older and other programs write them: without
attributes, in inches, with omitted zeros, with macros, painted with strokes;
drill files without decimal points; placement in mils.
Forms after the Gerber layer format specification (deprecated syntax, chapter 8) and IPC-NC-349 drill files.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

from landwise.assembly.lines import preset
from landwise.review.jobs import read_board
from landwise.review.reviews import review

EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "logger"
_spec = importlib.util.spec_from_file_location("make_fabrication", EXAMPLE / "make_fabrication.py")
assert _spec is not None
assert _spec.loader is not None
logger = importlib.util.module_from_spec(_spec)
sys.modules["make_fabrication"] = logger
_spec.loader.exec_module(logger)
PARTS = tuple(logger.parts())


def shapes_of(kind):
    """What lies on a layer: outlines in mm."""
    lands = [(part, land) for part in PARTS for land in part.lands]
    if kind == "paste":
        return [part.placed(land.opening()) for part, land in lands if land.paste is not None]
    if kind == "mask":
        return [part.placed(land.shape(land.mask)) for part, land in lands]
    return [part.placed(land.shape()) for part, land in lands] + [
        logger.shapely.Point(x, y).buffer(0.3) for x, y in logger.VIAS
    ]


def inch(value):
    """2.4 inches, leading zeros left out."""
    return f"{round(value / 25.4 * 10_000)}"


def old_inches(shapes):
    """RS-274X in inches as older programs write it: no attributes, tool changes by G54, rectangles and discs."""
    codes, body = {}, []
    for shape in shapes:
        low_x, low_y, high_x, high_y = shape.bounds
        disc = len(shape.exterior.coords) > 12
        size = (
            f"C,{(high_x - low_x) / 25.4:.5f}"
            if disc
            else f"R,{(high_x - low_x) / 25.4:.5f}X{(high_y - low_y) / 25.4:.5f}"
        )
        code = codes.setdefault(size, 10 + len(codes))
        body += [f"G54D{code}*", f"X{inch((low_x + high_x) / 2)}Y{inch((low_y + high_y) / 2)}D03*"]
    head = ["G04 PLOTTED BY HAND*", "%FSLAX24Y24*%", "%MOIN*%", "G70*", "G90*", "%LNLAYER*%", "%LPD*%"]
    return "\n".join([*head, *(f"%ADD{code}{size}*%" for size, code in codes.items()), *body, "M02*", ""])


def macros(shapes):
    """Millimetres with an aperture macro for every rectangle, trailing zeros left out, modal coordinates."""
    codes, body = {}, []
    last = (None, None)
    for shape in shapes:
        low_x, low_y, high_x, high_y = shape.bounds
        disc = len(shape.exterior.coords) > 12
        size = f"C,{high_x - low_x:.4f}" if disc else f"PAD,{high_x - low_x:.4f}X{high_y - low_y:.4f}"
        code = codes.setdefault(size, 20 + len(codes))
        at = tuple(
            f"{round(value * 1000):06d}".rstrip("0") or "0" for value in ((low_x + high_x) / 2, (low_y + high_y) / 2)
        )
        body += [f"D{code}*"]
        body += ["".join(f"{axis}{now}" for axis, now, was in zip("XY", at, last, strict=True) if now != was) + "D03*"]
        last = at
    head = ["%FSTAX33Y33*%", "%MOMM*%", "%AMPAD*", "21,1,$1,$2,0,0,0*%"]
    return "\n".join([*head, *(f"%ADD{code}{size}*%" for size, code in codes.items()), *body, "M02*", ""])


def regions(shapes):
    """Every shape as an outline in incremental order of corners, as programs do that export any shape alike."""
    body = []
    for shape in shapes:
        (x, y), *rest = [(round(x * 1e5), round(y * 1e5)) for x, y in shape.exterior.coords]
        body += ["G36*", f"X{x}Y{y}D02*", *(f"G01X{x}Y{y}D01*" for x, y in rest), "G37*"]
    return "\n".join(["%FSLAX45Y45*%", "%MOMM*%", "%LPD*%", *body, "M02*", ""])


def painted(shapes):
    """Rectangles painted with strokes of a round 0.1 mm aperture, as the oldest plots are; discs flashed."""
    codes, body = {}, []
    for shape in shapes:
        low_x, low_y, high_x, high_y = shape.bounds
        if len(shape.exterior.coords) > 12:
            code = codes.setdefault(f"C,{high_x - low_x:.4f}", 11 + len(codes))
            body += [f"D{code}*", f"X{round((low_x + high_x) * 5e4)}Y{round((low_y + high_y) * 5e4)}D03*"]
            continue
        body.append("D10*")
        for y in np.linspace(low_y + 0.05, high_y - 0.05, int(np.ceil((high_y - low_y) / 0.08))):
            left, right = round((low_x + 0.05) * 1e5), round((high_x - 0.05) * 1e5)
            body += [f"X{left}Y{round(y * 1e5)}D02*", f"X{right}D01*"]
    head = ["%FSLAX45Y45*%", "%MOMM*%", "%ADD10R,0.1X0.1*%"]
    return "\n".join([*head, *(f"%ADD{code}{size}*%" for size, code in codes.items()), "G01*", *body, "M02*", ""])


def inch_drill(places):
    """A drill file in inches, leading zeros kept, no decimal points."""
    sizes = sorted({size for _, _, size in places})
    lines = ["M48", "INCH,LZ", *(f"T{n:02d}C{size / 25.4:.4f}" for n, size in enumerate(sizes, 1)), "%"]
    for n, size in enumerate(sizes, 1):
        lines += [
            f"T{n:02d}",
            *(f"X{round(x / 2.54 * 1000):06d}Y{round(y / 2.54 * 1000):06d}" for x, y, its in places if its == size),
        ]
    return "\n".join([*lines, "M30", ""])


def metric_drill(places):
    """A metric drill file in three decimals, trailing zeros kept, Windows line ends."""
    sizes = sorted({size for _, _, size in places})
    lines = ["M48", "METRIC,TZ,000.000", *(f"T{n}C{size:.3f}" for n, size in enumerate(sizes, 1)), "%"]
    for n, size in enumerate(sizes, 1):
        lines += [f"T{n}", *(f"X{round(x * 1000)}Y{round(y * 1000)}" for x, y, its in places if its == size)]
    return "\r\n".join([*lines, "M30", ""])


def mils(parts):
    rows = [
        f'"{part.ref}","{part.value}","{part.package}","{part.x / 0.0254:.2f}mil","{part.y / 0.0254:.2f}mil"'
        f',"{part.angle:.2f}","T"'
        for part in parts
    ]
    return "\r\n".join(["Designator,Comment,Footprint,Mid X,Mid Y,Rotation,Layer", *rows, ""])


def spaced(parts):
    rows = [
        f"{part.ref:<8}{part.value.replace(' ', '_'):<20}{part.package:<12}"
        f"{part.x:>10.4f}{part.y:>10.4f}{part.angle:>9.2f}  top"
        for part in parts
    ]
    return "\n".join(
        [
            "### Module positions - invented ###",
            "## Unit = mm, Angle = deg.",
            f"{'# Ref':<8}{'Val':<20}{'Package':<12}{'PosX':>10}{'PosY':>10}{'Rot':>9}  Side",
            *rows,
            "## End",
            "",
        ]
    )


DIALECTS = {
    "inches and omitted zeros": (old_inches, inch_drill, mils, {"paste": "x.gtp", "copper": "x.gtl", "mask": "x.gts"}),
    "macros": (
        macros,
        metric_drill,
        spaced,
        {"paste": "Paste_Top.gbr", "copper": "Copper_Top.gbr", "mask": "Mask_Top.gbr"},
    ),
    "regions": (
        regions,
        inch_drill,
        spaced,
        {"paste": "l-F_Paste.gbr", "copper": "l-F_Cu.gbr", "mask": "l-F_Mask.gbr"},
    ),
    "strokes": (
        painted,
        metric_drill,
        mils,
        {"paste": "solderpaste_top.ger", "copper": "copper_top.ger", "mask": "soldermask_top.ger"},
    ),
}


def found_in(folder):
    read = read_board(folder, {})
    result = review(read.board, preset("ordinary"))
    # A fiducial is in no placement file: only attributes name it.
    named = [(one.key, "" if one.key == "fiducial" else one.component, one.level) for one in result.findings]
    return read, sorted(named)


@pytest.fixture(scope="module")
def usual():
    return found_in(EXAMPLE / "fabrication")[1]


@pytest.mark.parametrize("name", DIALECTS)
def test_the_same_board_is_judged_the_same_in_every_dialect(tmp_path, usual, name):
    written, drilled, placed, names = DIALECTS[name]
    for kind, file in names.items():
        # Paste was painted long after copper was not: a land is told from its track while shapes are apart.
        writer = regions if written is painted and kind != "paste" else written
        (tmp_path / file).write_text(writer(shapes_of(kind)), encoding="ascii", newline="")
    holes = [
        (*part.placed(logger.shapely.Point(land.x, land.y)).coords[0], land.hole)
        for part in PARTS
        for land in part.lands
        if land.hole
    ]
    holes += [(x, y, logger.VIA_MM) for x, y in logger.VIAS]
    (tmp_path / "holes.drl").write_text(drilled(holes), encoding="ascii", newline="")
    (tmp_path / ("positions.pos" if placed is spaced else "positions.csv")).write_text(
        placed([part for part in PARTS if part.package != "FIDUCIAL"]), encoding="ascii", newline=""
    )
    read, found = found_in(tmp_path)
    assert [note for note in read.board.notes if "left out" in note] == []
    assert found == usual
