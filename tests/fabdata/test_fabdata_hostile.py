"""Layers that ask for more than they may are refused with the limit they break; the same set as the fuzz target's."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

from landwise.errors import LandwiseError
from landwise.fabdata.gerber import read_gerber

_spec = importlib.util.spec_from_file_location(
    "fuzz_gerber", Path(__file__).resolve().parents[2] / "fuzz" / "fuzz_gerber.py"
)
assert _spec is not None
assert _spec.loader is not None
fuzz = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(fuzz)
SAID = {
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


def test_a_bounded_part_of_the_fuzzing_finds_no_crash():
    assert fuzz.by_chance(1.0, seed=18) > 10
