"""Faults planted in the invented example, and by `make whole` in every board beside the project: found, mended."""

from __future__ import annotations

import os
from collections import Counter
from pathlib import Path

import pytest
from tests.review.planting import plant_all

from landwise.errors import LandwiseError

EXAMPLE = Path(__file__).parents[2] / "examples" / "logger" / "fabrication"
BOARDS = Path(__file__).resolve().parents[2].parent / "shared" / "boards"
ONE_IN_A_MILLION = 1e-6  # defects a part: the sums behind a level are no finer
ENOUGH = 0.9  # of the faults of each sort that are to be found, and to be mended by some proposal


def test_faults_planted_in_the_example_are_found_and_mended():
    made = plant_all(EXAMPLE, 18, ("missing", "shifted row", "doubled", "reduced", "moved 4 mm", "mirrored"))
    assert len(made) == 6
    assert [one for one in made if not one.found] == []
    assert [one for one in made if not one.offered] == []
    assert [one for one in made if one.rises > ONE_IN_A_MILLION] == []


@pytest.mark.skipif(not (os.environ.get("LANDWISE_WHOLE") and BOARDS.is_dir()), reason="part of `make whole`")
def test_nine_in_ten_of_each_fault_planted_in_real_boards_are_found_and_mended():
    made = plant_all(EXAMPLE, 18)
    for folder in sorted(one for one in BOARDS.iterdir() if one.is_dir()):
        try:
            made += plant_all(folder, 18)
        except LandwiseError:
            continue  # without paste, or films that are refused: not what is asked here
    planted, found = Counter(one.fault for one in made), Counter(one.fault for one in made if one.found)
    mended = Counter(one.fault for one in made if one.offered)
    assert len(planted) == 8
    assert [one for one in made if one.rises > ONE_IN_A_MILLION] == []
    assert {fault: found[fault] / count for fault, count in planted.items() if found[fault] < ENOUGH * count} == {}
    assert {fault: mended[fault] / count for fault, count in planted.items() if mended[fault] < ENOUGH * count} == {}
