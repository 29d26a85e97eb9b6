"""Layers that ask for more than they may are refused with the limit they break; the same set as the fuzz target's."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

from landwise.errors import LandwiseError
from landwise.fabdata.gerber import read_gerber
from landwise.fabdata.gerber.compose import compose

_spec = importlib.util.spec_from_file_location(
    "fuzz_gerber", Path(__file__).resolve().parents[2] / "fuzz" / "fuzz_gerber.py"
)
assert _spec is not None
assert _spec.loader is not None
fuzz = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(fuzz)
SAID = {
    "a macro that divides by zero": "division by zero",
    "a macro of brackets in brackets": "not an expression",
    "a macro of very many primitives": "more than 5000 primitives",
    "a polygon of very many corners": "corners, expected 3 to 12",
    "a block that flashes itself": "an aperture is used that is not defined",
    "blocks that are never closed": "nested too deep",
    "a negative aperture": "a size is negative",
    "an aperture that is no number": "out of reach",
    "a place that is no number": "can't be understood",
    "a place with an exponent": "can't be understood",
    "a place of very many digits": "too many digits",
    "arcs as wide as a country": "out of reach",
    "a region that crosses itself": "crosses itself too often",
    "flashes over each other": "at most 400000",
    "strokes across each other": "at most 400000",
    "repeats of repeats": "too many copies",
    "very many apertures": "at most 50000",
    "blocks that double": "at most 1000000",
    "a format of nine digits": "line 2: a coordinate format that the specification does not have; found FSLAX99Y99",
    "a format of no digits": "expected 0 to 6 digits before the decimal point",
    "blanks without end": "not a Gerber file; found 'q'",
}


@pytest.mark.parametrize(("name", "data"), fuzz.hostile())
def test_a_hostile_layer_is_refused_by_its_limit_or_read(name, data):
    if name not in SAID:
        assert len(read_gerber(data, name).pads) == 1
        return
    with pytest.raises(LandwiseError, match=SAID[name]):
        read_gerber(data, name)


def test_blocks_that_double_and_clear_that_follows_dark_are_refused_at_their_limit():
    head = "%FSLAX46Y46*%%MOMM*%%ADD10C,5*%"
    blocks = "".join(f"%ABD{11 + k}*%D{10 + k}*X0Y0D03*X1000000Y0D03*%AB*%" for k in range(9))
    with pytest.raises(LandwiseError, match="too many objects"):
        read_gerber((head + blocks + "D19*" + "X0Y0D03*" * 60 + "M02*").encode(), "b", fuzz.SMALL)
    turns = "".join(f"%LP{'DC'[k % 2]}*%X{k * 6_000_000 % 10**9}Y{k // 150 * 6_000_000}D03*" for k in range(400))
    drawn: list = []

    def seen(objects):
        drawn[:] = objects
        return objects

    read_gerber((head + "D10*" + turns + "M02*").encode(), "c", pick=seen)
    with pytest.raises(LandwiseError, match="clear follows dark too often"):
        compose(drawn, most_clearings=1000)


@pytest.mark.parametrize("aperture", ["C,0", "C,0.0X0", "R,0X1", "O,1X0", "P,0X4", "NIL"])
def test_an_aperture_of_size_nothing_marks_a_place_and_prints_nothing(aperture):
    """Gerber layer format specification, section 4.3, "Zero-size Apertures": they do not affect the image."""
    macro = "%AMNIL*1,1,0,0,0*21,1,0,1,0,0,0*%"
    text = f"%FSLAX46Y46*%%MOMM*%{macro}%ADD10{aperture}*%%ADD11C,1*%D10*X0Y0D03*X2000000D03*D11*X5000000Y0D03*M02*"
    layer = read_gerber(text.encode(), "a")
    assert layer.pads.x_mm.tolist() == [5.0]
    assert "2 flashes or strokes of apertures without area: they mark places and print nothing" in layer.notes


@pytest.mark.parametrize(
    ("digits", "x_mm"), [("X46Y46", 1.0), ("X36Y36", 1.0), ("X25Y25", 10.0), ("X24Y24", 100.0), ("X06Y06", 1.0)]
)
def test_formats_of_the_specification_and_its_forerunners_are_read(digits, x_mm):
    """Same, section 4.2, "Format Specification (FS)"."""
    text = f"%FSLA{digits}*%%MOMM*%%ADD10C,1*%D10*X1000000Y0D03*M02*"
    assert read_gerber(text.encode(), "a").pads.x_mm.tolist() == [pytest.approx(x_mm)]


def test_two_formats_in_one_statement_are_said():
    layer = read_gerber(b"%FSLAX46Y45*%%MOMM*%%ADD10C,1*%D10*X1000000Y100000D03*M02*", "a")
    assert layer.pads.y_mm.tolist() == [1.0]
    assert any("formats of their own" in note for note in layer.notes)


def test_a_bounded_part_of_the_fuzzing_finds_no_crash():
    assert fuzz.guided(60.0, seed=18, most=200) == (200, "")
