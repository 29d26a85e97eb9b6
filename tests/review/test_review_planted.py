"""Faults planted in the invented example: all found, most mended; the table of docs/review.md is of real boards too."""

from __future__ import annotations

from pathlib import Path

from tests.review.planting import plant_all

EXAMPLE = Path(__file__).parents[2] / "examples" / "logger" / "fabrication"


def test_faults_planted_in_the_example_are_found_and_mended():
    made = plant_all(EXAMPLE, 18, ("shifted row", "doubled", "reduced", "moved 4 mm", "mirrored"))
    assert len(made) == 5
    assert [one for one in made if not one.found] == []
    assert [one for one in made if not one.offered] == []
