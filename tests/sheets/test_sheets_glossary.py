"""The glossary at the word: the first of each trade word on a page opens its definition, and no script is needed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

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


def test_words_are_found_as_the_pattern_of_all_names_finds_them():
    """Looking only where a run of letters begins a name gives what Python's own search gives."""
    from html import escape

    from landwise.sheets.glossary import CHECKOUT, _met, _pattern

    texts = [path.read_text(encoding="utf-8") for path in sorted((CHECKOUT / "docs").glob("*.md"))]
    texts += ["foils foil-thick anti-foil FOIL; area ratios area ratio-x arearatio area  ratio", "stencil's lands'", ""]
    found = [[one.span() for one in _met(escape(text))] for text in texts]
    assert found == [[one.span() for one in _pattern().finditer(escape(text))] for text in texts]
    assert sum(map(len, found)) > 1000


@pytest.mark.parametrize(
    "drawing",
    [
        "<svg a='1'><g>foil</g></svg>",
        "<svg><svg>foil</svg>foil</svg>",
        "<svg/>",
        "<svg a='1'/><svg>foil</svg>",
        "<svg>foil<!-- </svg> -->",
    ],
)
def test_drawings_hold_no_running_text(drawing):
    """Whole ones are passed over at once, and ones that hold others, empty ones and broken ones piece by piece."""
    made = marked(f"<body>{drawing}<p>a foil</p></body>")
    broken = "<!--" in drawing
    assert made.startswith(f"<body>{drawing}<p>a ")
    assert ('popovertarget="w-foil"' in made) is not broken
