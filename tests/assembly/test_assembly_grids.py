"""Bridges of a grid against plain counting from its drawing: every ball put down, every two neighbours looked at.

Nothing of the limit states is used here: geometry comes from the outline and the foil, all else from docs/assembly.md.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import ndtr

from landwise.assembly.partmodel import part_model
from landwise.assembly.rare import rates
from landwise.assembly.scatter import default_terms, scatter
from landwise.lands import land_pattern
from landwise.outlines import find, terminals
from landwise.printing import Foil, print_part

PRINT_MM, PLACE_MM = 0.06, 0.08  # what 99.7 % stay within
LARGEST_GRAIN_UM = 38.0  # of type 4 powder: 20 to 38 um (J-STD-005, from memory)
ASSEMBLIES = 150_000
# A line whose paste runs, so that a grid bridges often enough to be counted.
RUNS = {"slump_share": 1.3, "slump_between": 0.4, "remaining_spread": 0.12}


def counted(name, foil_um, own, seed=1):
    """Bridges on one part: mean, and its standard error."""
    rng = np.random.default_rng(seed)
    term = {key: one.value for key, one in default_terms().items()} | own

    def number():
        return rng.standard_normal(ASSEMBLIES)

    outline, foil = find(name), foil_um / 1000
    lands = land_pattern(outline)
    printed = print_part(lands, Foil(foil_um))  # as its lands: discs
    at = {one.number: (one.x_mm, one.y_mm) for one in terminals(outline)}
    wide = printed.apertures[0].openings[0].shape.length_mm
    land, ball = lands.lands[0].place.shape.length_mm, terminals(outline)[0].length_mm
    band = printed.deposits[0].transfer
    cv, share = band.sd / band.mean, term["volume_common"]

    # What all joints of an assembly share.
    sigma = math.hypot(PRINT_MM / 3, term["print_stretch"] / 1000)
    off = np.array([sigma * number(), sigma * number()])
    put = np.array([PLACE_MM / 3 * number(), PLACE_MM / 3 * number()])
    turn = math.radians(term["placement_turn"]) * number()
    slump = term["slump_share"] * np.exp(term["slump_between"] * number())
    stroke, copper = number(), term["edge"] / 1000 * number()
    wet = foil_um * math.sqrt(band.mean)
    left = np.clip(term["remaining_share"] + term["remaining_spread"] * number(), 0.05, 1.0) * wet
    left = np.maximum(left * np.sqrt(np.maximum(0.0, 1 + cv * share * stroke)), min(LARGEST_GRAIN_UM, wet))

    # Pads of 0.33 mm on 200 um must not bridge at 0.25 mm when cold; half of it for each edge (IPC-TM-650 2.4.35).
    full_slump = 0.125 * foil / 0.2 * math.sqrt(min(1.0, wide / (1.65 * foil)))
    # A ball dips into the paste: the cap's volume over its depth, half of the disc of its rim.
    dip = foil * math.sqrt(band.mean) * (1 - term["remaining_share"])
    rim = math.sqrt(ball * dip - dip**2)
    paste_mm3 = math.pi / 4 * wide**2 * foil * band.mean
    metal = printed.deposits[0].solder_mm3 / printed.deposits[0].paste_mm3 * paste_mm3
    high, pad = outline.standoff_mm.nom, outline.package_land_mm.nom
    solder = math.pi * high / 6 * (3 * (pad / 2) ** 2 + high**2)  # of the ball: a cap on the package's land
    stands = 0.75 * high  # where its joint isn't worked a ball sinks by a quarter, the middle of published ones
    edges, volumes = {}, {}
    for ball_name in at:
        volume = np.maximum(0.0, 1 + cv * (share * stroke + math.sqrt(1 - share**2) * number()))
        pressed = np.maximum(0.0, foil_um * np.sqrt(band.mean * volume) / left - 1) * math.pi * rim**2 / 2
        # A strip of width s round the rim holds what was pressed out: 2 pi rim s + pi s^2.
        squeezed = np.sqrt(rim**2 + pressed / math.pi) - rim
        own_noise = full_slump * math.sqrt(band.mean) * term["slump_share"] * term["slump_within"] * number()
        edges[ball_name] = full_slump * slump * np.sqrt(band.mean * volume) + squeezed + own_noise
        volumes[ball_name] = metal * volume + solder

    bridges, names = np.zeros(ASSEMBLIES), list(at)
    nearest = min(math.dist(at[one], at[other]) for one, other in combinations(names, 2))
    for one, other in combinations(names, 2):
        way = np.subtract(at[other], at[one])
        apart = float(np.hypot(*way))
        if apart - wide > nearest - wide + 0.3 * (nearest - land):
            continue  # what lies further off than that adds nothing
        way /= apart
        moved = way @ off
        to_first, to_second = (
            way @ put + turn * (at[ball_][0] * way[1] - at[ball_][1] * way[0]) for ball_ in (one, other)
        )
        metal_first = np.maximum(ball / 2 + to_first, land / 2 + copper)
        metal_second = np.maximum(ball / 2 - to_second, land / 2 + copper)
        paste_first, paste_second = (wide / 2 + edges[ball_] for ball_ in (one, other))
        least = np.min(
            [
                apart - paste_first - paste_second,
                apart - (paste_first + moved) - metal_second,
                apart - metal_first - (paste_second - moved),
            ],
            axis=0,
        )
        holds = 2 * _before_halfway((land + pad) / 4, stands, apart - land)
        stays = ndtr(np.log((volumes[one] + volumes[other]) / holds) / term["take_back_spread"])
        bridges += (least <= 0) & (rng.random(ASSEMBLIES) < stays)
    return bridges.mean(), bridges.std() / math.sqrt(ASSEMBLIES)


def _before_halfway(radius, height, gap):
    """Volume of revolution whose side is an arc that stands out by half the gap, at most by half the height."""
    bulge = min(gap / 2, height / 2)
    arc = ((height / 2) ** 2 + bulge**2) / (2 * bulge)

    def section(z):
        return math.pi * (radius + math.sqrt(arc**2 - z**2) - (arc - bulge)) ** 2

    return quad(section, -height / 2, height / 2)[0]


@pytest.mark.parametrize(
    ("name", "foil", "common"), [("WLP-12-0.4", 100.0, 0.5), ("WLP-12-0.4", 80.0, 0.1), ("WLP-5-0.5", 100.0, 0.5)]
)
def test_bridges_of_a_grid_are_those_of_plain_counting(name, foil, common):
    own = {**RUNS, "volume_common": common}
    outline = find(name)
    lands = land_pattern(outline)
    printed = print_part(lands, Foil(foil))
    part = part_model(outline, lands, printed, scatter(PRINT_MM, PLACE_MM, own))
    worked = rates(part, asked=0.05, most=4096).bridges
    mean, error = counted(name, foil, own)
    assert mean > 30 / ASSEMBLIES  # enough of them to compare
    assert abs(worked.value - mean) < 3 * error + worked.value * worked.half


@pytest.mark.parametrize(("name", "columns", "rows"), [("BGA-49-0.4", 7, 7), ("WLP-30-0.4", 5, 6)])
def test_pairs_of_a_grid_bridge_alike_along_each_line_wherever_they_stand_on_it(name, columns, rows):
    """Counted by hand: a turn moves pairs of one line alike, and lines as far from the middle on either side."""
    outline = find(name)
    lands = land_pattern(outline)
    part = part_model(outline, lands, print_part(lands, Foil(100.0)), scatter(PRINT_MM, PLACE_MM, RUNS))
    assert sum(count for _, count, _ in part.bridge_classes) == rows * (columns - 1) + columns * (rows - 1)
    assert len(part.bridge_classes) == math.ceil(rows / 2) + math.ceil(columns / 2)
    each = replace(part.geometry, pair_classes=tuple((number, 1, 0) for number in range(len(part.geometry.pairs))))
    vars(each)["bridge_classes"] = each.pair_classes  # none merged
    alone, merged = (rates(replace(part, geometry=one), asked=0.02).bridges for one in (each, part.geometry))
    assert alone.half < 0.05
    assert merged.value == pytest.approx(alone.value, rel=merged.half + alone.half)
