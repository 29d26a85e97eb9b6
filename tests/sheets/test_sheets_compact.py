"""Marks written small: read back by the path commands of SVG 1.1, section 8.3, they are the marks that went in."""

from __future__ import annotations

import re

import numpy as np
import pytest

from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import Foil, print_part
from landwise.sheets.compact import compact
from landwise.sheets.look import LIGHT, NARROW, Stroke
from landwise.sheets.plan import top_view
from landwise.sheets.profile import side_pieces, side_view
from landwise.sheets.svg import Area, Disc, Writer, line, rectangle

PEN = Stroke("ink", NARROW)
PARTS = ("SSOP-48", "QFN-24-4x4", "DIP-14", "SON-5-0.8x0.8")


def corners(text):
    """Corners of each run of the paths of a text; the first one again where a run is closed."""
    found = []
    for path in re.findall(r'<path d="([^"]*)"', text):
        for letter, numbers in re.findall(r"([Mhvlaz])([^Mhvlaz]*)", path):
            given = [float(one) for one in numbers.split()]
            at = found[-1][-1] if found else (0.0, 0.0)
            if letter == "M":
                found.append([tuple(given)])
            elif letter != "z":
                step = (given[0], 0.0) if letter == "h" else (0.0, given[0]) if letter == "v" else given[-2:]
                found[-1].append((at[0] + step[0], at[1] + step[1]))
    return found


@pytest.fixture(scope="module", params=PARTS)
def part(request):
    outline = find(request.param)
    pattern = land_pattern(outline)
    printed = print_part(pattern, Foil(100), outline=outline)
    return outline, pattern, printed if printed.apertures else None


def test_every_mark_is_there_in_its_place_and_in_its_order(part):
    outline, pattern, printed = part
    marks = top_view(outline, pattern, printed, magnification=10).marks
    wanted = [
        [(x, y) for x, y, _ in run] if isinstance(mark, Area) else [(mark.x - mark.radius, mark.y)]
        for mark in marks
        for run in (mark.runs if isinstance(mark, Area) else [None])
    ]
    found = corners(compact(marks, Writer(LIGHT, "lw")))
    assert len(found) == len(wanted)
    worst = max(float(np.abs(np.array(a)[: len(b)] - np.array(b)).max()) for a, b in zip(found, wanted, strict=True))
    assert worst <= 0.00051  # mm on paper: rounded once, nothing adds up


def test_it_is_far_smaller_than_mark_by_mark(part):
    outline, pattern, printed = part
    marks = top_view(outline, pattern, printed, magnification=10).marks
    long = "\n".join(mark.write(Writer(LIGHT, "lw")) for mark in marks)
    small = compact(marks, Writer(LIGHT, "lw"))
    assert small.count("<path") <= 12
    assert len(small) < (0.35 if len(marks) > 60 else 0.9) * len(long)


def test_a_mark_that_touches_another_stays_above_it():
    marks = [rectangle((x, 0.0, x + 2.0, 1.0), "metal", PEN) for x in (0.0, 1.0, 5.0)]
    assert compact(marks, Writer(LIGHT, "lw")).count("<path") == 2
    beside = [rectangle((x, 0.0, x + 1.0, 1.0), "metal", Stroke("ink", 0.5)) for x in (0.0, 1.4)]
    assert compact(beside, Writer(LIGHT, "lw")).count("<path") == 2  # their outlines overlap
    assert compact([line([(0, 0), (1, 1)], PEN), line([(0, 1), (1, 0)], PEN)], Writer(LIGHT, "lw")).count("<") == 1


def test_circles_of_one_look_are_one_path():
    text = compact([Disc(x, 0.0, 1.0, "ochre") for x in (0.0, 3.0)], Writer(LIGHT, "lw"))
    assert text.count("<path") == 1
    assert text.count("a1 1 0 0 1 2 0") == text.count("a1 1 0 0 1 -2 0") == 2


def test_a_side_view_in_pieces_is_the_side_view(part):
    outline, pattern, printed = part
    pieces = side_pieces(outline, pattern, printed, magnification=10)
    there = (*pieces.still().marks, *pieces.solder().marks, *pieces.part().moved(0.0, -pieces.lift).marks)
    whole = side_view(outline, pattern, printed, magnification=10).picture.marks
    assert np.array([mark.box for mark in there]) == pytest.approx(np.array([mark.box for mark in whole]), abs=1e-9)
