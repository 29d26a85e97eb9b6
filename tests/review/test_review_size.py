"""Large films: what is bounded says so, and what is left out for speed changes no figure.

Held against the longer way through the same model: the rates of a study, and every design weighed.
"""

from __future__ import annotations

from importlib import import_module

import numpy as np
import pytest
import shapely

from landwise.assembly.lines import preset
from landwise.assembly.partmodel import part_model
from landwise.assembly.partrates import modelled_draws, part_rates
from landwise.errors import InputError
from landwise.fabdata.gerber import Drawn, compose
from landwise.fabdata.gerber.apertures import standard
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import Foil, print_part
from landwise.review import mending
from landwise.review.reviews import Asked, review

from .boards import board, chip, dual, side

LINE = preset("ordinary")
designs = import_module("landwise.review.mending.designs")  # the package has a function of that name
FOIL_UM = 100.0


def model_of(name):
    part = find(name)
    pattern = land_pattern(part)
    printed = print_part(pattern, Foil(FOIL_UM, LINE.technology), outline=part)
    return part_model(part, pattern, printed, LINE.scatter)


def three_kinds():
    """Three like rows of leads, two like chips, one chip of its own."""
    lands = [land for k in range(3) for land in dual(0, 12 * k, 7, 0.65, 5.8, 1.5, 0.4)]
    lands += [land for k in range(2) for land in chip(20, 4 * k, 1.6, 0.8, 0.9)]
    return board(side(lands + chip(20, 30, 2.4, 1.0, 1.4)))


def worked(**more):
    found = review(three_kinds(), LINE, Asked(foils_um=(FOIL_UM,), **more))
    return found, found.sides[0]


def test_levels_without_first_pass_are_those_of_a_study():
    model = model_of("TSSOP-14")
    whole = part_rates(model).draws()
    alone = modelled_draws(model)
    assert set(alone) < set(whole)
    for name, values in alone.items():
        np.testing.assert_array_equal(values, whole[name])


def test_nothing_is_none_only_below_what_was_named():
    model = model_of("TSSOP-14")
    most = part_rates(model).worked.defects.value
    assert modelled_draws(model, nothing=1.01 * most) is None
    assert modelled_draws(model, nothing=0.99 * most) is not None


def test_of_more_kinds_than_there_is_time_for_the_most_frequent_are_counted_and_it_is_said():
    found, one = worked(most_kinds=2)
    counted = {part.part for part in one.parts if part.known}
    kinds = {number: part.kind for number, part in enumerate(one.given.parts)}
    assert sorted(kinds[number] for number in counted) == ["chip", "chip"] + ["gull-wing dual"] * 3
    assert sum("2 kinds of part that come most often, 5 of 6 parts" in note for note in found.notes) == 1
    assert one.choice.best.told == 5


def test_with_time_for_all_kinds_all_are_counted_and_nothing_is_said():
    found, one = worked(most_kinds=3)
    assert all(part.known for part in one.parts)
    assert not any("kinds of part" in note for note in found.notes)


def test_a_review_can_be_stopped_between_two_levels():
    def going(stage):
        if stage.startswith("levels"):
            raise InputError("stopped", place=stage)

    with pytest.raises(InputError, match="levels under 100"):
        worked(going=going)


def test_designs_that_are_not_looked_for_would_not_have_been_kept(monkeypatch):
    fine = [land for k in range(2) for land in dual(0, 16 * k, 14, 0.5, 5.8, 1.5, 0.32)]
    many = board(side(fine + [land for k in range(4) for land in chip(20, 4 * k, 1.6, 0.8, 0.9)]))
    asked = Asked(foils_um=(FOIL_UM,))
    quick = review(many, LINE, asked).sides[0].proposals
    monkeypatch.setattr(mending, "WORTH", 0.0)
    assert quick == review(many, LINE, asked).sides[0].proposals
    assert [one.rule for one in quick] == ["designed"]


def test_shapes_moved_a_few_at_a_time_lie_where_they_would_together(monkeypatch):
    shapes = [*standard("C", [0.3]), *standard("R", [0.5, 0.2])]
    film = [Drawn((shapes[k % 2],), 0.7 * k, 0.1 * k, True, 10, 1, (k,)) for k in range(40)]
    whole = compose.compose(film).polygon
    monkeypatch.setattr(compose, "MOVED_AT_ONCE", 300)
    assert shapely.equals_exact(compose.compose(film).polygon, whole).all()
    place = np.column_stack([np.linspace(0, 3, 40), np.arange(40), np.zeros(40)])
    turned = designs._on_board(whole, place)
    monkeypatch.setattr(designs, "MOVED_AT_ONCE", 3)
    assert shapely.equals_exact(designs._on_board(whole, place), turned).all()
    np.testing.assert_array_equal(designs._apart_mm2(whole, turned), shapely.area(whole ^ turned))
