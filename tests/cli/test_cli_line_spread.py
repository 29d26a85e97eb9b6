"""A line whose deposits spread far more below area ratio 0.60 changes the rates of small openings, and no others'."""

from __future__ import annotations

import json

import pytest
import shapely
from click.testing import CliRunner

from landwise.assembly.lines import preset
from landwise.cli import app
from landwise.judging.namedline import named_line
from landwise.judging.study import run_study
from landwise.review.building import openings
from landwise.review.levels import Levels
from landwise.review.model import BoardInput, SideInput
from landwise.review.reviews import review
from landwise.sheets.pictures import window_of
from landwise.sheets.reportdata import _two_sides
from landwise.study.file import study_from

SMALL, LARGE = "SON-5-0.8x0.8", "SO-14"  # smallest openings on 100 um, printed as the lands: 0.60 and 2.2
ROWS = [
    {"area_ratio": ratio, "spread": [cv / by, cv, cv * by], "technology": "laser-cut", "powder": "T4"}
    for ratio, cv, by in ((0.50, 0.60, 1.05), (0.55, 0.50, 1.05), (0.60, 0.20, 1.05), (0.85, 0.05, 1.0))
]
LINE = "[line]\n" + "".join(
    f"[[line.spread]]\narea_ratio = {row['area_ratio']}\nspread = {row['spread']}\n" for row in ROWS
)


def judged(name: str, line: dict[str, object]):
    outline = {"refs": ["U1"], "function": "2-input gate", "terminals": 5 if name == SMALL else 14, "family": "LVC"}
    if name == LARGE:
        outline = {"refs": ["U1"], "number": "00", "family": "HC", "terminals": 14}
    part = {**outline, "options": [{"outline": name, "price": 0.1}]}
    result = run_study(study_from({"line": {"print": "as lands", "foil": "100 um", **line}, "part": [part]}))
    return next(one for one in result.parts[0].options if one.name == name), result


@pytest.fixture(scope="module")
def both():
    return {name: [judged(name, line) for line in ({}, {"spread": ROWS})] for name in (SMALL, LARGE)}


def test_rates_of_the_small_opening_rise_and_those_of_the_large_stay(both):
    (small, _), (moved, _) = both[SMALL]
    assert moved.geometry.rates.opens.value > 2 * small.geometry.rates.opens.value
    assert "spread of deposits as your line measured, 20% at area ratio 0.60" in moved.figures["open"].why
    (large, _), (stayed, _) = both[LARGE]
    assert stayed.geometry.rates.opens == large.geometry.rates.opens
    assert stayed.geometry.rates.bridges == large.geometry.rates.bridges
    assert "spread of deposits" not in large.figures["open"].why


def test_a_rate_says_where_the_line_measured_nothing_near():
    option, _ = judged(SMALL, {"spread": [{**ROWS[3], "area_ratio": 0.75}]})
    assert "as shipped, 12%: your line measured none near area ratio 0.60" in option.figures["open"].why


def test_the_process_window_takes_it_and_says_so(both):
    for name, rises in ((SMALL, True), (LARGE, False)):
        plain, own = (window_of(option.geometry, result.line, result.content) for option, result in both[name])
        at = plain.foils_um.index(100.0)
        assert (own.opens[0, at] > 1.5 * plain.opens[0, at]) == rises
    assert "as your line measured" in " ".join(_two_sides(*both[SMALL][1]))


def test_compare_takes_it_from_a_line_file(tmp_path):
    as_lands = (
        '[line]\nprint = "as lands"\nfoil = "100 um"\n'  # a designed print would open wider, where nothing was measured
    )
    (tmp_path / "plain.toml").write_text(as_lands)
    (tmp_path / "line.toml").write_text(LINE.replace("[line]\n", as_lands, 1))
    asked = ["compare", "--function", "2-input gate", "--terminals", "5", "--options", f"{SMALL}=0.1", "--json"]
    found = []
    for file in ("plain.toml", "line.toml"):
        done = CliRunner().invoke(app, [*asked, "--line", str(tmp_path / file)])
        assert done.exit_code == 0, done.output
        (option,) = [one for one in json.loads(done.output)["parts"][0]["options"] if one["outline"] == SMALL]
        found.append({one["key"]: one["value"] for one in option["figures"]}["open"])
    assert found[1] > 1.2 * found[0]


def test_a_review_takes_it_from_a_line_file(tmp_path):
    (tmp_path / "line.toml").write_text(LINE)
    own = named_line(str(tmp_path / "line.toml"))
    assert own.scatter.spread.ratios == (0.50, 0.55, 0.60, 0.85)
    assert Levels(own, "T4").line.scatter != preset("ordinary").scatter
    for side, rises in ((0.22, True), (1.2, False)):  # squares of area ratio 0.55 and 3.0 on 100 um
        paste = openings([shapely.box(x, 0, x + side, side) for x in (0, 2, 4)])
        board = BoardInput("squares", (SideInput("top", paste),))
        short = [review(board, line).sides[0].given.under for line in (preset("ordinary"), own)]
        plain, moved = (float(one.starved.sum()) for one in short)
        assert (moved > 1.5 * plain) == rises
    assert any("spread of deposits at area ratios 0.50 to 0.85" in note for note in review(board, own).notes)


def measured(*means: tuple[float, tuple[float, float, float]]):
    return [{**ROWS[2], "area_ratio": ratio, "spread": [0.12, 0.12, 0.12], "mean": list(mean)} for ratio, mean in means]


@pytest.mark.parametrize(
    ("mean", "verdict"),
    [((0.82, 0.85, 0.88), "holds"), ((0.70, 0.74, 0.78), "fails"), ((0.74, 0.80, 0.86), "marginal")],
)
def test_the_release_of_an_opening_is_what_the_line_measured(both, mean, verdict):
    """At area ratio 0.60, where the shipped band is marginal by the 80 % that paste inspection passes."""
    (plain, _), _ = both[SMALL]
    assert plain.figures["transfer"].verdict == "marginal"
    option, _ = judged(SMALL, {"spread": measured((0.60, mean))})
    figure = option.figures["transfer"]
    assert (figure.low, figure.value, figure.high) == pytest.approx(mean, abs=0.012)
    assert figure.verdict == verdict
    assert dict(option.geometry.window.verdicts)[100.0] == verdict
    assert option.geometry.printed.verdict == ("fails" if verdict == "fails" else option.geometry.printed.verdict)
    assert "your line transfers" in figure.why
    assert "as your line measured it" in figure.trail[-1].says
    assert figure.trail[-1].sources == ("study",)
    assert figure.trail[-1].given["release"].place == "line.spread"
    assert (option.geometry.demand.kind == "none") == (verdict != "fails")


def test_a_mean_measured_elsewhere_leaves_the_shipped_band(both):
    (plain, _), _ = both[SMALL]
    option, _ = judged(SMALL, {"spread": measured((0.80, (0.70, 0.74, 0.78)))})
    for key in ("transfer", "foil"):
        assert option.figures[key].value == plain.figures[key].value
        assert option.figures[key].verdict == plain.figures[key].verdict


def test_rates_take_the_mean_of_their_own_area_ratio(both):
    """High at 0.60 and low at 0.90: only the small opening's joints are better off."""
    (plain, _), _ = both[SMALL]
    more, less = (
        judged(SMALL, {"spread": measured((0.60, mean))})[0] for mean in ((0.88, 0.9, 0.92), (0.6, 0.62, 0.64))
    )
    opens = [one.geometry.rates.opens.value for one in (more, plain, less)]
    assert opens[0] < opens[1] < opens[2]
    assert "paste transfer as your line measured, 90%" in more.figures["open"].why
