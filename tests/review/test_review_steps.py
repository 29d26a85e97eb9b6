"""Step zones and foils against plain enumeration: every set of parts, every foil of small made-up films."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
import shapely

from landwise.assembly.lines import preset
from landwise.costs.foils import STEPPED_FOIL
from landwise.costs.rates import default_rates
from landwise.printing.foils import DEEPEST_STEP_UM, step_keep_out
from landwise.review.building import openings
from landwise.review.foilchoice import REWORK_MONEY, FoilRow, PartGains, best_step
from landwise.review.model import BoardInput
from landwise.review.reviews import Asked, review
from landwise.review.zones import MOST_ZONED, zoned
from landwise.sheets.reviewboard import board_svg
from landwise.sheets.revieworder import order_of, order_text

from .boards import box, chip, dual, grown, side
from .secondmodel import foil_by_hand, foil_row

LINE = preset("ordinary")
FOILS = (80.0, 100.0, 120.0, 150.0)
RUN = 200_000


def made_up(rng):
    """Seven parts of four openings somewhere on a small board, and what each loses under each foil."""
    spots, shapes, part_of = [], [], []
    while len(spots) < 7:
        at = rng.uniform(0, 40, 2)
        if all(np.hypot(*(at - other)) > 3.5 for other in spots):
            spots.append(at)
    for part, (x, y) in enumerate(spots):
        shapes += [box(x + dx, y + dy, 0.6, 0.3) for dx in (-0.6, 0.6) for dy in (-0.3, 0.3)]
        part_of += [part] * 4
    best = rng.choice(FOILS, 7)  # the foil that serves each part
    size = 10 ** rng.uniform(-4, -1, 7)
    after = {um: size * (0.02 + np.abs(um - best) / 40) for um in FOILS}
    return openings(shapes), np.array(part_of), after


def row(um, value):
    return FoilRow(um, 1, 0, 0, 0.8, value, value, value, value, value, value)


def worth(paste, part_of, after, base, thin, parts):
    """What a step around these parts saves over the run, by hand: defects before less defects with the zone."""
    taken, _ = zoned(paste, part_of, np.isin(part_of, parts), step_keep_out(base - thin))
    inside = np.unique(part_of[taken])
    with_step = sum(after[thin if part in inside else base][part] for part in range(len(after[base])))
    least = min(values.sum() for values in after.values())
    saves = (least - with_step) * RUN * REWORK_MONEY - STEPPED_FOIL.money(default_rates(), 1)
    return saves if taken.mean() <= MOST_ZONED else -np.inf


@pytest.mark.parametrize("seed", range(8))
def test_the_step_is_the_one_that_enumeration_finds(seed):
    paste, part_of, after = made_up(np.random.default_rng(seed))
    names = [f"U{k}" for k in range(7)]
    rows = [row(um, float(after[um].sum())) for um in FOILS]
    found = best_step(PartGains(after, after, after), rows, paste, part_of, names, RUN)
    every = {
        (base, thin, parts): worth(paste, part_of, after, base, thin, parts)
        for base, thin in itertools.permutations(FOILS, 2)
        if 0 < base - thin <= DEEPEST_STEP_UM
        for count in range(1, 8)
        for parts in itertools.combinations(range(7), count)
    }
    most = max(every.values())
    if most <= 0:
        assert found is None
        return
    assert found is not None
    chosen = tuple(names.index(name) for name in found.parts)
    own = worth(paste, part_of, after, found.base_um, found.thin_um, chosen)
    assert found.saves == pytest.approx(own, rel=1e-9)
    assert found.saves >= 0.95 * most
    # No smaller set of its parts saves as much.
    for count in range(1, len(chosen)):
        for fewer in itertools.combinations(chosen, count):
            assert worth(paste, part_of, after, found.base_um, found.thin_um, fewer) < found.saves * (1 + 1e-9)


def test_some_of_the_made_up_boards_have_a_step_that_pays():
    paying = 0
    for seed in range(8):
        paste, part_of, after = made_up(np.random.default_rng(seed))
        rows = [row(um, float(after[um].sum())) for um in FOILS]
        paying += best_step(PartGains(after, after, after), rows, paste, part_of, list("abcdefg"), RUN) is not None
    assert paying >= 4


def test_a_step_is_drawn_with_its_dimensions_and_keep_outs():
    paste, part_of, after = made_up(np.random.default_rng(0))
    rows = [row(um, float(after[um].sum())) for um in FOILS]
    step = best_step(PartGains(after, after, after), rows, paste, part_of, [f"U{k}" for k in range(7)], RUN)
    assert step is not None
    found = review(BoardInput("step", (side(list(paste.polygon)),)), LINE, Asked(foils_um=(100,)))
    one = found.sides[0]
    stepped = replace(one, choice=replace(one.choice, step=step))
    assert f"{step.thin_um:g} µm" in board_svg(stepped, None, "p")
    said = order_text(order_of(replace(found, sides=(stepped,)), {}, date(2026, 11, 29)))
    for zone in step.zones:
        x1, y1, x2, y2 = zone.bounds
        assert f"{x2 - x1:.2f} × {y2 - y1:.2f} mm from {x1:.2f}, {y1:.2f}" in said
        inside = step.apertures & (shapely.distance(paste.polygon, zone) == 0)
        assert shapely.distance(zone.exterior, paste.polygon[inside]).min() >= step.keep_out_mm - 1e-9
        assert shapely.distance(zone, paste.polygon[~step.apertures]).min() >= step.keep_out_thick_mm - 1e-9
    assert f"{step.keep_out_mm:.2f} mm inside, {step.keep_out_thick_mm:.2f} mm outside" in said


# --- foils by enumeration on small films ---


def film(rng):
    """A made-up film of a few parts of random pitch and size."""
    lands, y = [], 0.0
    for _ in range(2):
        # Few kinds, so that the films share what was worked once; which come together, and how printed, differs.
        kind = int(rng.integers(0, 4))
        if kind < 2:
            lands += dual(0, y, 3, (0.5, 0.65)[kind], 5.8, 1.3, (0.22, 0.3)[kind])
        else:
            lands += chip(0, y, 1.0, 0.5, (0.3, 0.6)[kind - 2])
        y += 12
    return lands


@pytest.mark.parametrize("seed", range(20))
def test_the_foil_is_the_one_that_enumeration_finds(seed):
    """Each foil reviewed by itself gives its expected defects; the choice among all is held against these."""
    lands = film(np.random.default_rng(seed))
    board = BoardInput("film", (side(lands, grown(lands, -0.01)),))
    foils = (80.0, 120.0, 150.0)
    together = review(board, LINE, Asked(foils_um=foils)).sides[0].choice
    alone = {um: review(board, LINE, Asked(foils_um=(um,))).sides[0].choice.best for um in foils}
    for one in together.rows:
        assert one.after == pytest.approx(alone[one.foil_um].after, rel=1e-9)
        assert one.defects == pytest.approx(alone[one.foil_um].defects, rel=1e-9)
    equals = {together.best_um, *together.equal_um}
    assert min(alone, key=lambda um: alone[um].after) in equals
    if not together.equal_um:
        assert alone[together.best_um].after == min(one.after for one in alone.values())
    by_hand = foil_by_hand([foil_row(one) for one in alone.values()], LINE.foil_um)
    assert (together.best_um, set(together.equal_um)) == by_hand


def test_the_enumerated_films_are_of_both_sorts():
    """Some have one foil that nothing equals or that holds where an equal does not, so the test above can fail."""
    best = set()
    for seed in range(20):
        lands = film(np.random.default_rng(seed))
        board = BoardInput("film", (side(lands, grown(lands, -0.01)),))
        best.add(review(board, LINE, Asked(foils_um=(80.0, 120.0, 150.0))).sides[0].choice.best_um)
    assert len(best) >= 2
