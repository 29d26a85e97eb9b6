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


def test_a_bounded_part_of_the_fuzzing_finds_no_crash():
    assert fuzz.by_chance(1.0, seed=18) > 10
