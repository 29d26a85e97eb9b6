"""Designed prints and lands as a user meets them: what binds is said everywhere, lands move only for a stated gain."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from landwise.designing.landsearch import WORTH
from landwise.designing.margins import margin_of
from landwise.errors import InputError
from landwise.evidence.trails import replay
from landwise.fabdata.footprints import footprint
from landwise.fabdata.partfilms import part_films
from landwise.judging.bench import Bench
from landwise.judging.notes import NoteKey
from landwise.judging.study import run_study
from landwise.outlines import find
from landwise.results.file import result_text
from landwise.results.notewords import note_says
from landwise.results.printjson import PrintJson, lines_of, print_lines
from landwise.sheets.cards import candidate_of, card_of, print_binds
from landwise.sheets.reportdata import content_of
from landwise.study.file import study_from

NAME = "SON-6-1.0x1.0"
PART = {"refs": ["U1"], "function": "2-input gate", "terminals": 6, "options": [{"outline": NAME}]}
LINE = {"foils": ["100 um"], "least_pitch": "0.3 mm"}


def study(part=PART, line=LINE, **board):
    return study_from(
        {"line": line, "board": board, "want": {"hidden_joints": "any"}, "part": [part]},
        file="t",
    )


@pytest.fixture(scope="module")
def plain():
    return run_study(study())


@pytest.fixture(scope="module")
def moved():
    return run_study(study(design="lands"))


def test_lands_move_only_where_asked_and_the_gain_over_the_default_lands_is_stated(plain, moved):
    kept, found = (result.parts[0].options[0] for result in (plain, moved))
    assert kept.geometry.moved is None
    choice = found.geometry.moved
    assert choice.reason == "moved"
    assert choice.gain >= WORTH
    assert found.geometry.pattern == choice.pattern != kept.geometry.pattern
    # The gain is over the designed print of the default lands, not over their print one to one.
    assert choice.gain == pytest.approx(
        found.figures["print-margin"].value - kept.figures["print-margin"].value, abs=1e-9
    )
    assert choice.default == kept.geometry.design
    note = next(note for note in moved.parts[0].notes if note.key == NoteKey.LANDS_MOVED)
    assert "lands moved inside their goals" in note_says(note)
    assert found.geometry.rates.defects.value < kept.geometry.rates.defects.value
    assert found.area_mm2 >= kept.area_mm2


def test_moved_lands_reach_footprint_films_trail_and_courtyard(plain, moved):
    kept, found = (result.parts[0].options[0].geometry for result in (plain, moved))
    assert "lands by goals" in footprint(found.outline, found.pattern, found.printed)
    one, other = (part_films(geometry.pattern, geometry.printed) for geometry in (kept, found))
    assert all(one[name] != other[name] for name in ("copper", "mask", "paste"))
    step = found.stations["lands"]
    assert replay(step).lands == found.pattern.lands
    area = moved.parts[0].options[0].figures["area"]
    assert area.value == pytest.approx(found.pattern.courtyard_area_mm2)


def test_an_existing_board_keeps_the_lands_of_the_package_it_has():
    present = {**PART, "package": NAME}
    stays = Bench.of(study(present, design="lands", state="existing")).geometry(find(NAME))
    assert stays.moved is None
    assert stays.design.designed


def test_lands_are_not_designed_without_a_print():
    for line in ({**LINE, "print": "as lands"}, {**LINE, "reduction": "10 um"}):
        with pytest.raises(InputError, match="lands are designed with their print"):
            Bench.of(study(line=line, design="lands"))


def test_the_margin_is_a_figure_with_the_targets_limit_and_a_trail_that_can_be_worked_again(plain):
    figure = plain.parts[0].options[0].figures["print-margin"]
    assert figure.limit == pytest.approx(float(margin_of(1e-4)))
    assert figure.low <= figure.value <= figure.high
    assert replay(figure.trail[-1])[1] == pytest.approx(figure.value)
    as_lands = run_study(study(line={**LINE, "print": "as lands"})).parts[0].options[0].figures["print-margin"]
    assert as_lands.value is None
    assert as_lands.verdict == "not known"


@pytest.mark.parametrize(("target", "verdict"), [(100.0, "holds"), (5.0, "marginal"), (0.2, "fails")])
def test_a_margin_short_of_the_target_is_never_under_a_green_word(target, verdict):
    option = run_study(study(line={**LINE, "target": target})).parts[0].options[0]
    figure = option.figures["print-margin"]
    assert figure.verdict == verdict
    assert (figure.value >= figure.limit) == (verdict == "holds")


def test_what_binds_and_what_a_micrometre_buys_are_on_report_card_and_result(plain):
    option = plain.parts[0].options[0]
    lines = print_lines(option.geometry)
    assert lines[1].startswith("binds: ")
    assert "one to one: " in lines[2]
    assert "maker's: " in lines[2]  # this outline carries its maker's paste drawing
    assert "each µm of thinner foil buys" in lines[3].lower()
    told = PrintJson.model_validate(json.loads(result_text(plain))["parts"][0]["options"][0]["print"])
    assert list(lines_of(told)) == lines[1:]
    part = replace(plain.parts[0], chosen=option)
    words = print_binds(option)
    assert words.startswith("its print is bound by ")
    svg = card_of(part, plain)
    assert "print is bound" in svg.replace("\n", " ")
    assert words not in candidate_of(option, part, plain).why  # the row of the workbench stays quick


def test_the_report_says_the_print_of_the_chosen_option():
    from landwise.board.choice import choose_board

    result = choose_board(run_study(study()))
    said = content_of(result)["parts"][0]["print"]
    assert said == print_lines(result.parts[0].chosen.geometry)
    assert any(line.startswith("binds: ") for line in said)
