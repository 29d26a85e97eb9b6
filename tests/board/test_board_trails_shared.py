"""Figures and totals of real boards worked again from the ends of their trails, where the boards are here.

Two boards take 45 s of a core: part of `make whole`, not of `make test`.
"""

from __future__ import annotations

import contextlib
import importlib.util
import os
import sys
from functools import cache
from pathlib import Path

import pytest

from landwise.cli import main
from landwise.evidence.sources import all_sources
from landwise.evidence.trails import Origin, ends, numbers, replay
from landwise.study.file import read_study

ROOT = Path(__file__).resolve().parents[2]
BOARDS = ROOT.parent / "shared" / "boards"
_spec = importlib.util.spec_from_file_location("replay_totals", ROOT / "tests" / "rebuild" / "replay_totals.py")
assert _spec is not None
assert _spec.loader is not None
replays = importlib.util.module_from_spec(_spec)
sys.modules["replay_totals"] = replays  # its dataclasses look their module up
_spec.loader.exec_module(replays)
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not BOARDS.is_dir(), reason="../shared is not here"),
    pytest.mark.skipif(not os.environ.get("LANDWISE_WHOLE"), reason="45 s of a core: part of `make whole`"),
]


@cache
def bill_of(board):
    return next(iter(replays.bills(BOARDS / board)))


@pytest.fixture(scope="module", params=["neo6502", "interface-probe-c1"])
def result(request, tmp_path_factory):
    study = tmp_path_factory.mktemp(request.param) / "board.toml"
    with contextlib.suppress(SystemExit):  # every command ends with one
        main(["start", "--bom", str(bill_of(request.param)), "-o", str(study)])
    return replays.chosen(read_study(study))


def every_figure(result):
    for part in result.parts:
        for option in part.options:
            for one in option.figures.values():
                yield f"{part.name} in {option.name}: {one.key}", one


def test_figures_of_a_real_board_are_what_their_trails_give(result):
    known, shown = {}, 0
    for where, one in every_figure(result):
        if one.value is None:
            continue
        low, value, high = numbers(replay(one.gives, known))
        assert value == one.value, where
        assert one.low is None or (low, high) == (one.low, one.high), where
        shown += 1
    assert shown > 100


def test_trails_of_a_real_board_end_at_origins_with_reasons_and_marks(result):
    sources = all_sources()
    for where, one in every_figure(result):
        for given in ends(one.trail):
            assert given.origin != Origin.STEP, (where, given.place)
            assert given.place, where
            assert given.sources or given.origin == Origin.SIMULATION, (where, given.place)
            assert all(key == "study" or key in sources for key in given.sources), (where, given.place)
            assert given.reason or given.origin != Origin.DEFAULT, (where, given.place)


def test_totals_of_a_real_board_are_what_their_trails_give_and_what_was_searched(result):
    found = replays.replayed(result)
    assert found.shown > 5
    assert found.wrong == ()
