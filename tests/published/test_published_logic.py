"""Function numbers, package designators and package letters against what is printed elsewhere."""

from __future__ import annotations

import pytest

from landwise.fabdata.functions import functions, other_logic
from landwise.fabdata.packageoutlines import outline_for
from landwise.fabdata.packages import read_package


@pytest.mark.parametrize(
    ("designator", "style", "terminals"),
    [
        # JESD30 and IEC 60191-4: position prefix, lead form, count. The system is verified, these strings are from
        # memory.
        ("PDIP-T14", "DIP", 14),
        ("PDSO-G14", "SO", 14),
        ("PQCC-N16", "QFN", 16),
        ("PBGA-B96", "BGA", 96),
        ("PDSO-F5", "SOT-5x3", 5),
        ("PDSO-N6", "SON", 6),
        # Toshiba TC7S04F/FU data sheet (verified): the two bodies' JEITA codes, SOT-23-5 and SC-70-5 class.
        ("SSOP5-P-0.95", "SOT-23", 5),
        ("SSOP5-P-0.65A", "SC-70", 5),
    ],
)
def test_standard_designators(designator, style, terminals):
    reading = read_package(designator)
    assert reading is not None
    assert (reading.style, reading.terminals) == (style, terminals)


@pytest.mark.parametrize(
    ("number", "inputs", "enables"),
    [
        # Bus parts by the count rule, checked against the printed pin counts (references F.1, computed):
        # data in and out, enables, two supplies.
        ("240", 8, 2),
        ("244", 8, 2),
        ("245", 8, 2),
        ("541", 8, 2),
        ("373", 8, 2),
        ("374", 8, 2),
        ("573", 8, 2),
        ("574", 8, 2),
        ("827", 10, 2),
        ("861", 10, 2),
    ],
)
def test_bus_parts_follow_the_count_rule(number, inputs, enables):
    assert functions()[number].terminals == 2 * inputs + enables + 2


@pytest.mark.parametrize(
    ("number", "gates", "inputs"),
    [
        ("00", 4, 2),
        ("02", 4, 2),
        ("08", 4, 2),
        ("10", 3, 3),
        ("11", 3, 3),
        ("27", 3, 3),
        ("32", 4, 2),
        ("86", 4, 2),
        ("04", 6, 1),
        ("14", 6, 1),
        ("4001", 4, 2),
        ("4011", 4, 2),
        ("4023", 3, 3),
        ("4069", 6, 1),
        ("1G08", 1, 2),
        ("1G04", 1, 1),
        ("2G04", 2, 1),
        ("2G08", 2, 2),
        ("3G04", 3, 1),
    ],
)
def test_gates_follow_the_count_rule(number, gates, inputs):
    # References F.1 (computed): Σ(inputs + outputs) + 2, rounded up to an offered package; a single inverter has
    # one terminal unused of five.
    needed = gates * (inputs + 1) + 2
    assert functions()[number].terminals == max(needed, 5)


def test_a_wafer_level_96_ball_part_and_a_48_terminal_part_carry_32_and_16_bits():
    # SCYA007, abstract (verified): 16-bit functions in 48 terminals, 32-bit in 96 balls.
    for number, function in functions().items():
        if function.words.startswith("32-bit"):
            assert function.terminals == 96, number
        if function.words.startswith("16-bit buffer"):
            assert function.terminals == 48, number


def test_every_function_is_whole():
    for number, function in {**functions(), **other_logic()}.items():
        assert function.words, number
        assert function.terminals == 0 or 4 <= function.terminals <= 114, number
        assert function.units <= max(function.terminals, 1), number
    assert len(functions()) > 400


def test_single_function_outlines_exist_for_all_usual_counts():
    # Every terminal count of the function table has at least one outline in the catalogue.
    from landwise.outlines.choice import proposals

    counts = {function.terminals for function in functions().values()}
    assert {count for count in counts if not proposals(count)} == set()


def test_a_package_text_of_another_count_does_not_pass():
    # Two-way check: SOIC with 14 in the text is not taken for the 16-terminal outline.
    reading = read_package("SOIC-14")
    assert reading is not None
    outline, _ = outline_for(reading, 16)
    assert outline is not None
    assert outline.terminals == 14
