"""Leadless and ball outlines of the whole catalogue: where the lands' own print is marginal, a design beats it.

`make whole` goes through all of them on both foils; the tests of every day take each ninth. What is counted is counted
by plain simulation with seeds that no design has seen.
"""

from __future__ import annotations

import os
from functools import cache

import pytest

from landwise.assembly.partmodel import part_model
from landwise.assembly.rates import simulate
from landwise.assembly.scatter import scatter
from landwise.designing import Designer, Line
from landwise.lands import land_pattern
from landwise.outlines import catalogue
from landwise.printing import ApertureRules, Foil, apertures, print_part

LINE = Line(scatter(0.03, 0.05))
HIDDEN = ("leadless dual", "leadless quad", "ball grid", "wafer-level")
FOILS_UM = (100.0, 125.0)
EVERY = 1 if os.environ.get("LANDWISE_WHOLE") else 9
ASSEMBLIES = 30_000
COUNTABLE = 2e-3  # defects a part that so many assemblies tell from none: sixty of them


def pairs():
    """Packages and foils; a function, so that no process that only looks for tests works their lands."""
    flat = [part for part in catalogue().values() if part.family in HIDDEN and not land_pattern(part).drilled]
    return [(part.name, foil) for part in flat for foil in FOILS_UM][::EVERY]


@cache
def designs():
    """Every pair whose print drawn from the lands does not hold one and a half times the line's scatter."""
    made = {
        (name, foil): Designer(catalogue()[name], land_pattern(catalogue()[name]), LINE).design(foil)
        for name, foil in pairs()
    }
    return {pair: design for pair, design in made.items() if design.reason != "wide enough"}


def counted(name, foil, openings, seed):
    part = catalogue()[name]
    printed = print_part(land_pattern(part), Foil(foil), outline=part, openings=openings)
    model = part_model(part, land_pattern(part), printed, LINE.scatter)
    found = simulate(model, ASSEMBLIES, seed=seed, cores=1)
    return sum(found.rate(key).value for key in ("bridges", "opens", "floated", "tilted"))


def test_nine_tenths_of_the_marginal_prints_are_beaten_and_none_is_made_worse():
    found = designs()
    assert len(found) >= 8
    beaten = [pair for pair, design in found.items() if design.designed]
    assert len(beaten) >= 0.9 * len(found), sorted(set(found) - set(beaten))
    for pair, design in found.items():
        assert design.defects <= design.defects_before, pair
        if design.designed:
            assert design.margins.middle > design.margins_before.middle, pair


def test_what_is_not_beaten_keeps_the_print_of_its_lands():
    for (name, foil), design in designs().items():
        if not design.designed:
            part = catalogue()[name]
            assert design.reason == "inside the uncertainty"
            assert design.openings == apertures(land_pattern(part), ApertureRules(), part, foil_um=foil)


@pytest.mark.slow
def test_plain_simulation_counts_fewer_defects_wherever_it_can_count():
    compared = fewer = 0
    for number, ((name, foil), design) in enumerate(designs().items()):
        if not design.designed or design.defects_before < COUNTABLE:
            continue
        part = catalogue()[name]
        lands = apertures(land_pattern(part), ApertureRules(), part, foil_um=foil)
        before, after = counted(name, foil, lands, 900 + number), counted(name, foil, design.openings, 500 + number)
        # Four standard deviations of both counts.
        assert after < before + 4 * ((before + after) / ASSEMBLIES) ** 0.5, (name, foil, before, after)
        compared, fewer = compared + 1, fewer + (after < before)
    assert compared >= 2
    assert fewer >= 0.9 * compared
