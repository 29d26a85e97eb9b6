"""Figures of the board in service, out of whole studies."""

from __future__ import annotations

from dataclasses import replace

import pytest

from landwise.errors import InputError
from landwise.evidence.figures import Figure
from landwise.judging.bench import Bench
from landwise.judging.option import judge_option
from landwise.judging.study import run_study
from landwise.outlines import find
from landwise.outlines.model import LEAD_METALS
from landwise.study.file import study_from

KEYS = ("vibration", "shock", "junction-temperature", "bounce", "decoupling", "migration-field")
OCTAL = {
    "refs": ["U1"],
    "function": "octal bus transceiver",
    "number": "245",
    "family": "LVC",
    "terminals": 20,
    "options": [{"outline": name} for name in ("SO-20W", "TSSOP-20", "QFN-20-2.5x4.5")],
}
GATE = {
    "refs": ["U2", "U3"],
    "function": "single 2-input AND gate",
    "number": "1G08",
    "family": "LVC",
    "terminals": 5,
    "options": [{"outline": name} for name in ("SOT-23-5", "SC-70-5", "WLP-5-0.5", "SON-5-0.8x0.8")],
}
SHAKEN = {"random": [["20 Hz", "0.04 g2/Hz"], ["2000 Hz", "0.04 g2/Hz"]], "vibrated": "10 h", "shock": "100 g"}


def figures(part: dict, board: dict | None = None, use: dict | None = None) -> dict[str, dict[str, Figure]]:
    """Figures of each option of a part."""
    size = {"length": "100 mm", "width": "80 mm", "layers": 4}
    result = run_study(study_from({"board": {**size, **(board or {})}, "use": use or {}, "part": [part]}))
    return {option.name: dict(option.figures) for option in result.parts[0].options}


def test_every_option_has_every_figure_and_what_is_not_known_says_why() -> None:
    for option in figures(GATE).values():
        assert set(KEYS) <= set(option)
        for key in ("vibration", "shock", "junction-temperature"):
            assert option[key].verdict == "not known"
            assert option[key].value is None
            assert len(option[key].why) > 20
    assert "coat-reach" not in figures(GATE)["SOT-23-5"]


def test_without_a_size_the_board_is_not_guessed() -> None:
    result = run_study(study_from({"use": SHAKEN, "part": [OCTAL]}))
    option = result.parts[0].options[0]
    assert "length and width" in option.figures["vibration"].why


def test_longer_parts_use_up_more_of_their_limit_and_constants_make_the_band() -> None:
    found = figures(OCTAL, use=SHAKEN)
    assert found["SO-20W"]["vibration"].value > found["TSSOP-20"]["vibration"].value
    quad = found["QFN-20-2.5x4.5"]["vibration"]
    assert quad.low < quad.value < quad.high
    assert "no measurement" in quad.why
    assert "no measurement" not in found["TSSOP-20"]["vibration"].why
    for option in found.values():
        assert {"steinberg-limit", "miles-femci"} <= set(option["vibration"].sources)


def test_the_bent_boards_strain_reaches_leads_and_joints() -> None:
    found = figures(OCTAL, use=SHAKEN)
    assert "what pulls it off" in found["TSSOP-20"]["board-strain"].why
    assert "height of its joints" in found["QFN-20-2.5x4.5"]["board-strain"].why
    # The guideline is recalled and not made for vibration: it warns, it never rejects.
    for option in found.values():
        assert option["board-strain"].verdict in ("holds", "marginal")
    hard = figures(OCTAL, use={**SHAKEN, "random": [["20 Hz", "5 g2/Hz"], ["2000 Hz", "5 g2/Hz"]]})
    assert hard["QFN-20-2.5x4.5"]["vibration"].verdict == "marginal"  # no constant was published for it
    assert hard["SO-20W"]["vibration"].verdict == "fails"


def test_a_part_by_a_screw_is_better_off_than_in_the_middle() -> None:
    middle = figures({**OCTAL, "at": {"U1": ["50 mm", "40 mm"]}}, use=SHAKEN)["TSSOP-20"]
    corner = figures({**OCTAL, "at": {"U1": ["10 mm", "10 mm"]}}, use=SHAKEN)["TSSOP-20"]
    anywhere = figures(OCTAL, use=SHAKEN)["TSSOP-20"]
    for key in ("vibration", "shock"):
        assert corner[key].value < middle[key].value <= anywhere[key].value * 1.001
    assert "where it sits" in corner["vibration"].why


def test_a_thicker_board_bends_less() -> None:
    thin, thick = (figures(OCTAL, {"thickness": h}, SHAKEN)["TSSOP-20"]["vibration"] for h in ("1.0 mm", "2.0 mm"))
    assert thick.value < thin.value


def test_places_off_the_board_levels_without_time_and_two_levels_are_refused() -> None:
    with pytest.raises(InputError, match="off the board"):
        figures({**OCTAL, "at": {"U1": ["150 mm", "10 mm"]}}, use=SHAKEN)
    with pytest.raises(InputError, match="isn't there"):
        figures({**OCTAL, "at": {"U9": ["50 mm", "10 mm"]}}, use=SHAKEN)
    with pytest.raises(InputError, match="without its time"):
        figures(OCTAL, use={"sine": "5 g"})
    with pytest.raises(InputError, match="two vibration levels"):
        figures(OCTAL, use={**SHAKEN, "sine": "5 g"})
    with pytest.raises(InputError):
        figures(OCTAL, {"edges": "abcd"}, SHAKEN)
    for board in ({"parts_mass": "-1 g"}, {"other_power": "-3 W"}, {"thickness": "0 mm"}, {"copper": "0 um"}):
        with pytest.raises(InputError, match=next(iter(board))):
            figures(OCTAL, board)
    for use in ({"shock": "-5 g"}, {"shock_time": "0 ms"}, {"sine": "0 g"}):
        with pytest.raises(InputError, match=next(iter(use))):
            figures(OCTAL, use=use)


def test_a_board_on_one_screw_is_not_judged_as_if_it_were_held() -> None:
    option = figures(OCTAL, {"screws": [["10 mm", "5 mm"]]}, SHAKEN)["TSSOP-20"]
    assert option["vibration"].value is None
    assert "can turn" in option["vibration"].why


def test_sine_levels_are_judged_at_the_boards_own_frequencies() -> None:
    mild, hard = (
        figures(OCTAL, use={"sine": g, "vibrated": "10 h"})["TSSOP-20"]["vibration"].value for g in ("2 g", "4 g")
    )
    assert hard == pytest.approx(2 * mild, rel=1e-6)


def test_screws_off_the_board_are_refused() -> None:
    with pytest.raises(InputError):
        figures(OCTAL, {"screws": [["200 mm", "5 mm"]]}, SHAKEN)


def test_the_junction_lies_above_the_air_by_power_and_within_its_band() -> None:
    found = figures({**OCTAL, "frequency": "20 MHz"}, use={"ambient": "70 degC"})
    for option in found.values():
        figure = option["junction-temperature"]
        assert 70 < figure.low <= figure.value <= figure.high
        assert figure.limit == 125
        assert any("two times" in step.says for step in figure.trail)
    twice = figures({**OCTAL, "power": "0.2 W"}, use={"ambient": "70 degC"})
    once = figures({**OCTAL, "power": "0.1 W"}, use={"ambient": "70 degC"})
    for name in found:
        a, b = once[name]["junction-temperature"].value - 70, twice[name]["junction-temperature"].value - 70
        assert b == pytest.approx(2 * a)


def test_more_copper_and_less_company_cool_the_junction() -> None:
    part = {**OCTAL, "power": "0.3 W"}
    base = figures(part)["TSSOP-20"]["junction-temperature"].value
    assert figures(part, {"copper_share": [0.9, 0.9, 0.9, 0.9]})["TSSOP-20"]["junction-temperature"].value < base
    warm = figures(part, {"other_power": "2 W"})["TSSOP-20"]["junction-temperature"].value
    # The heated face lies a little above the mean of both.
    assert warm == pytest.approx(base + 2 / (2 * 10 * 0.1 * 0.08), abs=0.6)


def test_air_as_hot_as_the_junction_may_be_fails() -> None:
    option = figures({**OCTAL, "power": "0.1 W"}, use={"ambient": "125 degC"})["TSSOP-20"]
    assert option["junction-temperature"].verdict == "fails"


def test_a_package_without_a_sheet_is_not_given_a_resistance() -> None:
    part = {"refs": ["U1"], "family": "HC", "terminals": 16, "power": "0.1 W", "options": [{"outline": "QFN-16-3x3"}]}
    figure = figures(part)["QFN-16-3x3"]["junction-temperature"]
    assert figure.value is None
    assert "no data sheet" in figure.why


def test_bounce_needs_a_family_and_falls_with_the_package_and_the_ground_terminals() -> None:
    found = figures(OCTAL)
    assert found["SO-20W"]["bounce"].value > found["TSSOP-20"]["bounce"].value > found["QFN-20-2.5x4.5"]["bounce"].value
    assert found["TSSOP-20"]["bounce"].limit == 0.8
    more = figures({**OCTAL, "ground": ["5", "10", "15"]})
    assert more["TSSOP-20"]["bounce"].value < found["TSSOP-20"]["bounce"].value
    assert any("ALVC" in step.says for step in found["TSSOP-20"]["bounce"].trail)
    none = figures({**OCTAL, "family": ""})["TSSOP-20"]["bounce"]
    assert none.value is None
    assert none.verdict == "not known"


def test_dirt_is_judged_by_air_and_gap_and_hazard_is_said() -> None:
    for option in figures(OCTAL, use={"air": "wet"}).values():
        assert option["migration-field"].verdict != "holds"
    mains = figures(OCTAL, use={"voltage": "230 V"})["SO-20W"]
    for key in ("migration-field", "clearance"):
        assert "licensed engineer" in mains[key].why
    assert "licensed engineer" not in figures(OCTAL)["SO-20W"]["migration-field"].why
    coated = figures(GATE, use={"coat": "acrylic"})
    assert coated["SON-5-0.8x0.8"]["coat-reach"].verdict == "marginal"
    assert coated["SOT-23-5"]["coat-reach"].verdict == "holds"


def test_one_option_can_be_judged_alone() -> None:
    study = study_from({"board": {"length": "100 mm", "width": "80 mm"}, "use": SHAKEN, "part": [OCTAL]})
    bench = Bench.of(study)
    from landwise.outlines import find

    option = judge_option(find("TSSOP-20"), study.content.part[0], bench)
    assert option.figures["vibration"].value is not None


def test_leads_of_iron_and_nickel_take_back_what_a_coat_gains_against_whiskers():
    # Whiskers grow more on tin over alloy 42 in temperature cycles: the standard's tests say so (see whiskers.SOURCES).
    part = {"refs": ["U1"], "terminals": 14, "package": "TSSOP-14"}
    bench = Bench.of(study_from({"use": {"finish": "matte tin", "coat": "acrylic"}, "part": [part]}))
    why = {}
    for metal in LEAD_METALS:
        outline = replace(find("TSSOP-14"), lead_metal=metal, name=f"TSSOP-14 {metal}")
        why[metal] = judge_option(outline, bench.content.part[0], bench).figures["whiskers"].why
    assert "risk low" in why["copper alloy"]
    assert "risk low" in why["not known"]
    assert "risk some" in why["iron-nickel 42"]
