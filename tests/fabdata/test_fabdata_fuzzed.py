"""The fuzz target's seeds are read by their readers, and a bounded part of its run crashes none."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

_spec = importlib.util.spec_from_file_location(
    "fuzz_readers", Path(__file__).resolve().parents[2] / "fuzz" / "fuzz_readers.py"
)
assert _spec is not None
assert _spec.loader is not None
fuzz = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(fuzz)


@pytest.mark.parametrize("name", fuzz.READERS)
def test_every_seed_is_one_that_its_reader_takes(name, tmp_path):
    read, seeds = fuzz.READERS[name]
    for seed in seeds:
        read(seed, tmp_path)


@pytest.mark.parametrize("name", fuzz.READERS)
def test_a_bounded_part_of_the_fuzzing_crashes_no_reader(name):
    count, crash = fuzz.by_chance(name, 20.0, seed=29, most=25)
    assert crash == ""
    assert count > 0


def test_a_reader_that_crashes_is_found(monkeypatch):
    def broken(data, _):
        raise IndexError(len(data))

    monkeypatch.setitem(fuzz.READERS, "broken", (broken, (b"seed",)))
    assert "IndexError" in fuzz.by_chance("broken", 1.0)[1]
