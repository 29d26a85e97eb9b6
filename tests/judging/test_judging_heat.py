"""Junctions in a study: neighbours, all else and the stated voltage count; no junction lies below its board."""

from __future__ import annotations

import pytest

from landwise.judging.bench import Bench
from landwise.judging.heatbench import heat_at, supply_of
from landwise.judging.study import run_study
from landwise.judging.warm import power_of
from landwise.study.file import study_from

BOARD = {"length": "80 mm", "width": "50 mm", "layers": 4}
WARM = {
    "refs": ["U1"],
    "terminals": 20,
    "package": "TSSOP-20",
    "options": [{"outline": "TSSOP-20"}],
    "power": "50 mW",
    "at": {"U1": ["20 mm", "25 mm"]},
}
HOT = {**WARM, "refs": ["U2"], "power": "1.5 W", "at": {"U2": ["30 mm", "25 mm"]}}


def study(*parts, use=None, **board):
    return study_from({"board": {**BOARD, **board}, "part": list(parts), "use": use or {}}, file="x")


def junction(made, part=0):
    return run_study(made).parts[part].options[0].figures["junction-temperature"]


def test_a_hot_neighbour_warms_a_part_and_more_so_near_than_far():
    alone = junction(study(WARM)).value
    near = junction(study(WARM, HOT)).value
    far = junction(study(WARM, {**HOT, "at": {"U2": ["75 mm", "45 mm"]}})).value
    assert near > far > alone + 5


def test_heat_of_parts_without_a_place_and_of_all_else_is_not_lost():
    alone = junction(study(WARM)).value
    unplaced = junction(study(WARM, {**HOT, "at": {}})).value
    other = junction(study(WARM, other_power="1.5 W")).value
    # 1.5 W over both faces of 80 × 50 mm at 10 W/m²K: 18.75 K (energy balance, by hand), half a degree more on top.
    assert unplaced - alone == pytest.approx(18.75, abs=1.0)
    assert other == pytest.approx(unplaced, rel=1e-9)


def test_no_junction_lies_below_the_board_under_it():
    made = study(WARM, HOT, other_power="2 W")
    bench = Bench.of(made)
    part = made.content.part[0]
    for end, name in enumerate(("low", "value", "high")):
        under = made.content.use.ambient + heat_at(
            made.content, bench.own, part, end, lambda one: power_of(one, made.content)[0]
        )
        assert getattr(junction(made), name) >= under - 1e-9


def test_the_stated_voltage_is_the_supply_unless_the_part_has_its_own():
    logic = {"refs": ["U1"], "terminals": 20, "family": "LVC", "frequency": "10 MHz", "outputs": 8}
    stated, silent = study(logic, use={"voltage": "5 V"}), study(logic)
    own = study({**logic, "supply": "2.5 V"}, use={"voltage": "5 V"})
    mains = study(logic, use={"voltage": "325 V"})
    assert [supply_of(s.content.part[0], s.content) for s in (stated, silent, own, mains)] == [5.0, 3.3, 2.5, 3.3]
    low, high = (power_of(s.content.part[0], s.content)[0][1] for s in (silent, stated))
    assert high / low == pytest.approx((5 / 3.3) ** 2, rel=0.02)


def test_one_sheets_resistance_carries_the_spread_between_sheets():
    figure = junction(study(WARM))
    rise = figure.value - 60
    assert (figure.high - 60) / (figure.low - 60) > 2
    assert rise > 0
    without = junction(study_from({"part": [WARM]}, file="x"))
    assert (without.high - 60) / (without.low - 60) >= 2 - 1e-9


def test_a_memory_forgets_a_part_when_its_neighbour_warms():
    from landwise.memory import Memory

    memory = Memory()
    first = run_study(study(WARM), bench=Bench.of(study(WARM), memory)).parts[0].options[0].figures
    made = study(WARM, HOT)
    second = run_study(made, bench=Bench.of(made, memory)).parts[0].options[0].figures
    assert second["junction-temperature"].value > first["junction-temperature"].value + 5
