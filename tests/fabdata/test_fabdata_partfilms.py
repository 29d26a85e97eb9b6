"""Gerber layers of one package, read back."""

import numpy as np
import pytest
import shapely

from landwise.fabdata.gerber import read_gerber
from landwise.fabdata.partfilms import part_films
from landwise.lands import land_pattern
from landwise.outlines import catalogue, find
from landwise.printing import print_part
from landwise.printing.model import Foil
from whole import of_each_family


def made(name):
    outline = find(name)
    pattern = land_pattern(outline)
    return pattern, print_part(pattern, Foil(100.0), outline=outline)


@pytest.mark.parametrize("name", [one.name for one in of_each_family(catalogue().values(), 3)])
def test_every_outline_reads_back_to_the_same_lands_and_openings(name):
    pattern, printed = made(name)
    films = part_films(pattern, printed)
    wanted = {
        "copper": [(land.copper, land.terminal) for land in pattern.lands],
        "mask": [(land.opening, land.terminal) for land in pattern.lands],
        "paste": [(place, a.terminal) for a in printed.apertures for place in a.openings],
    }
    for kind, its in wanted.items():
        if not its:
            assert kind not in films
            continue
        pads = read_gerber(films[kind], f"{name}-{kind}.gbr", merge=False).pads
        assert sorted(pads.pin) == sorted(terminal for _, terminal in its)
        assert set(pads.component) == {name}
        area = sum(place.shape.area_mm2 for place, _ in its)
        assert pads.area_mm2.sum() == pytest.approx(area, rel=2e-3)  # round corners are chords
        middle = np.array([shapely.centroid(place.geometry()).coords[0] for place, _ in its])
        assert pads.x_mm.mean() == pytest.approx(middle[:, 0].mean(), abs=1e-5)
        assert pads.y_mm.mean() == pytest.approx(middle[:, 1].mean(), abs=1e-5)


def test_holes_of_a_drilled_part_are_flashes_of_the_finished_size():
    pattern, printed = made("DIP-14")
    film = part_films(pattern, printed)["holes"]
    assert b"%TF.FileFunction,Plated,1,2,PTH*%" in film
    pads = read_gerber(film, "DIP-14-holes.gbr").pads
    assert len(pads) == 14
    assert pads.length_mm == pytest.approx(pattern.lands[0].hole_mm)
