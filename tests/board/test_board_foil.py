"""One foil prints the whole board: the usual one stays among equals, and the parts that nobody studies bound it."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from landwise.board.choice import choose_board
from landwise.board.result import BoardResult
from landwise.judging.study import run_study
from landwise.results.told import asked
from landwise.study.file import study_from

OPTIONS = [{"outline": "SO-14", "price": 0.10}, {"outline": "TSSOP-14", "price": 0.12}]
GATE = {"refs": ["U1"], "terminals": 14, "package": "SO-14", "number": "00", "family": "HC", "options": OPTIONS}


@cache
def chosen(thickest: str = "", foil: str = "", foils: tuple[str, ...] = ()) -> BoardResult:
    board = {"thickest_foil": thickest} if thickest else {}
    line = ({"foil": foil} if foil else {}) | ({"foils": list(foils)} if foils else {})
    return choose_board(run_study(study_from({"part": [GATE], "board": board, "line": line})), reasons=False)


def foil_um(result: BoardResult) -> float:
    assert result.choice is not None
    return result.choice.model.decisions[result.choice.best.decision].foil_um


def test_a_foil_that_saves_next_to_nothing_is_not_taken() -> None:
    result = chosen()
    assert result.choice is not None
    assert result.choice.searched is not None
    cheapest = result.choice.model.decisions[result.choice.searched.decision].foil_um
    assert cheapest != foil_um(result) == 100.0
    assert result.choice.kept_print
    assert "usual 100 µm print kept" in result.choice.proof
    assert result.choice.value == pytest.approx(result.choice.searched.value, rel=1e-3)


def test_no_thicker_foil_is_chosen_than_other_parts_bear() -> None:
    """Without the wish for the usual print the cheapest foil is thicker; the bound takes it out."""
    bound, free = chosen(thickest="110 um"), chosen()
    assert bound.choice is not None
    assert free.choice is not None
    foils = np.array([one.foil_um for one in bound.choice.model.decisions])
    problem = bound.choice.model.problem
    for decision, um in enumerate(foils):
        assert problem.holds(decision, free.choice.best.choice) == (
            um <= 110.0 and free.choice.model.problem.holds(decision, free.choice.best.choice)
        )
    assert foil_um(bound) <= 110.0


def test_a_foil_too_thin_for_the_parts_studied_is_a_conflict_that_names_both() -> None:
    result = chosen(thickest="70 um", foils=("70 um", "100 um"))
    assert result.choice is not None
    assert result.choice.best.status == "infeasible"
    assert set(result.choice.conflict) == {"foil-reaches", "others-foil"}


def test_a_stated_foil_binds_and_is_told_beside_what_others_bear() -> None:
    result = chosen(thickest="80 um", foil="120 um")
    assert foil_um(result) == 120.0
    assert "120 µm foil is stated" in asked(result)[0]
    assert "80 µm at most" in asked(result)[0]


def test_where_the_thinnest_on_hand_is_too_thick_it_is_taken_and_told() -> None:
    result = chosen(thickest="75 um", foils=("100 um", "120 um"))
    assert foil_um(result) == 100.0
    assert "thinnest on hand" in asked(result)[0]


def test_nothing_is_asked_of_a_foil_that_stays() -> None:
    assert not any("foil" in one for one in asked(chosen()))
