"""Charts: values where the axis says, labels apart, verdicts as word and shape, errors that name the fault."""

from __future__ import annotations

import math
from xml.etree import ElementTree

import pytest

from landwise.errors import InputError
from landwise.sheets.axis import Axis, fitted, round_step
from landwise.sheets.barchart import stacked_chart, stacked_picture, verdict_chart, verdict_picture
from landwise.sheets.chart import Interval, interval_chart, interval_picture
from landwise.sheets.chartaxes import WIDTH_MM
from landwise.sheets.clashes import lines_through_texts, texts_clash
from landwise.sheets.scatterchart import Spot, place_labels, scatter_chart, scatter_picture
from landwise.sheets.svg import Area, Disc, Text

ROWS = [
    Interval("TSSOP-14", 1.67, 1.5, 1.8, "holds"),
    Interval("QFN-14-2.5x3", 0.71, 0.6, 0.8, "marginal"),
    Interval("a part with a very long name that no column has room for", 0.5, 0.42, 0.6, "fails"),
    Interval("DIP-14", None),
]
SPOTS = [
    Spot("DIP-14", 199, 0.52, None, (0.48, 0.56), "holds"),
    Spot("SO-14", 68.7, 0.431, None, (0.41, 0.45), "holds"),
    Spot("TSSOP-14", 43.8, 0.412, None, (0.39, 0.44), "holds", True),
    Spot("SSOP-14", 44.5, 0.415, None, None, "marginal"),
    Spot("TVSOP-14", 42, 0.413, (40, 44), None, "fails"),
    Spot("QFN-14-2.5x3", 15.9, 0.42, None, (0.38, 0.5), "not known"),
    Spot("QFN-14-3.5x3.5", 18, 0.42),
]
PARTS = [
    ("TSSOP-14", [("part", 0.2), ("board area", 0.05), ("placement", 0.01), ("stencil", 0.0)]),
    ("DIP-14", [("part", 0.15), ("board area", 0.2), ("placement", 0.1), ("stencil", 0.004)]),
]
STRIP = [
    ("TSSOP-14", ["holds", "holds", "marginal", "fails"]),
    ("QFN-14", ["holds", "marginal", "fails", "not known"]),
]
FOILS = ["80 µm", "100 µm", "120 µm", "150 µm"]


def clean(picture):
    return texts_clash(picture) == [] and lines_through_texts(picture) == []


@pytest.mark.parametrize("log", [False, True])
def test_interval_values_stand_on_their_axis(log):
    picture = interval_picture(ROWS, "Area ratio", limit=0.66, limit_text="0.66, a guideline", log=log)
    assert clean(picture)
    ticks = {float(t.text): t.x for t in picture.texts if t.anchor == "middle" and t.text.replace(".", "").isdigit()}
    whisker = next(m.box for m in picture.marks if isinstance(m, Area) and m.stroke and m.stroke.width_mm == 0.5)
    (low, x_low), (high, x_high) = min(ticks.items()), max(ticks.items())
    share = math.log(1.5 / low) / math.log(high / low) if log else (1.5 - low) / (high - low)
    assert whisker[0] == pytest.approx(x_low + share * (x_high - x_low), abs=1e-6)
    assert [t.text for t in picture.texts if t.text == "no value"] == ["no value"]
    assert {"holds", "marginal", "fails", "not known"} <= {t.text for t in picture.texts}


def test_limit_line_stands_at_the_limit_and_names_its_source():
    picture = interval_picture(ROWS, "Area ratio", limit=0.5, limit_text="0.5, a guideline")
    drawn = next(m.box for m in picture.marks if isinstance(m, Area) and m.stroke and m.stroke.colour == "brick")
    ticks = {t.text: t.x for t in picture.texts if t.anchor == "middle"}
    assert drawn[0] == pytest.approx(ticks["0.5"])
    assert "0.5, a guideline" in ticks


def test_scatter_labels_are_apart_and_all_there():
    picture = scatter_picture(SPOTS, "Courtyard area", "Cost of one good board", x_unit="mm2")
    assert clean(picture)
    assert {spot.label for spot in SPOTS} <= {text.text for text in picture.texts}
    rings = [m for m in picture.marks if isinstance(m, Disc) and m.radius == 2.6]
    assert len(rings) == 1


def test_crowded_labels_are_listed_not_overlaid():
    places = [(20.0 + 0.1 * n, 20.0) for n in range(60)]
    marks = place_labels([f"option number {n}" for n in range(60)], places, (0, 0, 60, 40))
    texts = [mark for mark in marks if isinstance(mark, Text)]
    listed = " ".join(t.text for t in texts if t.y > 40)
    assert listed.startswith("Not labelled for want of room")
    placed = {t.text for t in texts if t.y <= 40}
    for n in range(60):
        assert f"option number {n}" in placed or f"option number {n}" in listed


def test_bars_add_up():
    picture = stacked_picture(PARTS, "Cost of one good board")
    assert clean(picture)
    bars = [m.box for m in picture.marks if isinstance(m, Area) and m.stroke and m.closed and m.box[3] - m.box[1] > 4]
    rows = sorted({round(box[1], 3) for box in bars})
    lengths = [
        max(b[2] for b in bars if round(b[1], 3) == y) - min(b[0] for b in bars if round(b[1], 3) == y) for y in rows
    ]
    assert lengths[0] / lengths[1] == pytest.approx(0.26 / 0.454)
    assert {"0.26", "0.454"} <= {t.text for t in picture.texts}


def test_bars_refuse_what_they_cannot_show():
    with pytest.raises(InputError, match="not below zero"):
        stacked_picture([("x", [("a", -1.0)])], "t")
    with pytest.raises(InputError, match="same in every row"):
        stacked_picture([("x", [("a", 1.0)]), ("y", [("b", 1.0)])], "t")


def test_strip_says_each_verdict_in_words_or_gives_the_key():
    picture = verdict_picture(STRIP, FOILS, "Verdict by foil")
    assert clean(picture)
    assert sum(t.text in ("holds", "marginal", "fails", "not known") for t in picture.texts) == 8
    many = verdict_picture([("TSSOP-14", ["holds"] * 14)], [f"{n} µm" for n in range(60, 200, 10)], "t")
    assert clean(many)
    assert {"holds", "marginal", "fails", "not known"} <= {t.text for t in many.texts}
    with pytest.raises(InputError, match="verdict for every column"):
        verdict_picture([("x", ["holds"])], FOILS, "t")


def test_charts_are_repeatable_well_formed_and_described():
    for make in (
        lambda: interval_chart(ROWS, "Area ratio", limit=0.66, limit_text="0.66"),
        lambda: scatter_chart(SPOTS, "Area", "Cost", x_unit="mm2"),
        lambda: stacked_chart(PARTS, "Cost"),
        lambda: verdict_chart(STRIP, FOILS, "Verdict by foil"),
    ):
        svg = make()
        assert svg == make()
        root = ElementTree.fromstring(svg)
        assert float(root.get("width").removesuffix("mm")) >= WIDTH_MM
        assert "TSSOP-14" in root.find("{http://www.w3.org/2000/svg}desc").text


def test_axis_steps_are_round_and_cover_the_values():
    assert [round_step(v) for v in (0.011, 0.2, 3, 51)] == [pytest.approx(v) for v in (0.02, 0.2, 5, 100)]
    axis = fitted([3.0, 97.0], 10, 110)
    assert axis.low == 0
    assert axis.high >= 97
    assert all(b > a for a, b in zip(axis.ticks(), axis.ticks()[1:], strict=False))
    assert Axis(10, 20, 0, 100).at(15) == 50
    assert Axis(10, 1000, 0, 100, log=True).at(100) == pytest.approx(50)
    single = fitted([5.0], 0, 100, zero=False)
    assert single.low < 5 < single.high


@pytest.mark.parametrize("values", [[], [float("nan")], [float("inf")]])
def test_axis_needs_finite_values(values):
    with pytest.raises(InputError, match="finite"):
        fitted(values, 0, 1)


def test_log_axis_needs_positive_values():
    with pytest.raises(InputError, match="logarithmic"):
        fitted([0.0, 10.0], 0, 1, log=True)
