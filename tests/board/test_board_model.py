"""The whole board chosen at once from a study: what is shared, what it costs, what holds it, and what conflicts."""

from __future__ import annotations

import json
from functools import cache

import numpy as np
import pytest

from invented_parts import LITTLE_GATE
from landwise.board.build import board_model
from landwise.board.choice import choose_board
from landwise.board.model import decisions_of
from landwise.cli import main
from landwise.errors import InputError
from landwise.judging.bench import Bench
from landwise.judging.limits import LimitKey
from landwise.judging.study import run_study
from landwise.memory import Memory, forget, keep_on_disk
from landwise.results.choicewords import choice_lines
from landwise.results.file import result_data
from landwise.results.resultjson import ResultJson
from landwise.results.trails import figures_data
from landwise.sheets.report import annex_html
from landwise.study.file import study_from
from whole import WHOLE
from worked_example import judged_example, worked_example

GATE = LITTLE_GATE | {"options": [{"outline": "SOT-23-5", "price": 0.03}, {"outline": "SC-70-5", "price": 0.03}]}
TINY = {
    "refs": ["U9"],
    "number": "1G34",
    "terminals": 6,
    "package": "SON-6-0.9x1.0",
    "locked": True,
    "options": [{"outline": "SON-6-0.9x1.0", "price": 0.1}],
}
WIDE = {
    "refs": ["U5"],
    "number": "595",
    "family": "HC",
    "terminals": 16,
    "package": "SO-16",
    "options": [{"outline": "SO-16", "price": 0.1}, {"outline": "TSSOP-16", "price": 0.1}],
}


LINE = {"foils": ["100 um"], "print": "as lands"}  # where neither foils nor prints are what is looked at


def chosen(*parts, reasons=False, **tables):
    """The choice; what would be dearer by how much takes longest, and is worked where a test reads it."""
    return choose_board(run_study(study_from({"part": list(parts), "line": LINE, **tables})), reasons=reasons)


def test_the_example_is_proven_and_never_dearer_than_part_by_part():
    result = worked_example().result
    alone = judged_example()
    choice = result.choice
    assert choice.best.status == "optimal"
    assert choice.best.gap < 1e-8
    assert choice.cost <= choice.today
    model = choice.model
    names = {part.part.refs[0]: part.chosen.name for part in alone.parts}
    picked = [names_of.index(names[part.part.refs[0]]) for part, names_of in zip(model.parts, model.names, strict=True)]
    holding = [d for d in range(model.problem.decisions) if model.problem.holds(d, picked)]
    assert all(model.problem.value(d, picked) >= choice.cost - 1e-9 for d in holding)


def test_cost_of_the_choice_is_the_sum_of_its_parts_and_what_they_share():
    result = chosen(GATE, WIDE)
    rates = {name: rate.value for name, rate in result.rates.items()}
    by_hand = sum(part.count * part.chosen.cost.total for part in result.parts)
    by_hand += len(result.parts) * rates["feeder"] / 1000
    by_hand += len({part.chosen.name for part in result.parts}) * rates["outline"] / 1000
    assert result.choice.cost == pytest.approx(by_hand)  # no step, no finer powder, no X-ray, nothing drilled
    assert result.after.cost == pytest.approx(result.choice.cost)


def test_one_fine_part_holds_the_foil_and_is_named_with_its_price():
    # The fine part prints on 70 µm only; leads that are uneven by 100 µm want 75 µm and more. A step serves both.
    line = {
        "preset": "fine",
        "foils": ["70 um", "100 um"],
        "technology": "laser-cut",
        "powder": "T4",
        "print": "as lands",
    }
    result = chosen(TINY, GATE, WIDE, line=line, reasons=True)
    assert result.choice.best.status == "optimal"
    assert result.choice.decision.startswith("100 µm foil, stepped")
    holds = {hold.ref: hold for hold in result.choice.holds}
    assert holds["U9"].saved > 0
    assert not result.choice.model.decisions[holds["U9"].freed].stepped
    rate = result.rates["foil"].value * result.rates["step_zone"].value / 1000
    assert holds["U9"].saved >= rate - 1e-9  # the step's charge, and the area of its clear margin


def test_a_stated_foil_binds_and_without_it_any_foil_on_hand_may_be_taken():
    def foils(**line):
        study = study_from({"part": [GATE], "line": {"foils": ["80 um", "100 um", "120 um"], **line}})
        decisions = decisions_of(Bench.of(study))
        return {one.foil_um for one in decisions}, any(one.stepped for one in decisions)

    assert foils()[0] == {80.0, 100.0, 120.0}
    assert foils(foil="120 um", steps_allowed=False) == ({120.0}, False)
    assert foils(foil="120 um", steps_allowed=True) == ({120.0}, True)  # only a step may go below it
    assert foils(foil="80 um", steps_allowed=True) == ({80.0}, False)


def test_limits_that_conflict_are_named_with_the_least_relaxation():
    result = chosen(GATE, WIDE, want={"board_limits": {"area": 30.0}})
    choice = result.choice
    assert choice.best.status == "infeasible"
    assert choice.conflict == ("board-area",)
    relaxed = choice.relaxed[0]
    again = chosen(GATE, WIDE, want={"board_limits": {"area": relaxed.needed + 0.01}})
    assert again.choice.best.status == "optimal"
    assert chosen(GATE, WIDE, want={"board_limits": {"area": relaxed.needed - 0.01}}).choice.best.status == "infeasible"


def test_a_least_change_that_was_not_settled_is_said_in_a_keyed_note_and_under_the_conflict(monkeypatch):
    monkeypatch.setattr("landwise.board.choice.RELAX_SECONDS", 0.0)
    monkeypatch.setattr("landwise.choosing.optimum.feasible.Together.choice", lambda *_: None)
    monkeypatch.setattr("landwise.choosing.optimum.explain._each_alone", lambda _: (float("-inf"), None))
    result = chosen(GATE, WIDE, want={"board_limits": {"area": 30.0}})
    assert [one.needed for one in result.choice.relaxed] == [None]
    data = result_data(result)
    assert "change-not-settled" in data["note_keys"]
    assert any("was not settled in the time" in note for note in data["notes"])
    lines = choice_lines(ResultJson.model_validate(data).choice)
    assert any(line.strip().startswith("the least change of") for line in lines)
    assert "was not settled in the time" in annex_html(result, ["", ""])


def test_any_figure_can_be_limited_with_its_unit():
    result = chosen(GATE, want={"limits": {"height": "1.2 mm"}})
    assert result.parts[0].chosen.figures["height"].value <= 1.2
    with pytest.raises(InputError, match="want, limits: no such figure") as wrong:
        chosen(GATE, want={"limits": {"hidden-joints": 3}})
    assert "hidden-joints" not in str(wrong.value).partition("expected")[2]  # a sum of the board, no option's figure
    with pytest.raises(InputError, match=r"want, board_limits: no such figure.*hidden-joints"):
        chosen(GATE, want={"board_limits": {"charm": 3}})
    with pytest.raises(InputError, match="not a number"):
        chosen(GATE, want={"limits": {"life": "long"}})
    assert chosen(GATE, want={"limits": {"life": "0.001 years", "pull": "0.01 N"}}).choice.best.found


def test_every_figure_that_has_a_better_side_can_be_limited():
    # A limit between the options' values takes out those on the worse side, and the ones without a value.
    options = ["SOT-23-5", "SC-70-5", "SOT-5x3-5", "SON-6-1.45x1.0", "WLP-5-0.5"]
    part = {**GATE, "options": [{"outline": name, "price": 0.03} for name in options]}
    want, memory, line = {"hidden_joints": "any"}, Memory(), LINE | {"foil": "100 um"}

    def modelled(**limits):
        study = study_from({"part": [part], "line": line, "want": {**want, "limits": limits}})
        return board_model(run_study(study, bench=Bench.of(study, memory)), memory=memory)

    figures = {}
    for (d, _, _), option in modelled().judged.items():
        for key, figure in option.figures.items():
            figures.setdefault(key, {})[d, option.name] = figure
    limited = []
    for key, found in figures.items():
        known = sorted({figure.value for figure in found.values() if figure.value is not None})
        better = {figure.better for figure in found.values() if figure.value is not None}
        if "neither" in better or len(known) < 2 or key == "cost":
            continue
        middle = (known[len(known) // 2 - 1] + known[len(known) // 2]) / 2
        bound = modelled(**{key: middle})
        mask = next((ban.mask for ban in bound.problem.bans if ban.name == key), np.zeros(bound.problem.cost.shape))
        for place, option in bound.judged.items():
            figure = found.get((place[0], option.name))
            if figure is None or figure.value is None:
                out = False
            else:
                # Only what breaks the limit at the better end of its interval is taken out.
                low, high = (figure.value if end is None else end for end in (figure.low, figure.high))
                out = low > middle if figure.better == "less" else high < middle
            assert mask[place] == out, (key, place)
        limited.append(key)
    assert {"area", "height", "pull", "push", "life", "transfer", "gap"} <= set(limited)


def test_groups_alternates_and_outline_limits_are_kept():
    other = {
        **GATE,
        "refs": ["U3"],
        "options": [{"outline": "SOT-23-5", "price": 0.5}, {"outline": "SC-70-5", "price": 0.02}],
    }
    one = {
        **GATE,
        "options": [{"outline": "SOT-23-5", "price": 0.02}, {"outline": "SC-70-5", "price": 0.5}],
    }
    free = chosen(one, other)
    assert len({part.chosen.name for part in free.parts}) == 2
    for tables in ({"want": {"most_outlines": 1}}, {}):
        group = {} if tables else {"group": "gates"}
        tied = chosen({**one, **group}, {**other, **group}, **tables)
        assert len({part.chosen.name for part in tied.parts}) == 1
    kept = chosen({**GATE, "alternates": ["SOT-23-5"]})
    assert kept.parts[0].chosen.name == "SOT-23-5"


def test_objectives_can_be_listed_or_weighed():
    first = chosen(GATE, WIDE, want={"objective": ["area", "cost"]}, reasons=True)
    smallest = min(p.values[1] for p in first.choice.points)
    model, best = first.choice.model, first.choice.best
    assert best.value == pytest.approx(smallest)
    assert model.area.use[best.decision, range(2), best.choice].sum() == pytest.approx(smallest)
    assert chosen(GATE, WIDE, want={"objective": "value"}).choice.best.status == "optimal"


def test_board_classes_change_the_price_of_area():
    cheap = {"name": "coarse", "layers": 2, "track": "0.2 mm", "space": "0.2 mm", "rate": 0.5}
    result = chosen(GATE, WIDE, board={"classes": [cheap]})
    assert "coarse" in result.choice.decision
    assert len(decisions_of(Bench.of(result.study))) == 2 * len(decisions_of(Bench.of(chosen(GATE).study)))


def test_every_option_is_judged_under_the_foil_that_prints_it():
    model = board_model(
        run_study(
            study_from(
                {
                    "part": [TINY, WIDE],
                    "line": {"preset": "fine", "foils": ["80 um", "100 um"], "technology": "laser-cut", "powder": "T4"},
                }
            )
        )
    )
    for (d, p, k), option in model.judged.items():
        if model.problem.allowed[d, p, k]:
            assert all(deposit.verdict != "fails" for deposit in option.geometry.printed.deposits), (
                model.says(d),
                option.name,
            )


def test_a_finer_powder_is_bought_where_an_opening_needs_it():
    free = TINY | {"locked": False}
    line = {"preset": "fine", "foils": ["80 um"], "foil": "80 um", "technology": "laser-cut", "powder": "T4"}
    assert chosen(free, line=line).choice.best.status == "infeasible"
    result = chosen(free, line={**line, "powders": ["T5", "T6"]}, reasons=True)
    assert "T5 powder" in result.choice.decision
    prices = {price.name: price.saved for price in result.choice.limits}
    # Without the limit the board would keep its powder, and pay the rework of that print instead.
    model, best = result.choice.model, result.choice.best
    own = [d for d, one in enumerate(model.decisions) if one.powder == "T4" and one.foil_um == 80.0]
    freed = model.problem.without([LimitKey.POWDER_PASSES])
    least = min(model.problem.value(d, best.choice) for d in own if freed.holds(d, best.choice))
    by_hand = model.problem.value(best.decision, best.choice) - least
    assert prices[LimitKey.POWDER_PASSES] == pytest.approx(by_hand)
    same = next(d for d in own if model.decisions[d].plan == model.decisions[best.decision].plan)
    finer = model.problem.shared_cost[best.decision] - model.problem.shared_cost[same]
    assert finer == pytest.approx(result.rates["finer_powder"].value)


def test_the_result_file_holds_every_point_as_a_full_choice():
    result = worked_example().result
    told = ResultJson.model_validate(json.loads((worked_example().folder / "result.json").read_text())).choice
    assert told.complete
    assert len(told.points) > 5
    assert all(set(point.options) == set(told.options) for point in told.points)
    # Today's package stays among equals, so the board may cost a little more than the cheapest of the trade-off.
    assert min(point.values[0] for point in told.points) == pytest.approx(told.value)
    assert told.value <= told.cost <= told.value + sum(part.alike for part in result.choice.answer.parts)


TWO_PARTS = """
[line]
foils = ["100 um"]
[[part]]
refs = ["U1", "U2"]
number = "1G08"
family = "LVC"
terminals = 5
package = "SOT-23-5"
options = [{ outline = "SOT-23-5", price = 0.03 }, { outline = "SC-70-5", price = 0.03 }]
[[part]]
refs = ["U5"]
number = "595"
family = "HC"
terminals = 16
package = "SO-16"
options = [{ outline = "SO-16", price = 0.1 }, { outline = "TSSOP-16", price = 0.101 }]
"""  # a price of its own: reasons of the same numbers that another test left on disk would be taken


# How often the command asks whether to stop before it does: while judging, amid the other choices, amid robustness.
@pytest.mark.parametrize(
    ("calls", "said", "status"),
    [
        (0, "stopped while judging", "optimal"),
        (24, "the choice itself is proven", "optimal"),
        (45, "the choice itself is proven", "optimal"),
    ],
)
def test_a_stopped_study_writes_its_files_and_ends_with_130(tmp_path, monkeypatch, capsys, calls, said, status):
    from contextlib import contextmanager

    from landwise.cli import terminal

    @contextmanager
    def asked():
        count = iter(range(10_000))
        yield lambda: next(count) >= calls

    monkeypatch.setattr(terminal, "stopping", asked)
    (tmp_path / "board.toml").write_text(TWO_PARTS)
    with pytest.raises(SystemExit) as ended:
        main(["study", str(tmp_path / "board.toml"), "-o", str(tmp_path), "--no-drawings"])
    assert ended.value.code == 130
    assert said in capsys.readouterr().err
    choice = json.loads((tmp_path / "result.json").read_text())["choice"]
    if status is None:
        assert choice is None
    else:
        assert choice["status"] == status
        assert choice["left_out"]


def test_explain_tells_the_story_of_the_foil_and_of_a_part(capsys):
    done = worked_example()
    file = str(done.folder / "result.json")
    assert "proven: no choice can be below" in done.out
    for words, expected in (
        ("foil", "shared by all parts: 100 µm foil, no X-ray"),
        ("foil", "150 µm foil, no X-ray instead: "),
        ("U9", " instead, the board costs"),
        ("steps", "saved: U10"),
        ("trade-off", "all of the trade-off"),
        ("trade-off 2", "shared by all parts: "),
        ("choice", "proven: no choice can be below"),
        ("total", "cost-area"),
        ("total cost", "sum of these lines"),
    ):
        with pytest.raises(SystemExit):
            main(["explain", file, *words.split()])
        assert expected in capsys.readouterr().out, words
    with pytest.raises(SystemExit) as ended:
        main(["explain", file, "trade-off", "9999"])
    assert ended.value.code == 2
    assert "no such board of the trade-off" in capsys.readouterr().err


def test_a_board_that_cannot_be_says_so_first_and_why(tmp_path, capsys):
    study = tmp_path / "small.toml"
    study.write_text(
        '[want]\nboard_limits = { area = "1 mm2" }\n[line]\nfoils = ["100 um"]\n'
        '[[part]]\nrefs = ["U1"]\nnumber = "1G08"\nfamily = "LVC"\n'
        'terminals = 5\npackage = "SOT-23-5"\noptions = [{ outline = "SOT-23-5" }, { outline = "SC-70-5" }]\n'
    )
    with pytest.raises(SystemExit) as ended:
        main(["study", str(study), "-o", str(tmp_path / "out"), "--no-drawings"])
    assert ended.value.code == 0
    said = capsys.readouterr().out
    assert said.index("no choice keeps every limit; each part stands here as if it were alone") < said.index("SC-70-5")
    assert "possible if 'board area' allows" in said
    page = (tmp_path / "out" / "report.html").read_text()
    front = page[: page.index("No choice keeps every limit. Each part by itself:")]
    # Page one names the limit and the change that is enough, in the terminal's words, before any part.
    assert "These limits conflict, and any smaller set does not: board area." in front
    told = next(line.strip() for line in said.splitlines() if "possible if 'board area' allows" in line)
    assert told.capitalize().replace("'", "&#39;") in front.replace("&#x27;", "&#39;")
    with pytest.raises(SystemExit):
        main(["explain", str(tmp_path / "out" / "result.json"), "foil"])
    assert "any smaller set does not: board area" in capsys.readouterr().out


BREAKS = {"1": 0.12, "500": 0.09, "1000": 0.072}
DRILLED = {
    "refs": ["U8"],
    "number": "132",
    "family": "HC",
    "terminals": 14,
    "package": "DIP-14",
    "options": [{"outline": "DIP-14", "price": 0.2}, {"outline": "SO-14", "prices": BREAKS}],
}
VARIED = {
    "part": [TINY | {"locked": False}, GATE, DRILLED],
    "line": {
        "preset": "fine",
        "foils": ["80 um", "100 um"],
        "foil": "100 um",
        "technology": "laser-cut",
        "powder": "T4",
        "powders": ["T5"],
        "technologies": ["electroformed"],
    },
    "board": {"layers": 4, "classes": [{"name": "coarse", "layers": 2, "rate": 0.7}]},
}


@cache
def varied():
    return board_model(run_study(study_from(VARIED)))


MOVED = [
    ("board_area", 0.11),
    ("optical", 0.004),
    ("foil", 240.0),
    ("finer_powder", 0.02),
    ("run", 3000),
    ("placement", 0.05),
    ("xray", 0.3),
    ("step_zone", 0.9),
    ("better_foil", 0.5),
    ("layer_factor", 0.6),
    ("insertion", 0.3),
    ("run", 400),
]


# One each of area, inspection, foil, powder and volume; the others follow the same ways, under `make whole`.
@pytest.mark.parametrize(("name", "value"), MOVED if WHOLE else MOVED[:5])
def test_a_moved_input_costs_what_a_study_with_it_costs(name, value):
    # The robustness moves rates without working the board again; here the board is worked again.
    from landwise.board.firm import market_of

    model = varied()
    costs = {"run": value} if name == "run" else {"rates": {name: value}}
    again = board_model(run_study(study_from({**VARIED, "costs": costs})))
    market = market_of(model)
    assert name in {one.name for one in market.inputs}
    moved = market.at(model.problem, name, value)
    assert moved.cost[model.problem.allowed] == pytest.approx(again.problem.cost[model.problem.allowed])
    assert moved.shared_cost == pytest.approx(again.problem.shared_cost)


def test_several_processes_give_the_same_board(monkeypatch):
    from landwise.board import judged as boardjudged

    keep_on_disk(None)  # every process works its own numbers
    forget()
    # One foil and one part that is open: a decision for each plan of inspection, and three small parts to share out.
    line = LINE | {"preset": "fine"}
    held = [
        {**GATE, "refs": [ref], "options": [{"outline": name, "price": 0.1}]}
        for ref, name in (("U5", "SOT-23-5"), ("U9", "SC-70-5"))
    ]
    result = run_study(study_from({"part": [GATE, *held], "line": line}))
    alone = board_model(result)
    monkeypatch.setattr(boardjudged, "WORTH", 0)
    said = []
    together = board_model(result, jobs=2, progress=lambda *told: said.append(told[-1]))
    assert "3 of 3 parts" in said
    assert (together.problem.cost == alone.problem.cost).all()
    assert (together.problem.allowed == alone.problem.allowed).all()
    assert (together.risk.use == alone.risk.use).all()
    assert together.judged.keys() == alone.judged.keys()
    for place, option in together.judged.items():
        assert figures_data(option.figures.values()) == figures_data(alone.judged[place].figures.values())
    assert board_model(result, jobs=2, stop=lambda: True) is None
