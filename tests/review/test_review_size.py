"""Large films: what is bounded says so, and what is left out for speed changes no figure.

Held against the longer way through the same model: the rates of a study, and every design weighed.
"""

from __future__ import annotations

from importlib import import_module

import numpy as np
import pytest
import shapely
from scipy.stats import norm
from shapely.affinity import translate

from landwise import memory
from landwise.assembly.lines import preset
from landwise.assembly.partmodel import part_model
from landwise.assembly.partrates import modelled_draws, part_rates
from landwise.errors import InputError
from landwise.fabdata.gerber import Drawn, compose
from landwise.fabdata.gerber.apertures import standard
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import Foil, print_part
from landwise.review import joblayers, mending, pacing
from landwise.review.jobs import read_board
from landwise.review.levels import Levels
from landwise.review.mending import rejecting
from landwise.review.mending.rejecting import BESIDE_MM, beside_mm2, rejects
from landwise.review.mending.sheet import Draft, Sheet
from landwise.review.mending.weighing import weigh
from landwise.review.reviews import Asked, review
from landwise.review.verdicts import bands

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


def test_of_more_kinds_than_are_asked_for_those_with_most_openings_are_counted_and_it_is_said():
    found, one = worked(most_kinds=2)
    counted = {part.part for part in one.parts if part.known}
    kinds = {number: part.kind for number, part in enumerate(one.given.parts)}
    assert sorted(kinds[number] for number in counted) == ["chip", "chip"] + ["gull-wing dual"] * 3
    assert sum("2 kinds of part that carry most openings, 5 of 6 parts" in note for note in found.notes) == 1
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


def test_what_lies_beside_a_land_is_its_area_beyond_what_paste_draws_back_from():
    given = worked()[1].given
    land = given.lands.polygon[0]
    sheet = Sheet(given, np.zeros(len(given.parts), dtype=np.int64))
    assert beside_mm2(sheet, 0, np.array([land])) == 0.0
    away = -0.2 if given.lands.x_mm[0] < 0 else 0.2  # out of the part, along the land's 1.5 mm
    moved = np.array([translate(land, away), land])
    assert beside_mm2(sheet, 0, moved) == pytest.approx((0.2 - BESIDE_MM) * 0.4, abs=1e-9)


def test_too_large_a_film_is_refused_before_any_outline_is_made(tmp_path, monkeypatch):
    places = "".join(f"X{k * (k + 7) * 10000}Y{k * 900000}D03*\n" for k in range(25))
    (tmp_path / "board.gtp").write_text(f"%FSLAX46Y46*%\n%MOMM*%\n%ADD10R,0.5X0.3*%\nD10*\n{places}M02*\n")
    assert len(read_board(tmp_path, {}, 25).films["top"].pads) == 25
    with pytest.raises(InputError, match="more openings"):
        read_board(tmp_path, {}, 24)
    monkeypatch.setattr(compose, "_placed", lambda _: pytest.fail("made"))
    with pytest.raises(InputError, match=r"board\.gtp.*more openings.*25.*at most 12"):
        read_board(tmp_path, {}, 12)


class Watch:
    """Time that passes only where a review asks how much is left: a second each time, all of it after so many."""

    def __init__(self, seconds, askings=10_000):
        self.seconds, self.askings = seconds, askings

    def __call__(self):
        self.seconds, self.askings = self.seconds - 1, self.askings - 1
        return float(self.seconds) if self.askings >= 0 else 0.0


@pytest.fixture
def nothing_known(monkeypatch):
    """What is known already, here or on disk, takes no time."""
    monkeypatch.setattr(memory, "_disk", [])
    memory.forget()


@pytest.mark.usefixtures("nothing_known")
def test_a_review_short_of_time_counts_the_kinds_with_most_openings_and_says_what_it_left():
    found, one = worked(left=Watch(4))
    kinds = {number: part.kind for number, part in enumerate(one.given.parts)}
    assert [kinds[part.part] for part in one.parts if part.known] == ["gull-wing dual"] * 3
    said = [note for note in found.notes if "--most-seconds" in note]
    assert "the 1 kinds of part that carry most openings, 3 of 6 parts" in said[0]
    enough, usual = worked(left=Watch(10_000)), worked()
    assert enough[0].notes == usual[0].notes
    assert enough[1].proposals == usual[1].proposals


def test_designs_left_for_want_of_time_are_counted():
    fine = [land for k in range(2) for land in dual(0, 16 * k, 14, 0.5, 5.8, 1.5, 0.32)]
    late = board(side(fine + [land for k in range(4) for land in chip(20, 4 * k, 1.6, 0.8, 0.9)]))
    found = review(late, LINE, Asked(foils_um=(FOIL_UM,), left=Watch(1000, 4)))
    assert all(part.known for part in found.sides[0].parts)
    assert not found.sides[0].proposals
    assert [note for note in found.notes if "--most-seconds" in note] == [
        "top: no print was designed for 1 packages for want of time; --most-seconds gives it more"
    ]


def test_corrections_not_weighed_for_want_of_time_are_counted():
    lands = [land for k in range(4) for land in dual(0, 12 * k, 7, 0.65, 5.8, 1.5, 0.4)]
    left_out = board(side(lands, lands[:3] + lands[4:]))
    asked = Asked(foils_um=(FOIL_UM,))
    assert [one.rule for one in review(left_out, LINE, asked).sides[0].proposals if one.rule != "designed"] == [
        "missing"
    ]
    late = review(left_out, LINE, Asked(foils_um=(FOIL_UM,), left=Watch(1000, 4)))
    assert not late.sides[0].proposals
    assert any("under 100 µm 1 possible correction was not weighed" in note for note in late.notes)


def test_a_draft_that_is_dropped_by_its_prints_alone_would_not_have_been_kept(monkeypatch):
    """Small, large, missing and shifted openings of three packages under two foils, every draft weighed whole."""
    lands = [land for k in range(2) for land in dual(0, 16 * k, 7, 0.5, 5.8, 1.5, 0.3)]
    lands += [land for k in range(3) for land in chip(20, 4 * k, 0.5, 0.5, 0.3)]
    lands += dual(40, 0, 7, 1.27, 5.4, 1.6, 0.6)
    film = [shapely.affinity.scale(land, 0.6 + 0.13 * (k % 5), 0.7 + 0.2 * (k % 3)) for k, land in enumerate(lands)]
    film = [translate(one, 0.3 * (k % 11 == 0)) for k, one in enumerate(film) if k % 17]
    given = board(side(lands, film))
    asked = Asked(foils_um=(100.0, 150.0))
    quick = [one.proposals for one in review(given, LINE, asked).sides]
    tried = []

    def whole(*told):
        tried.append(told[1].rule)
        return weigh(*told)

    monkeypatch.setattr(mending, "weigh_where_it_may_help", whole)
    assert quick == [one.proposals for one in review(given, LINE, asked).sides]
    assert len(tried) > 2 * len(quick[0])
    assert quick[0]


def plain_rejects(sheet, land, shapes, foil, powder):
    """One land's chance, written out: areas and walls summed, the normal distribution of what comes out."""
    area = sum(shape.area for shape in shapes)
    band = bands(np.array([one.area / one.length / (foil.thickness_um / 1000) for one in shapes]), foil, powder)
    mean = sum(one.area * m for one, m in zip(shapes, band["mean"], strict=True)) / area
    sd = sum(one.area * s for one, s in zip(shapes, band["sd"], strict=True)) / area
    cover = area / sheet.given.lands.area_mm2[land]
    chances = [norm.cdf((0.5 / cover - mean) / sd), norm.cdf((mean * cover - 1.5) / (cover * sd))]
    beside = beside_mm2(sheet, land, np.array(shapes)) / area
    return max(chances + ([norm.cdf((beside - 0.25) / 0.08)] if beside > 0.01 else []))


def test_prints_rejected_all_at_once_are_those_land_by_land(monkeypatch):
    lands = [land for k in range(3) for land in dual(0, 12 * k, 7, 0.65, 5.8, 1.5, 0.4)]
    film = [
        translate(shapely.affinity.scale(land, 1.0, 0.4 + 0.1 * (k % 12)), 0.09 * (k % 9))
        for k, land in enumerate(lands)
    ]
    given = review(board(side(lands, film)), LINE, Asked(foils_um=(FOIL_UM,))).sides[0].given
    sheet = Sheet(given, np.zeros(len(given.parts), dtype=np.int64))
    foil, powder = given.under.foil, given.under.powder
    monkeypatch.setattr(rejecting, "AT_ONCE", 5)
    own = range(len(lands))
    each = [plain_rejects(sheet, k, [given.paste.polygon[r] for r in sheet.rows_of(k)], foil, powder) for k in own]
    assert max(each) > 0.9
    assert min(each) < 0.01
    np.testing.assert_allclose([rejects(sheet, [k], foil, powder) for k in own], each, atol=1e-9)
    assert rejects(sheet, list(own), foil, powder) == pytest.approx(sum(each))
    row = int(sheet.rows_of(4)[0])
    draft = Draft("grow", (0,), {row: (given.lands.polygon[4],)}, {}, "", "")
    anew = plain_rejects(sheet, 4, [given.lands.polygon[4]], foil, powder)
    assert rejects(sheet, list(own), foil, powder, draft) == pytest.approx(sum(each) - each[4] + anew)


def test_what_prints_over_another_parts_land_is_beside_its_own():
    lands = [land for k in range(3) for land in dual(0, 12 * k, 7, 0.65, 5.8, 1.5, 0.4)]
    lone = chip(14, 30, 1.6, 0.8, 0.9)
    near = translate(lone[0], 0.85)  # of no part that is known to belong to it
    film = [*lands, lone[0].union(translate(lone[0], 0.4)).envelope, lone[1]]
    given = review(board(side([*lands, *lone, near], film)), LINE, Asked(foils_um=(FOIL_UM,))).sides[0].given
    sheet = Sheet(given, np.zeros(len(given.parts), dtype=np.int64))
    foil, powder = given.under.foil, given.under.powder
    for row in range(len(given.paste)):
        land = int(given.matched.land[row])
        its = [given.paste.polygon[k] for k in sheet.rows_of(land)]
        assert rejects(sheet, [land], foil, powder) == pytest.approx(plain_rejects(sheet, land, its, foil, powder))


@pytest.mark.usefixtures("nothing_known")
def test_several_processes_work_the_levels_that_one_does(monkeypatch):
    monkeypatch.setattr(pacing, "SHARED_FROM", 1)
    plain, here = Levels._worked, []
    monkeypatch.setattr(Levels, "_worked", lambda levels, *what: (here.append(what), plain(levels, *what))[1])
    alone, every = worked()[1], len(here)
    memory.forget()
    here.clear()
    together = worked(jobs=2)[1]
    assert len(here) < every  # the other process worked the others
    assert together.choice == alone.choice
    assert [(part.part, part.defects) for part in together.parts] == [(p.part, p.defects) for p in alone.parts]


def stroked(shapes):
    """Outlines as strokes 0.1 mm wide, each side by itself."""
    lines = ["%FSLAX46Y46*%", "%MOMM*%", "%ADD10C,0.1*%", "D10*"]
    for shape in shapes:
        corners = [f"X{round(x * 1e6)}Y{round(y * 1e6)}" for x, y in shape.exterior.coords]
        lines += [f"{corners[0]}D02*", *(f"{at}D01*" for at in corners[1:])]
    return "\n".join([*lines, "M02*", ""])


def test_an_outline_among_the_bodies_of_parts_is_the_one_found_in_all_that_is_drawn(tmp_path, monkeypatch):
    edge = shapely.Polygon([(0, 0), (30, 0), (30, 12), (18, 20), (0, 20)])
    cut = shapely.box(12, 8, 16, 9)
    bodies = [shapely.box(2 + 4 * k, 2, 4.5 + 4 * k, 4) for k in range(6)]
    line = shapely.LineString([(-9, 25), (60, 25)]).buffer(0.01)  # wide, and closes nothing
    (tmp_path / "b.gtp").write_text("%FSLAX46Y46*%\n%MOMM*%\n%ADD10R,0.5X0.3*%\nD10*\nX3000000Y3000000D03*\nM02*\n")
    (tmp_path / "b.gko").write_text(stroked([*bodies, cut, edge]))
    found = read_board(tmp_path, {}).board.outline
    assert found.area == pytest.approx(edge.buffer(0.05).area, rel=1e-3)
    heaps = joblayers._heaps
    assert [len(its) for _, its in heaps(np.array([*bodies, line, cut]))] == [1] * 8
    monkeypatch.setattr(joblayers, "_heaps", lambda shapes: [(shapely.box(*shapely.total_bounds(shapes)), shapes)])
    assert (read_board(tmp_path, {}).board.outline ^ found).area == pytest.approx(0, abs=1e-9)
