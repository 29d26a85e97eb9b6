"""Colours, verdict marks, fonts: readable in print, in grey and by a colour-blind reader."""

from __future__ import annotations

import itertools
import json

import pytest

from landwise.evidence.figures import VERDICTS
from landwise.sheets.lettering import FONT_FILES, shortened, width_mm, wrapped
from landwise.sheets.look import (
    HEAVY,
    NARROW,
    SERIES,
    TEXT_COLOURS,
    THEMES,
    VERDICT_LOOKS,
    WIDE,
    contrast,
    css,
    luminance,
)
from landwise.sheets.marks import verdict_word
from landwise.sheets.pdf import font_folder
from landwise.sheets.svg import Area, Disc


# WCAG 2.1, success criterion 1.4.3: at least 4.5 to 1 for text. The worked pair (#767676 on white is the
# lightest grey that passes, at 4.54) is common knowledge of the trade, from memory.
def test_contrast_formula_on_a_known_pair():
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    assert luminance("#ff0000") == pytest.approx(0.2126, abs=5e-5)


@pytest.mark.parametrize("theme", THEMES.values(), ids=lambda theme: theme.name)
@pytest.mark.parametrize("ground", ["paper", "body"])
def test_every_text_colour_is_readable(theme, ground):
    for colour in TEXT_COLOURS:
        assert contrast(theme[colour], theme[ground]) >= 4.5, (theme.name, colour)


def test_light_text_is_readable_on_plain_white_paper_too():
    for colour in TEXT_COLOURS:
        assert contrast(THEMES["light"][colour], "#ffffff") >= 4.5


def test_themes_name_the_same_colours():
    assert set(THEMES["light"].colours) == set(THEMES["dark"].colours)


def test_terminal_land_and_board_differ_in_grey():
    theme = THEMES["light"]
    greys = [luminance(theme[name]) for name in ("ochre", "metal", "solder", "board")]
    assert greys == sorted(greys)
    # Steps a grey print keeps apart. The lands and leads are near in grey; their outline and hatch part them.
    assert all(b - a > 0.05 for a, b in itertools.pairwise(greys))


def test_lines_step_by_two_or_more():
    # ISO 128-20: wide and narrow lines as 2 to 1. From memory.
    assert WIDE / NARROW == 2
    assert HEAVY / WIDE > 2


def test_neighbouring_series_differ_in_pattern():
    kinds = [fill.split("/")[0] if "/" in fill else f"plain {fill}" for fill in SERIES]
    assert all(a != b for a, b in itertools.pairwise(kinds))


def test_each_verdict_has_its_own_word_and_shape():
    assert set(VERDICT_LOOKS) == set(VERDICTS)
    assert len({look.mark for look in VERDICT_LOOKS.values()}) == len(VERDICTS)
    forms = set()
    for verdict in VERDICTS:
        picture = verdict_word(verdict, 0, 0)
        assert [text.text for text in picture.texts] == [verdict]
        forms.add(
            tuple(
                (
                    type(mark).__name__,
                    bool(mark.fill),
                    bool(mark.stroke),
                    len(mark.runs[0]) if isinstance(mark, Area) else 0,
                )
                for mark in picture.marks
                if isinstance(mark, Area | Disc)
            )
        )
    assert len(forms) == len(VERDICTS)


def test_css_recolours_every_class():
    rules = css()
    for name, value in THEMES["dark"].colours.items():
        assert f".k-{name}{{stroke:{value}}}" in rules
        assert f".f-{name}{{fill:{value}}}" in rules


def test_advances_are_those_of_the_shipped_fonts():
    from fontTools.ttLib import TTFont

    folder = font_folder()
    table = json.loads((folder / "advances.json").read_text(encoding="utf-8"))
    for stem in FONT_FILES.values():
        font = TTFont(folder / f"{stem}.ttf")
        measured = {chr(code): font["hmtx"][name][0] for code, name in font.getBestCmap().items()}
        assert table[stem]["widths"] == measured
        assert table[stem]["em"] == font["head"].unitsPerEm


@pytest.mark.parametrize("stem", FONT_FILES.values())
def test_fonts_hold_what_the_sheets_print(stem):
    table = json.loads((font_folder() / "advances.json").read_text(encoding="utf-8"))[stem]["widths"]
    for character in "0123456789ABCÄÖÜßéñłš×µ²³±−…–—°≤≥Ω∞→•Ø·αβγΔσ\u2009\u00a0’":
        assert character in table, character
    figures = [table[figure] for figure in "0123456789"]
    assert max(figures) <= min(figures) * 1.002  # tabular: the semibold cut differs by 3 of 2816 units


def test_fonts_are_small_and_carry_their_licence():
    folder = font_folder()
    assert sum(file.stat().st_size for file in folder.iterdir() if file.is_file()) < 700_000
    assert "SIL OPEN FONT LICENSE" in (folder / "OFL.txt").read_text(encoding="utf-8")
    for stem in FONT_FILES.values():
        assert (folder / f"{stem}.woff2").read_bytes()[:4] == b"wOF2"


@pytest.mark.parametrize("width", [4, 12, 40, 200])
def test_wrapped_lines_fit_and_lose_nothing(width):
    text = "A 0.3 mm-pitch part pulls the foil down for the whole board, Donaudampfschifffahrtsgesellschaft too"
    lines = wrapped(text, width, 9)
    assert all(width_mm(line, 9) <= width for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")


def test_a_character_without_an_advance_counts_wide():
    assert width_mm("漢", 9) >= width_mm("m", 9)


def test_shortened_says_that_it_was_cut():
    assert shortened("as long as it is", 100, 9) == "as long as it is"
    cut = shortened("as long as it is", 15, 9)
    assert cut.endswith("…")
    assert width_mm(cut, 9) <= 15


@pytest.mark.parametrize(("font", "stem"), FONT_FILES.items())
def test_width_is_the_sum_of_the_fonts_advances(font, stem):
    from fontTools.ttLib import TTFont

    cut = TTFont(font_folder() / f"{stem}.ttf")
    names = cut.getBestCmap()
    text = "0.50…0.65\u2009mm, Größe"
    units = sum(cut["hmtx"][names[ord(character)]][0] for character in text)
    assert width_mm(text, 72, font) == pytest.approx(25.4 * units / cut["head"].unitsPerEm)
