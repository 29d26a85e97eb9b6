"""The coupon of a trial: what is drawn is read back by our reader and by another one, and its chains are whole."""

from __future__ import annotations

import csv
import io
from itertools import pairwise

import pytest
import shapely
from gerbonara import GerberFile

from landwise.errors import InputError
from landwise.fabdata.coupon import Row, coupon
from landwise.fabdata.gerber.reader import read_gerber
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import Foil, print_part

NAMES = ("TSSOP-14", "QFN-14-2.5x3", "SOT-23-5", "WLP-8-0.5")


def row(name, count=6):
    outline = find(name)
    pattern = land_pattern(outline)
    prints = {f"{um}um": print_part(pattern, Foil(float(um)), outline=outline) for um in (80, 100)}
    return Row(name, pattern, prints, count)


@pytest.fixture(scope="module")
def drawn():
    return coupon([row(name) for name in NAMES])


def copper(drawn):
    """Connected pieces of copper, as a reader sees the film."""
    layer = read_gerber(drawn.films["copper"], "copper.gbr")
    whole = shapely.union_all(list(layer.pads.polygon))
    return list(shapely.get_parts(whole))


def test_every_land_of_every_part_is_on_the_film(drawn):
    pieces = shapely.union_all(copper(drawn))
    for name in NAMES:
        for land in land_pattern(find(name)).lands:
            for spot in (one for one in drawn.spots if one.package == name):
                at = shapely.Point(spot.x_mm - land.copper.y_mm, spot.y_mm + land.copper.x_mm)
                assert pieces.covers(at)
    assert len(drawn.spots) == 6 * len(NAMES)
    outline = shapely.box(0, 0, *drawn.size_mm)
    assert outline.covers(pieces)


def test_chains_join_what_they_should_and_nothing_else(drawn):
    pieces = copper(drawn)

    def piece(x, y):
        (found,) = [k for k, one in enumerate(pieces) if one.covers(shapely.Point(x, y))]
        return found

    for name in ("TSSOP-14", "SOT-23-5"):
        lands = {land.terminal: land.copper for land in land_pattern(find(name)).lands}
        side = [number for number in ("1", "2", "3", "4", "5", "6", "7") if number in lands and lands[number].x_mm < 0]
        spots = [one for one in drawn.spots if one.package == name]
        at = [
            [piece(spot.x_mm - lands[number].y_mm, spot.y_mm + lands[number].x_mm) for number in side] for spot in spots
        ]
        for part in at:
            # The board joins second and third, fourth and fifth; the part must join first and second.
            assert all((one == other) == (k % 2 == 1) for k, (one, other) in enumerate(pairwise(part)))
        for one, other in pairwise(at):
            assert one[-1] == other[0]
        ends = [chain for chain in drawn.chains if piece(*chain.ends[0]) == at[0][0]]
        assert len(ends) == 1
        assert piece(*ends[0].ends[1]) == at[-1][-1]
    for chain in drawn.chains:
        assert piece(*chain.ends[0]) != piece(*chain.ends[1])  # nothing without the parts' own links


def test_both_foils_print_what_was_designed_for_them(drawn):
    for foil in ("80um", "100um"):
        layer = read_gerber(drawn.films[f"paste-{foil}"], "paste.gbr")
        area = float(shapely.area(layer.pads.polygon).sum())
        wanted = sum(
            opening.shape.area_mm2
            for name in NAMES
            for aperture in row(name).prints[foil].apertures
            for opening in aperture.openings
        )
        assert area == pytest.approx(6 * wanted, rel=5e-3)


def test_another_reader_takes_every_film(drawn, tmp_path):
    for name, film in drawn.films.items():
        path = tmp_path / f"{name}.gbr"
        path.write_bytes(film)
        assert len(GerberFile.open(path).objects) > 0


def test_the_placement_lists_every_part_inside_the_coupon(drawn):
    rows = list(csv.DictReader(io.StringIO(drawn.placement_csv())))
    assert [one["Package"] for one in rows].count("SOT-23-5") == 6
    assert len({one["Ref"] for one in rows}) == len(rows)
    width, height = drawn.size_mm
    assert all(0 < float(one["PosX"]) < width and 0 < float(one["PosY"]) < height for one in rows)


def test_what_cannot_be_built_is_refused():
    with pytest.raises(InputError, match="drilled"):
        coupon([row("DIP-14")])
    with pytest.raises(InputError, match="wider than the coupon"):
        coupon([row("TSSOP-14")], width_mm=15.0)
    assert coupon([row("TSSOP-14", 40)]).size_mm[1] > coupon([row("TSSOP-14", 4)]).size_mm[1]
