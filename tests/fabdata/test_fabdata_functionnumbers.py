"""Which numbers do what words say, held against data sheets' own titles."""

from __future__ import annotations

import pytest

from landwise.fabdata.functionnumbers import COUNTS, asked_for, numbers_of_words
from landwise.fabdata.functions import functions
from landwise.fabdata.functionwords import read_words

# Titles as the makers' data sheets print them, from memory; numbers in any family.
TITLES = [
    ("HEX SCHMITT-TRIGGER INVERTERS", 14, "14"),
    ("QUADRUPLE 2-INPUT POSITIVE-NAND GATES", 14, "00"),
    ("Quad 2-input OR gate", 14, "32"),
    ("Triple 3-input NOR gate", 14, "27"),
    ("Octal buffer/line driver; 3-state", 20, "244"),
    ("OCTAL BUS TRANSCEIVER", 20, "245"),
    ("Octal D-type transparent latch; 3-state", 20, "373"),
    ("SINGLE 2-INPUT POSITIVE-AND GATE", 5, "1G08"),
    ("two-input exclusive OR gate", 5, "1G86"),
]


@pytest.mark.parametrize(("words", "terminals", "number"), TITLES)
def test_titles_name_their_number(words, terminals, number):
    assert number in numbers_of_words(words, terminals)


def test_every_function_is_found_by_its_own_words_wherever_the_count_stands():
    for one in functions().values():
        count, _, rest = one.words.partition(" ")
        turned = f"{rest} {count}" if count in COUNTS else one.words
        for words in (one.words, one.words.upper(), turned):
            assert one.number in numbers_of_words(words, one.terminals), words


@pytest.mark.parametrize(
    ("words", "terminals"),
    [("2-input gate", 5), ("", 14), ("hex Schmitt inverter", 16), ("quad inverter", 14), ("gate", 5), ("a" * 500, 5)],
)
def test_words_that_name_no_function_have_no_number(words, terminals):
    assert numbers_of_words(words, terminals) == ()


def test_a_schmitt_trigger_is_not_taken_for_an_inverter_without():
    assert not set(numbers_of_words("hex inverter", 14)) & set(numbers_of_words("hex Schmitt inverter", 14))
    assert "14" in numbers_of_words("6-fach Schmitt-Trigger-Inverter", 14)


def test_a_number_stands_for_itself():
    assert asked_for("14", "HC", "octal buffer", 14).numbers == ("14",)
    assert asked_for("", "HC", "hex Schmitt inverter", 14).family == "HC"
    assert asked_for("", "", "something else", 5).numbers == ()


@pytest.mark.parametrize(
    ("text", "words", "first"),
    [
        ("Hex Schmitt-trigger inverter", "hex inverter Schmitt trigger", "14"),
        ("6-fach Schmitt-Trigger-Inverter", "hex inverter Schmitt trigger", "14"),
        ("IC INVERTER SCHMITT 6CH 6-INP", "hex inverter Schmitt trigger", "14"),
        ("single buffer with Schmitt trigger", "single buffer Schmitt trigger", "1G17"),
        ("quad 2-input NAND Schmitt trigger", "quad 2-input NAND Schmitt trigger", "132"),
        # No gate of this kind is made with thresholds of its own: its inputs' hysteresis is a detail of some families.
        ("IC GATE AND SCHMITT 1CH 2-INP", "single 2-input AND gate", "1G08"),
        ("octal bus transceiver, Schmitt inputs", "octal bus transceiver", "245"),
    ],
)
def test_a_bill_that_writes_schmitt_is_not_read_as_a_part_without(text, words, first):
    function = read_words(text).function
    assert function.words == words
    assert numbers_of_words(function.words, function.terminals)[0] == first
