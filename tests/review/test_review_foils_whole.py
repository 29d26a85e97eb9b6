"""Part of `make whole`: on every board beside the project the foil is what enumeration and plain volumes find."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
import shapely

from landwise.assembly.lines import preset
from landwise.errors import LandwiseError
from landwise.review.jobs import read_board
from landwise.review.reviews import Asked, review

from .secondmodel import fill, foil_by_hand, foil_row

BOARDS = Path(__file__).resolve().parents[2].parent / "shared" / "boards"
WHOLE = bool(os.environ.get("LANDWISE_WHOLE")) and BOARDS.is_dir()
pytestmark = pytest.mark.skipif(not WHOLE, reason="part of `make whole`")
SHORT, MANY = 0.45, 0.02  # of a land's paste; of the lands: a foil that starves so many is no foil to choose


def starved(side, foil_um: float) -> float:
    """Share of the printed terminals' lands that stay short of paste, by the second model."""
    given = side.given
    middle = {land for part in given.parts for land in part.centre}
    told = {land for part in given.parts if part.kind not in ("odd", "single") for land in part.lands} - middle
    short = []
    for land in sorted(told):
        shapes = list(given.paste.polygon[given.matched.land == land])
        if shapes and sum(shapely.area(shapes)) > 0.75 * given.lands.area_mm2[land]:
            short.append(fill(shapes, given.lands.polygon[land], foil_um / 1000) < SHORT)
    return float(np.mean(short)) if short else 0.0


def held(name: str) -> int:
    """How many sides of a board were held against the enumeration."""
    try:
        read = read_board(BOARDS / name, {})
    except LandwiseError:
        return 0  # without paste, or refused: not what is asked here
    line = preset("ordinary")
    together = review(read.board, line)
    foils = tuple(row.foil_um for row in together.sides[0].choice.rows)
    alone = {um: review(read.board, line, Asked(foils_um=(um,))) for um in foils}
    for number, side in enumerate(together.sides):
        choice = side.choice
        its = {um: alone[um].sides[number].choice.best for um in foils}
        for row in choice.rows:
            assert row.after == pytest.approx(its[row.foil_um].after, rel=1e-9), (name, side.side, row.foil_um)
            assert row.defects == pytest.approx(its[row.foil_um].defects, rel=1e-9), (name, side.side, row.foil_um)
        by_hand = foil_by_hand([foil_row(its[um]) for um in foils], line.foil_um)
        assert (choice.best_um, set(choice.equal_um)) == by_hand, (name, side.side)
        # By plain volumes too: no foil is chosen that starves more lands while a thinner one feeds them.
        thinner = [starved(side, um) for um in foils if um < choice.best_um]
        assert starved(side, choice.best_um) <= min(thinner, default=1.0) + MANY, (name, side.side)
    return len(together.sides)


@pytest.mark.parametrize("name", sorted(one.name for one in BOARDS.iterdir() if one.is_dir()) if WHOLE else ["none"])
def test_the_foil_of_a_real_board_is_the_one_that_enumeration_finds(name):
    held(name)
