"""Styles, levels and what a pattern says of itself."""

from __future__ import annotations

from dataclasses import replace

import pytest

from landwise.errors import InputError, ValidityError
from landwise.lands import LandRules, land_pattern
from landwise.outlines import PublishedLand, Range, find

SO = replace(find("SO-14"), name="plain", published_land=None)


@pytest.mark.parametrize(
    ("name", "style"),
    [
        ("SO-14W", "goals"),
        ("SO-14", "published"),
        ("SO-8", "published"),
        ("SON-8-1.35x1.0", "pad-for-pad"),
        ("SON-8-1.95x1.0", "goals"),
        ("QFN-20-4x4", "goals"),
        ("DIP-14", "goals"),
        ("WLP-5-0.5", "published"),
    ],
)
def test_auto_takes_the_printed_land_then_pads_then_goals(name, style):
    assert land_pattern(find(name)).style == style


def test_longest_body_for_pads_is_a_rule():
    assert land_pattern(find("SON-8-1.35x1.0"), rules=LandRules(pad_for_pad_longest_mm=1.2)).style == "goals"


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"style": "ipc"}, "unknown land style"),
        ({"level": "B"}, "unknown density level"),
        ({"style": "published"}, "no published land"),
        ({"style": "pad-for-pad"}, "leadless"),
    ],
)
def test_impossible_choices_are_refused(change, says):
    with pytest.raises(InputError, match=says):
        land_pattern(SO, **change)


def test_levels_move_the_toe_by_the_goals():
    spans = []
    for level in ("most", "nominal", "least"):
        lands = land_pattern(SO, level=level, rules=LandRules(rounding="none")).lands
        spans.append(2 * max(land.place.box[2] for land in lands))
    assert spans[0] - spans[1] == pytest.approx(2 * (0.55 - 0.35))
    assert spans[1] - spans[2] == pytest.approx(2 * (0.35 - 0.15))


def test_goals_hold_outer_up_inner_down_whatever_the_rounding():
    def spans(rounding):
        land = land_pattern(SO, rules=LandRules(rounding=rounding, trim_heels=False)).lands[0].place
        return 2 * (abs(land.x_mm) + land.shape.length_mm / 2), 2 * (abs(land.x_mm) - land.shape.length_mm / 2)

    exact, fine, coarse = spans("none"), spans("fine"), spans("coarse")
    assert exact == pytest.approx((6.924, 2.975), abs=0.0005)
    assert fine == pytest.approx((6.93, 2.97))
    assert coarse == pytest.approx((6.95, 2.95))


def test_worst_case_reaches_further_in_than_the_squares():
    def inner(rms):
        rules = LandRules(rounding="none", trim_heels=False, rms=rms)
        land = land_pattern(replace(SO, foot_mm=Range(0.4, 0.7, 1.0)), rules=rules).lands[0].place
        return abs(land.x_mm) - land.shape.length_mm / 2

    assert inner(False) != pytest.approx(inner(True), abs=0.01)


def test_published_land_is_taken_as_printed_at_every_level():
    land = PublishedLand(1.5, 0.5, "ixys-ixdn609si", rows_mm=5.2, mask_margin_mm=0.03)
    outline = replace(SO, published_land=land)
    patterns = [land_pattern(outline, level=level) for level in ("most", "nominal", "least")]
    for pattern in patterns:
        first = pattern.lands[0]
        assert (first.place.shape.length_mm, first.place.shape.width_mm, first.place.x_mm) == (1.5, 0.5, -2.6)
        assert first.opening.shape.width_mm == pytest.approx(0.56)
        assert "ixys-ixdn609si" in pattern.trail[0].sources
    assert patterns[0].courtyard_mm > patterns[2].courtyard_mm


def test_a_printed_land_for_other_feet_is_reported():
    land = PublishedLand(0.3, 0.5, "ixys-ixdn609si", rows_mm=6.5)
    says = [bind.says for bind in land_pattern(replace(SO, published_land=land)).binds]
    # Feet run from 2.165 to 3.000 mm, this land from 3.100 to 3.400.
    assert "terminal 1 reaches 0.935 mm past the heel of its land" in says


def test_printed_rows_must_be_placed():
    with pytest.raises(InputError, match="rows_mm"):
        land_pattern(replace(SO, published_land=PublishedLand(1.5, 0.5, "ixys-ixdn609si")))
    quad = replace(find("QFP-32"), published_land=PublishedLand(1.5, 0.4, "landwise-rule", rows_mm=8.4))
    with pytest.raises(InputError, match="columns_mm"):
        land_pattern(quad)


def test_row_outlines_need_a_foot():
    with pytest.raises(InputError, match="foot_mm"):
        land_pattern(replace(SO, foot_mm=None))


def test_a_ball_outside_the_table_is_refused_unless_it_is_rigid():
    outline = replace(find("BGA-20-0.65"), published_land=None, pitch_mm=1.5, terminal_width_mm=Range(0.85, 0.9, 0.95))
    with pytest.raises(ValidityError, match="no published land"):
        land_pattern(outline)
    pattern = land_pattern(outline, rules=LandRules(collapsing_balls=False))
    assert pattern.lands[0].place.shape.length_mm == pytest.approx(0.99)


def test_trail_names_goals_inputs_and_sources():
    step = land_pattern(SO).trail[0]
    assert step.formula == "land-span"
    assert step.inputs["goals"] == "toe 0.35, heel 0.35, side 0.03 mm"
    assert step.inputs["span"] == "5.8…6.2 mm"
    assert "ipc-7351b-goals" in step.sources
    assert step.value == pytest.approx(6.93)


def test_lands_mirror_across_the_body():
    for name in ("SO-14", "QFN-20-4x4", "WLP-6-0.5", "DIP-14"):
        places = {(round(l.place.x_mm, 6), round(l.place.y_mm, 6)) for l in land_pattern(find(name)).lands}  # noqa: E741
        assert {(-x, -y) for x, y in places} == {(x + 0.0, y + 0.0) for x, y in places}
