"""Real boards, read in place where ../shared is there: every one goes through, and its corrected film reads back."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from landwise.assembly.lines import preset
from landwise.errors import InputError
from landwise.fabdata.gerber import read_gerber
from landwise.review.filmsout import films, writable
from landwise.review.grouping import components
from landwise.review.jobs import read_board
from landwise.review.lands import lands_of
from landwise.review.reviews import Asked, review

BOARDS = Path(__file__).resolve().parents[2].parent / "shared" / "boards"
pytestmark = pytest.mark.skipif(not BOARDS.is_dir(), reason="../shared is not here")

# Parts that the boards' own tables name: kind, lands, pitch.
KNOWN = {
    "gremlin": [("gull-wing dual", 48, 0.5, 3), ("gull-wing quad", 144, 0.5, 1)],
    "neo6502": [("gull-wing dual", 20, 0.65, 3), ("gull-wing quad", 44, 0.8, 1), ("leadless quad", 57, 0.4, 1)],
    "interface-probe-c1": [("leadless dual", 6, 0.5, 17), ("grid", 121, 0.8, 1)],
}


@cache
def films_of(name):
    return read_board(BOARDS / name, {})


@pytest.mark.parametrize("name", ["neo6502", "snappergps", "usb-fpga-tiny", "simplefoc"])
def test_a_real_board_is_reviewed_and_its_corrected_film_reads_back(name):
    read = films_of(name)
    reviewed = review(read.board, preset("ordinary"), Asked(foils_um=(100,), apply="all"))
    found = writable(reviewed, read)
    made = films(found, read)
    for side in found.sides:
        if not side.written:
            assert f"paste-{side.side}.gbr" not in made
            continue
        again = read_gerber(made[f"paste-{side.side}.gbr"], "again").pads
        before = read.films[side.side].pads
        gone = {change.aperture for change in side.written}
        kept = np.array([row not in gone for row in range(len(before))])
        old = sorted(
            zip(before.x_mm[kept].round(6), before.y_mm[kept].round(6), before.area_mm2[kept].round(8), strict=True)
        )
        new = set(zip(again.x_mm.round(6), again.y_mm.round(6), again.area_mm2.round(8), strict=True))
        assert [row for row in old if row not in new] == []
        wanted = before.area_mm2[kept].sum() + sum(change.area_after_mm2 for change in side.written)
        assert again.area_mm2.sum() == pytest.approx(wanted, rel=2e-3)


@pytest.mark.parametrize("name", list(KNOWN))
def test_parts_of_real_boards_are_recognised(name):
    # Their films alone tell; the whole review of every board stands in test_review_harm.py.
    board = films_of(name).board
    side = next(side for side in board.sides if len(side.paste))
    parts = components(lands_of(side.paste, side.copper, side.mask, side.holes or board.holes), side.side)
    for kind, lands, pitch, count in KNOWN[name]:
        same = [p for p in parts if p.kind == kind and len(p.lands) == lands and abs((p.pitch_mm or 0) - pitch) < 0.01]
        assert len(same) == count, (kind, lands)


def test_a_board_without_paste_is_told_apart():
    with pytest.raises(InputError, match="no paste layer"):
        read_board(BOARDS / "retro-dip", {})
