"""The comparison card: one scale, five figures, nothing over anything, whatever the candidates and texts."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from functools import cache
from xml.etree import ElementTree

import pytest

from landwise.errors import InputError
from landwise.lands.pattern import land_pattern
from landwise.outlines import find
from landwise.printing import print_part
from landwise.printing.model import Foil
from landwise.sheets.card import comparison_card, lay_out
from landwise.sheets.cardlayout import A3, A4, MOST_SHOWN, Against, Candidate
from landwise.sheets.clashes import lines_through_texts, texts_clash
from landwise.sheets.look import HEAVY
from landwise.sheets.svg import Area, Text

TITLES = ("Print", "Lost boards per million", "Cycles to the first crack", "Junction", "Cost per good board")
VERDICTS = ("holds", "marginal", "fails", "not known")
WORDS = (
    "Quad 2-input NAND, 14 terminals",
    "Which package should U3 come in, on this board, at this assembler?",
)
CLOSING = (
    "It costs least of those whose every figure holds.",
    "It loses by 0.018 a board.",
    "Invented data of a test.",
)
SETS = {
    "drilled beside fine": ["DIP-14", "TSSOP-14", "SO-14", "QFN-14-2.5x3"],
    "tiny beside small": ["SOT-23-5", "SON-5-0.8x0.8", "SC-70-5"],
    "little logic": ["SC-70-5", "SON-6-1.0x1.0", "WLP-5-0.5", "SOT-9x3-5", "SOT-5x3-5"],
    "one alone": ["TSSOP-8"],
    "wide ones": ["SSOP-56", "TVSOP-48", "BGA-56-0.65", "TSSOP-48"],
    "sixteen": ["SO-16", "TSSOP-16", "QFN-16-2.5x3.5", "QSOP-16", "TVSOP-16", "SSOP-16", "QFN-16-3x3"],
    "long drilled": ["DIP-40", "QFP-44"],
}


@cache
def geometry(name):
    outline = find(name)
    pattern = land_pattern(outline)
    return outline, pattern, print_part(pattern, Foil(100), outline=outline)


def candidate(name, at=0, *, value="12 (9…17)", why="Every check holds, with 12 % to spare.", **more):
    outline, pattern, printed = geometry(name)
    figures = tuple((title, value, VERDICTS[(at + n) % 4]) for n, title in enumerate(TITLES))
    settings = {"area_text": "43.8\u2009mm², saves 78\u2009%", "is_choice": at == 0, "is_present": at == 1, **more}
    return Candidate(outline, pattern, printed, figures, VERDICTS[at % 4], why, **settings)


def card_of(names, **more):
    return lay_out(*WORDS, [candidate(name, at, **more) for at, name in enumerate(names)], *CLOSING)


def assert_clean(card):
    assert texts_clash(card.picture) == []
    assert lines_through_texts(card.picture) == []
    x1, y1, x2, y2 = card.picture.box
    assert x1 >= 5
    assert y1 >= 5
    assert x2 <= card.size_mm[0] - 5
    assert y2 <= card.size_mm[1] - 5


@pytest.mark.parametrize("names", SETS.values(), ids=SETS)
def test_cards_are_clean_and_complete(names):
    card = card_of(names)
    assert_clean(card)
    assert [one.outline.name for one in card.shown] == names
    words = [text.text for text in card.picture.texts]
    for name in names:
        assert any(word.startswith(name[:8]) for word in words)
    assert sum(word in VERDICTS for word in words) == 6 * len(names)


@pytest.mark.parametrize("names", SETS.values(), ids=SETS)
def test_candidates_do_not_touch(names):
    card = card_of(names)
    courts = [m.box for m in card.picture.marks if isinstance(m, Area) and m.stroke and m.stroke.colour == "plum"]
    assert len(courts) == len(names)
    for (_, _, right, _), (left, _, _, _) in itertools.pairwise(courts):
        assert left - right >= 3


def test_all_stand_on_one_line_at_one_scale():
    card = card_of(SETS["drilled beside fine"])
    courts = [m.box for m in card.picture.marks if isinstance(m, Area) and m.stroke and m.stroke.colour == "plum"]
    assert len({round(box[3], 6) for box in courts}) == 1
    for box, one in zip(courts, card.shown, strict=True):
        assert box[2] - box[0] == pytest.approx(one.pattern.courtyard_mm[0] * card.magnification)
        assert box[3] - box[1] == pytest.approx(one.pattern.courtyard_mm[1] * card.magnification)


@pytest.mark.parametrize("names", SETS.values(), ids=SETS)
def test_rule_is_in_millimetres_of_the_part(names):
    card = card_of(names)
    assert f"Drawn {card.magnification:g}:1" in {text.text for text in card.picture.texts}
    numbers = sorted(
        (float(t.text), t.x)
        for t in card.picture.texts
        if re.fullmatch(r"\d+(\.\d+)?", t.text) and t.anchor == "middle"
    )
    assert len(numbers) >= 3
    (first, x1), (last, x2) = numbers[0], numbers[-1]
    assert x2 - x1 == pytest.approx((last - first) * card.magnification)


def test_the_choice_stands_on_a_heavier_line():
    card = card_of(SETS["tiny beside small"])
    heavy = [m for m in card.picture.marks if isinstance(m, Area) and m.stroke and m.stroke.width_mm == HEAVY]
    assert len(heavy) == 1
    court = next(m.box for m in card.picture.marks if isinstance(m, Area) and m.stroke and m.stroke.colour == "plum")
    assert heavy[0].box[0] <= court[0]
    assert heavy[0].box[2] >= court[2]


def test_few_go_on_a4_many_on_a3():
    assert card_of(SETS["tiny beside small"]).size_mm == A4
    assert card_of(SETS["sixteen"]).size_mm == A3


def test_a_tall_part_does_not_shrink_the_fine_one_beyond_reading():
    assert card_of(SETS["drilled beside fine"]).magnification >= 2.5


def test_more_than_fit_are_counted_and_the_choice_and_the_part_in_use_stay():
    names = ["SO-16", "TSSOP-16", "QSOP-16", "TVSOP-16", "SSOP-16", "QFN-16-3x3", "QFN-16-4x4", "QFN-16-3.5x4"] * 2
    candidates = [candidate(name, 2, is_choice=at == 0, is_present=at == 15) for at, name in enumerate(names)]
    card = lay_out(*WORDS, candidates, *CLOSING)
    assert len(card.shown) <= MOST_SHOWN
    assert card.left_out == 16 - len(card.shown)
    assert card.shown[0] is candidates[0]
    assert card.shown[-1] is candidates[15]
    words = " ".join(text.text for text in card.picture.texts)
    assert f"{card.left_out} more candidates are in the report." in words
    assert_clean(card)


@pytest.mark.parametrize(
    ("value", "why"),
    [
        ("4 100 (2 600…6 500) cycles, of 9 000 wanted over ten years", "Short."),
        ("–", "A sentence that goes on and on about every limit that was looked at. " * 6),
        (
            "Donaudampfschifffahrtsgesellschaftskapitän",
            "Rindfleischetikettierungsüberwachungsaufgabenübertragungsgesetz",
        ),
    ],
)
def test_any_text_fits(value, why):
    for names in (SETS["tiny beside small"], SETS["sixteen"]):
        assert_clean(card_of(names, value=value, why=why))


def test_long_titles_and_sentences_fit():
    many = "a part of a very long name and function, " * 8
    card = lay_out(many, many, [candidate("SO-14", 0)], many, many, many)
    assert_clean(card)


def test_a_figure_that_nothing_is_asked_of_stands_without_a_word():
    cells = (("A", "1", None), ("B", "2", "fails"), ("C", "3", None), ("D", "4", None), ("E", "5", None))
    made = [replace(candidate(name, at), figures=cells) for at, name in enumerate(("SOT-23-5", "SC-70-5"))]
    card = lay_out(*WORDS, made, *CLOSING)
    assert_clean(card)
    words = [mark.text for mark in card.picture.marks if isinstance(mark, Text)]
    assert words.count("fails") == 2
    # One word more under each: the verdict of the whole, of the first "holds", of the second "marginal".
    assert [sum(words.count(one) for one in ("holds", "marginal")), words.count("not known")] == [2, 0]


def test_figures_must_be_five_and_of_one_kind():
    outline, pattern, printed = geometry("SO-14")
    with pytest.raises(InputError, match="exactly 5"):
        Candidate(outline, pattern, printed, (("Print", "1", "holds"),), "holds", "")
    other = Candidate(outline, pattern, printed, tuple((f"x{n}", "1", "holds") for n in range(5)), "holds", "")
    with pytest.raises(InputError, match="same figures"):
        lay_out(*WORDS, [candidate("SO-14"), other], *CLOSING)
    with pytest.raises(InputError, match="needs candidates"):
        lay_out(*WORDS, [], *CLOSING)


def test_document_repeats_and_says_what_it_shows():
    candidates = [candidate(name, at) for at, name in enumerate(SETS["tiny beside small"])]
    svg = comparison_card(*WORDS, candidates, *CLOSING, prefix="u3")
    assert svg == comparison_card(*WORDS, candidates, *CLOSING, prefix="u3")
    root = ElementTree.fromstring(svg)
    ids = [e.get("id") for e in root.iter() if e.get("id")]
    assert len(ids) == len(set(ids))
    assert all(one.startswith("u3-") for one in ids)
    description = root.find("{http://www.w3.org/2000/svg}desc").text
    assert "SOT-23-5 (holds, the choice)" in description


def test_ratios_of_defects_stand_under_the_figures():
    """Every ratio with its interval whole, nothing over anything, and the card as it was where none are told."""
    lines = ("bridges ×0.31 (0.12…0.83)", "opens ×2.4 (0.61…8.2)", "all defects ×0.45 (0.2…0.9)")
    names = SETS["tiny beside small"]
    title = "defects against SON-5-0.8x0.8, in use"
    cards = [
        candidate(name, at, against=Against(title, ("×1",) if at == 1 else lines)) for at, name in enumerate(names)
    ]
    told = lay_out(*WORDS, cards, *CLOSING)
    assert_clean(told)
    words = " ".join(text.text for text in told.picture.texts)
    assert words.count("(0.12…0.83)") == 2
    assert words.count("(0.2…0.9)") == 2
    assert "Defects against" in words
    assert "Defects against" not in " ".join(text.text for text in card_of(names).picture.texts)
