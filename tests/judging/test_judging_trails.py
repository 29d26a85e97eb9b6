"""Every figure of two boards worked again from the ends of its trail: the same number, and every end has its origin."""

from __future__ import annotations

from dataclasses import replace

import pytest

from landwise.evidence.book import all_formulas
from landwise.evidence.figures import Figure, figure
from landwise.evidence.sources import all_sources
from landwise.evidence.trails import (
    Origin,
    Step,
    as_given,
    behind,
    drawn,
    earlier,
    ends,
    numbers,
    replay,
    stated,
    taken,
    worked,
)
from landwise.judging.results import StudyResult
from landwise.judging.study import run_study
from landwise.results.file import result_data
from landwise.results.resultjson import ResultJson
from landwise.study.file import study_from
from worked_example import judged_example

# One package of each kind: leads, no leads, drilled, balls; the example has the others.
SHAKEN = {
    "board": {"length": "100 mm", "width": "80 mm", "layers": 4},
    "use": {"sine": "5 g", "vibrated": "20 h", "shock": "50 g", "coat": "acrylic", "voltage": "12 V"},
    "want": {"probe_access": True, "terminals": "hidden"},
    "part": [
        {
            "refs": ["U1", "U2"],
            "function": "quad 2-input NAND gate",
            "terminals": 14,
            "family": "HC",
            "package": "SO-14",
            "number": "74HC00",
            "frequency": "10 MHz",
            "moisture_level": "3",
            "options": [{"outline": name} for name in ("SO-14", "TSSOP-14", "QFN-14-2.5x3", "DIP-14")],
        },
        {
            "refs": ["U3"],
            "function": "2-input AND gate",
            "terminals": 5,
            "family": "LVC",
            "package": "SOT-23-5",
            "number": "1G08",
            "power": "20 mW",
            "options": [{"outline": name} for name in ("SOT-23-5", "SC-70-5", "SON-6-1.0x1.0", "WLP-5-0.5")],
        },
    ],
}


@pytest.fixture(scope="module", params=["example", "shaken"])
def result(request) -> StudyResult:
    return judged_example() if request.param == "example" else run_study(study_from(SHAKEN))


def every_figure(result: StudyResult):
    for part in result.parts:
        for option in part.options:
            for one in option.figures.values():
                yield part, option, one


def test_every_shown_number_is_what_its_trail_gives_when_it_is_worked_again(result):
    known: dict[int, object] = {}
    shown = 0
    for part, option, one in every_figure(result):
        if one.value is None:
            continue
        low, value, high = numbers(replay(one.gives, known))
        where = f"{part.name} in {option.name}: {one.key}"
        assert value == one.value, where
        assert one.low is None or (low, high) == (one.low, one.high), where
        shown += 1
    assert shown > 100


def test_every_trail_ends_at_what_is_stated_at_defaults_with_reason_and_at_sources_with_marks(result):
    sources = all_sources()
    for part, option, one in every_figure(result):
        for given in ends(one.trail):
            where = f"{part.name} in {option.name}: {one.key}, {given.place}"
            assert given.origin != Origin.STEP, where
            assert given.place, where
            assert given.sources or given.origin == Origin.SIMULATION, where
            assert all(key == "study" or key in sources for key in given.sources), where
            assert given.reason or given.origin != Origin.DEFAULT, where


def test_a_simulation_names_seed_size_and_inputs(result):
    simulated = [step for _, _, one in every_figure(result) for step in behind(one.trail) if step.key == "defects"]
    assert simulated
    for step in simulated:
        assert {"seed", "size"} <= step.inputs.keys()
        assert {"outline", "pattern", "printed", "scatter"} <= step.given.keys()


def test_formulas_that_steps_name_are_in_the_book(result):
    book = all_formulas()
    named = {step.formula for _, _, one in every_figure(result) for step in one.trail if step.formula}
    assert named - book.keys() <= {"courtyard", "stack-expansion"} | book.keys()


def test_every_reference_of_a_written_trail_leads_to_a_written_step(result):
    told = ResultJson.model_validate(result_data(result))
    for part in told.parts:
        for option in part.options:
            known = {**told.steps, **option.steps} | {s.key: s for one in option.figures for s in one.trail}
            for step in known.values():
                for given in step.given.values():
                    assert given.origin != "step" or given.place in known, (option.outline, step.key, given.place)
                    assert all(key == "study" or key in told.sources for key in given.sources)


def test_no_figure_is_built_without_the_step_that_gives_its_value():
    pitch = taken("pitch", drawn(0.5, "a drawing", ("landwise-rule",), "mm"))
    assert figure(pitch, key="pitch", title="pitch").value == 0.5
    with pytest.raises(TypeError, match="no step"):
        Figure(key="pitch", title="pitch", value=0.5, unit="mm")
    with pytest.raises(TypeError, match="no step"):
        Figure(key="pitch", title="pitch", value=0.6, unit="mm", trail=(pitch,))
    with pytest.raises(TypeError, match="no step"):
        Figure(key="pitch", title="pitch", value=0.5, unit="um", trail=(pitch,))
    with pytest.raises(TypeError, match="named function"):
        worked("anything", lambda: 1.0, {})
    assert Figure(key="pitch", title="pitch").value is None


def doubled(value: float) -> float:
    return 2 * value


def test_a_number_that_does_not_follow_shows_when_its_trail_is_replayed():
    first = worked("as stated", as_given, {"value": stated(2.0, "a test")})
    wrong = worked("doubled", doubled, {"value": earlier(first)}, result=5.0)
    assert figure(wrong, key="k", title="k").value == 5.0
    assert numbers(replay(wrong)) == (4.0, 4.0, 4.0)
    # An end that is changed moves what follows from it.
    moved = worked("as stated", as_given, {"value": stated(3.0, "a test")})
    again = replace(wrong, given={"value": earlier(moved)})
    assert replay(again) == 6.0
    with pytest.raises(TypeError, match="remark"):
        replay(Step(says="a remark"))
