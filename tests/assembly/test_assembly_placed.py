"""Placement checks fitted: intervals hold what is true, and open data come out as their authors have them."""

from __future__ import annotations

import csv
import gzip
import importlib.util
import io
from pathlib import Path

import numpy as np
import pytest

from landwise.assembly.placed import fit_placement
from landwise.errors import InputError


def drawn(rng, boards, parts, common, placed, own, steady=0.0):
    board, part = np.divmod(np.arange(boards * parts), parts)
    off = (
        steady
        + common * rng.standard_normal(boards)[board]
        + placed * rng.standard_normal(parts)[part]
        + own * rng.standard_normal(len(board))
    )
    return board, part, off


def test_ninety_per_cent_ranges_hold_the_truth_in_about_nine_of_ten_lines():
    rng = np.random.default_rng(4)
    held_offset = held_turn = 0
    for _ in range(200):
        common, placed, own, turn = rng.uniform(0.005, 0.03, 4)
        board, part, dx = drawn(rng, 12, 16, common, placed, own, 0.01)
        _, _, dy = drawn(rng, 12, 16, common, placed, own, -0.005)
        _, _, turned = drawn(rng, 12, 16, 0.0, 0.0, 5 * turn)
        found = fit_placement(board, part, dx, dy, turned)
        truth = 3 * (common**2 + placed**2 + own**2 + (0.01**2 + 0.005**2) / 2) ** 0.5
        held_offset += found.offset_mm.low <= truth <= found.offset_mm.high
        assert found.turn is not None
        held_turn += found.turn.data.low <= 5 * turn <= found.turn.data.high
    assert 0.83 <= held_offset / 200 <= 0.96
    assert 0.83 <= held_turn / 200 <= 0.96


def test_few_placements_say_nothing():
    board, part, dx = drawn(np.random.default_rng(1), 4, 20, 0.01, 0.0, 0.01)
    with pytest.raises(InputError, match="too few placements"):
        fit_placement(board, part, dx, dx)


@pytest.mark.skipif(importlib.util.find_spec("mistat") is None, reason="the open data come with the package mistat")
def test_placement_data_that_are_open():
    """PLACE of the package mistat (Kenett, Zacks: Modern Industrial Statistics): 26 boards of 16 parts, in inches if
    its units are what its numbers look like. Within a board the standard deviations are 0.00047 and 0.00063, between
    boards 0.00168 and 0.00098, worked from the same data by plain analysis of variance."""
    folder = Path(importlib.util.find_spec("mistat").submodule_search_locations[0])
    text = gzip.decompress((folder / "csvFiles" / "PLACE.csv.gz").read_bytes()).decode()
    rows = list(csv.DictReader(io.StringIO(text)))
    board = np.array([int(row["crcBrd"]) for row in rows])
    dx, dy = (25.4 * np.array([float(row[name]) for row in rows]) for name in ("xDev", "yDev"))
    part = np.arange(len(board)) % 16
    found = fit_placement(board, part, dx, dy, np.degrees([float(row["tDev"]) for row in rows]))
    means = [np.array([along[board == one].mean() for one in np.unique(board)]) for along in (dx, dy)]
    square = sum(np.mean(np.square(along)) for along in (dx, dy)) / 2
    assert found.offset_mm.value == pytest.approx(3 * square**0.5, rel=0.05)
    between = sum(np.var(mean, ddof=1) for mean in means) / 2
    assert found.shared == pytest.approx(between / square, rel=0.25)
    assert [mean.std(ddof=1) / 25.4 for mean in means] == pytest.approx([0.00168, 0.00098], rel=0.05)
