"""The glossary at the word: the first of each trade word on a page opens its definition, and no script is needed."""

from __future__ import annotations

import re
from pathlib import Path

from landwise.sheets.glossary import PLAIN, definitions, marked, opened_in, read_words, used_in, words

DOCS = Path(__file__).parents[2] / "docs" / "glossary.md"


def test_the_words_are_those_of_the_docs():
    text = DOCS.read_text(encoding="utf-8")
    assert len(words()) == len(re.findall(r"^\*\*", text, re.M))
    assert words() == read_words(text)
    assert {"area-ratio", "courtyard", "toe", "transfer-efficiency", "aperture", "fan-out"} <= {w.key for w in words()}


def test_every_word_is_found_by_one_name_alone():
    names = [name.lower() for one in words() for name in one.found_by if name.lower() not in PLAIN]
    assert len(names) == len(set(names))
    assert len({one.key for one in words()}) == len(words())


def test_only_the_first_of_a_word_is_marked_and_only_in_running_text():
    page = "<body><h2>Toe</h2><a href=x>toe</a><svg><text>toe</text></svg><p title='toe'>Toes and a toe</p></body>"
    made = marked(page)
    assert made.count("popovertarget") == 1
    assert ">Toes</button> and a toe</p>" in made
    assert marked(made) == made
    assert re.sub(r"</?button[^>]*>", "", made) == page


def test_escapes_of_a_defect_and_escapes_of_a_track_are_two_words():
    made = marked("<p>An escape under the body; what escapes costs.</p>")
    assert [one.key for one in opened_in(made)] == ["escaped-defect", "fan-out"]


def test_a_page_holds_what_its_words_open_and_nothing_else():
    made = marked("<body><p>The foil's apertures and the courtyard.</p></body>")
    said = definitions(opened_in(made))
    assert re.findall(r'popovertarget="(w-[^"]+)"', made) == ["w-foil", "w-aperture", "w-courtyard"]
    assert re.findall(r'id="(w-[^"]+)"', said) == ["w-aperture", "w-courtyard", "w-foil"]
    assert [one.key for one in used_in("A foil")] == ["foil"]
    assert used_in("nothing of the trade, boardlands") == ()
