"""What a thicker foil and smaller openings do to bridges and opens, and what of it is paste that stays in the foil."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import pytest

from landwise.assembly.geometry import cold_slump_mm
from landwise.assembly.knowledge import default_knowledge
from landwise.assembly.partmodel import part_model
from landwise.assembly.rare import rates
from landwise.assembly.scatter import scatter
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import Foil, print_part
from landwise.printing.apertures import ApertureRules

FOILS = (80.0, 100.0, 125.0, 150.0, 180.0)
REDUCED = (0, 10, 20, 30)
FINE = ("TVSOP-14", "SON-6-1.0x1.0", "QFN-16-2.5x3.5", "TQFP-48", "TSSOP-14")  # 0.4, 0.35, 0.5, 0.5 and 0.65 mm


@dataclass(frozen=True)
class Worked:
    """A part printed as its lands, less what is taken off every edge, on the middle of the lines that are possible."""

    bridges: float
    opens: float
    pairs: int
    area_ratio: float
    transfer: float
    paste_nl: float  # of the deposit of which least leaves its opening


@cache
def worked(name, foil_um, reduced_um=0):
    outline = find(name)
    pattern = land_pattern(outline)
    printed = print_part(pattern, Foil(foil_um), rules=ApertureRules(reduction_mm=reduced_um / 1000))
    line = default_knowledge().middle(scatter(0.03, 0.05))
    found = rates(part_model(outline, pattern, printed, line), asked=0.1, floor=0.0, most=512)
    least = min((one for one in printed.deposits if one.terminal != "EP"), key=lambda one: one.area_ratio)
    return Worked(
        bridges=found.bridges.value,
        opens=found.opens.value,
        pairs=found.pairs,
        area_ratio=least.area_ratio,
        transfer=least.transfer.mean,
        paste_nl=least.paste_mm3 * 1000,
    )


@pytest.mark.parametrize("name", FINE)
def test_a_thicker_foil_bridges_more_wherever_it_leaves_as_much_paste(name):
    for thin, thick in pairwise(FOILS):
        one, other = worked(name, thin), worked(name, thick)
        if other.paste_nl > 0.95 * one.paste_nl:
            assert other.bridges > one.bridges, (thin, thick)


def test_where_bridges_fall_with_the_foil_its_openings_keep_the_paste():
    """Balls on lands of 0.20 mm: area ratio 0.40 to 0.33, of a volume a fifth larger two thirds come out."""
    one, other = worked("WLP-12-0.4", 125.0), worked("WLP-12-0.4", 150.0)
    assert other.bridges < 0.2 * one.bridges
    assert (round(one.area_ratio, 2), round(other.area_ratio, 2)) == (0.40, 0.33)
    assert other.transfer < 0.6 * one.transfer
    assert other.paste_nl < 0.75 * one.paste_nl
    assert other.opens > one.opens > 0.1


@pytest.mark.parametrize(("name", "foil"), [*((name, 125.0) for name in FINE), ("WLP-12-0.4", 100.0)])
def test_smaller_openings_bridge_less_and_open_more(name, foil):
    rows = [worked(name, foil, reduced) for reduced in REDUCED]
    assert len({one.pairs for one in rows}) == 1  # what lies near is a matter of the lands
    for one, other in pairwise(rows):
        assert other.bridges < one.bridges or one.bridges == 0
        assert other.opens >= one.opens


def test_30_um_off_each_edge_takes_decades_off_one_line_s_bridges():
    """The figures of docs/assembly.md on 125 um: some six decades at 0.4 mm pitch, some three at 0.65 mm."""
    decades = {
        name: math.log10(worked(name, 125.0).bridges / worked(name, 125.0, 30).bridges)
        for name in ("TVSOP-14", "TSSOP-14")
    }
    assert decades == pytest.approx({"TVSOP-14": 5.9, "TSSOP-14": 2.9}, abs=0.5)


def test_the_finer_the_pitch_the_thinner_the_foil_that_serves_best():
    """The assembler's rule, in opens and bridges together; common practice, no source."""
    best = []
    for name in ("SO-14", "TSSOP-14", "TVSOP-14"):  # 1.27, 0.65 and 0.4 mm
        both = {um: worked(name, um).bridges + worked(name, um).opens for um in FOILS}
        lowest = min(both.values())
        best.append(max(um for um, value in both.items() if value < max(2 * lowest, 1e-9)))
    assert best == sorted(best, reverse=True)
    assert best[0] >= 150 > best[-1]


def test_deposits_of_like_proportion_slump_alike_and_slender_ones_by_their_section():
    assert float(cold_slump_mm(0.4, 200)) == pytest.approx(2 * float(cold_slump_mm(0.2, 100)))
    assert float(cold_slump_mm(0.1, 200)) == pytest.approx(2 * float(cold_slump_mm(0.05, 100)))
    # Measured where pads of 0.33 mm on 200 um must not bridge at 0.25 mm; IPC-TM-650 2.4.35, pattern A-21.
    assert 2 * float(cold_slump_mm(0.33, 200)) == pytest.approx(0.25)
    # Half as wide and twice as high: the same section, the same slump.
    assert float(cold_slump_mm(0.05, 200)) == pytest.approx(float(cold_slump_mm(0.10, 100)))
