"""Every number in the example's drawings is a figure's or a size's that the result holds, to the digits shown.

The texts of each SVG are taken apart again: what a heading announces is read as numbers and compared with the figure,
whose trail must give it; no digit may be left over. The drawings' words are ours; the numbers are compared with the
result's, not with the text that made them.
"""

from __future__ import annotations

import re
from itertools import pairwise
from math import floor, log10
from xml.etree import ElementTree

import pytest

from landwise.board.result import board_result
from landwise.evidence.trails import numbers, replay
from landwise.judging.ratios import defects_against, reference_of
from landwise.sheets.cards import card_of
from landwise.sheets.frontpage import before_after_svg, gain_svg
from landwise.sheets.landsheet import land_drawing
from landwise.sheets.solder import part_solder
from worked_example import judged_example

NUMBER = r"[−-]?\d+(?:\.\d+)?(?:e[-+]?\d+)?"
MOST_RATIO = 1000
MICRON = 1e-6  # of rounding


@pytest.fixture(scope="module")
def result():
    return judged_example()


def texts(svg):
    return ["".join(one.itertext()) for one in ElementTree.fromstring(svg).iter() if one.tag.endswith("}text")]


def shows(text, value, *, percent=False, digits=None):
    """Whether a text is the value rounded to the text's own last digit, or to so many digits that count."""
    number = float(text.replace("−", "-"))
    value = 100 * value if percent else value
    mantissa, _, power = text.partition("e")
    step = 10.0 ** (int(power or 0) - len(mantissa.partition(".")[2]))
    if digits and value:
        step = max(step, 10.0 ** (floor(log10(abs(value))) - digits + 1))
    return abs(number - value) <= step / 2 * (1 + 1e-9) + MICRON


def taken(pattern, text):
    """What a pattern finds, and the text without it."""
    return re.findall(pattern, text), re.sub(pattern, " ", text)


def heading(words, title, after=0):
    """Where a heading stands, whose end may be on a line of its own."""
    return next(at for at in range(after, len(words)) if len(words[at]) > 4 and title.startswith(words[at]))


def part_between(words, start, end):
    """The texts behind one heading and before another, as one line."""
    first = heading(words, start) + 1
    return " ".join(words[first : heading(words, end, first)]).replace("\u2009", " ")


def headed(title):
    """A title as a heading writes it."""
    return title[0].upper() + title[1:]


KNOWN = {}  # steps worked so far, which many figures share


def traced(figure):
    """A figure's value and interval, which its trail must give."""
    if figure.value is None:
        return None, None, None
    low, value, high = numbers(replay(figure.gives, KNOWN))
    assert value == figure.value, figure.key
    assert figure.low is None or (low, high) == (figure.low, figure.high), figure.key
    return figure.value, figure.low, figure.high


def test_a_text_shows_a_number_to_its_last_digit_only():
    assert shows("0.65", 0.6537)
    assert not shows("0.66", 0.6537)
    assert shows("83", 0.8327, percent=True)
    assert not shows("84", 0.8327, percent=True)
    assert shows("110", 108, digits=2)
    assert not shows("110", 118, digits=2)


def cards_options(part, words):
    """The options in the order in which the card names them, and what stands with their names."""
    by_name = {option.name: option for option in part.options}
    last = heading(words, headed(part.options[0].figures["transfer"].title))
    first = words.index("mm of the part") + 1
    named = " ".join(words[first:last]).replace("- ", "-").replace("\u2009", " ")  # a long name is broken at its dash
    names = "|".join(re.escape(name) for name in sorted(by_name, key=len, reverse=True))
    found, left = taken(rf"(?<!\S)({names})(?!\S)", named)
    return [by_name[name] for name in found], left


def require_heads(part, options, named):
    present = part.present
    found, left = taken(rf"({NUMBER}) mm²(?:, (saves|takes) (\d+)%(?: more)?)?", named)
    assert len(found) == len(options)
    for option, (area, word, share) in zip(options, found, strict=True):
        assert shows(area, traced(option.figures["area"])[0], digits=3), option.name
        assert (word == "") == (present is None or option is present)
        if word:
            saved = 1 - option.area_mm2 / present.area_mm2
            assert shows(share, saved if word == "saves" else -saved, percent=True)
    assert not re.search(r"\d", left), left


FIGURES = (
    ("transfer", rf"({NUMBER})% \(({NUMBER})%…({NUMBER})%\)|–", True),
    ("gap", rf"({NUMBER}) mm|–", False),
    ("pitch", rf"({NUMBER}) mm|–", False),
    ("seen", rf"({NUMBER})%", True),
    ("cost", rf"({NUMBER}) \(({NUMBER})…({NUMBER})\)", False),
)


def require_figures(options, words, unit, last):
    titles = [headed(options[0].figures[key].title) + (f", {unit}" if key == "cost" else "") for key, *_ in FIGURES]
    for at, (key, pattern, percent) in enumerate(FIGURES):
        line = part_between(words, titles[at], titles[at + 1] if at + 1 < len(titles) else last)
        found, left = taken(pattern, line)
        assert not re.search(r"\d", left), (key, left)
        assert len(found) == len(options), (key, line)
        for option, printed in zip(options, found, strict=True):
            values = traced(option.figures[key])
            printed = [printed] if isinstance(printed, str) else printed
            if values[0] is None:
                assert not any(printed), (key, option.name)
                continue
            assert shows(printed[0], values[0], percent=percent, digits=None if percent else 3), (key, option.name)
            if len(printed) == 3:
                assert shows(printed[1], values[1], percent=percent, digits=None if percent else 3), (key, option.name)
                assert shows(printed[2], values[2], percent=percent, digits=None if percent else 3), (key, option.name)


RATIO = (
    rf"(bridges|opens|all defects) (×{NUMBER}|over 1000 times|under 1/1000)(?: \((or anything else|{NUMBER}[^)]*)\))?"
)


def ratio_shows(text, value):
    if text == "over 1000 times":
        return value > MOST_RATIO
    return value < 1 / MOST_RATIO if text == "under 1/1000" else shows(text[1:], value, digits=2)


def range_shows(text, low, high):
    """Ends within a thousand either way as numbers, the others in words."""
    inside = [one for one in (low, high) if 1 / MOST_RATIO <= one <= MOST_RATIO]
    numbers = re.findall(NUMBER, text)
    assert ("or more" in text) == (len(inside) == 1 and high > MOST_RATIO)
    assert ("or less" in text) == (len(inside) == 1 and low < 1 / MOST_RATIO)
    return len(numbers) == len(inside) and all(
        shows(one, value, digits=2) for one, value in zip(numbers, inside, strict=True)
    )


def require_ratios(part, options, line):
    against, reference = defects_against(part), reference_of(part)
    found, left = taken(RATIO, line)
    shown = [option for option in options if option.name in against]
    assert [kind for kind, *_ in found] == ["bridges", "opens", "all defects"] * len(shown)
    kinds = [(option, kind) for option in shown for kind in ("bridges", "opens", "ratio")]
    for (option, kind), (_, value, ends) in zip(kinds, found, strict=True):
        ours = getattr(against[option.name], kind)
        assert ratio_shows(value, ours.value), (option.name, kind)
        assert range_shows(ends, ours.low, ours.high), (option.name, kind)
    left = left.replace(reference.name, " ")  # of a heading on two lines
    assert re.findall(r"\S*\d\S*", left) == ["×1"] * (reference in options)


def require_reasons(options, line, line_um):
    """Numbers of the sentences behind the verdicts."""
    found, left = taken(rf"ratio, ({NUMBER}) on ({NUMBER}) µm: ({NUMBER})% to ({NUMBER})% of", line)
    weak = [one for one in options if "least area ratio" in one.geometry.printed.why and not one.rejections]
    assert len(found) <= len(weak)
    for ratio, foil, low, high in found:
        held = [
            deposit.transfer
            for option in weak
            for deposit in [min(option.geometry.printed.deposits, key=lambda d: d.area_ratio)]
            if shows(ratio, traced(option.figures["area-ratio"])[0])
            and shows(ratio, deposit.area_ratio)
            and shows(foil, option.geometry.printed.foil.thickness_um)
        ]
        assert any(
            shows(low, one.usual_low, percent=True) and shows(high, one.usual_high, percent=True) for one in held
        ), (ratio, foil, low, high)
    foils, left = taken(rf"releases on ({NUMBER}) µm", left)
    assert all(shows(foil, line_um) for foil in foils)
    pitches, left = taken(rf"pitch ({NUMBER}) mm, the line places ({NUMBER}) mm", left)
    for pitch, least in pitches:
        assert any(shows(pitch, option.figures["pitch"].value) for option in options)
        assert any(option.rejections and least in option.rejections[0].says for option in options)
    # What stands short of a limit: a figure with its interval, whatever its title.
    short, left = taken(rf"({NUMBER}) \(({NUMBER})…({NUMBER})\)", left)
    figures = [one for option in options for one in option.figures.values() if one.low is not None]
    for printed in short:
        held = [
            one
            for one in figures
            if all(
                shows(text, value, digits=3)
                for text, value in zip(printed, (one.value, one.low, one.high), strict=True)
            )
        ]
        assert held, printed
        traced(held[0])
    tests, left = taken(rf"Life in a ({NUMBER})/({NUMBER}) °C test", left)
    assert all(any(f"{low}/{high} °C" in one.title for one in figures) for low, high in tests)
    heights, left = taken(rf"height: up to ({NUMBER}) mm, allowed ({NUMBER}) mm", left)
    for height, allowed in heights:
        tall = [option.figures["height"] for option in options if shows(height, option.figures["height"].value)]
        assert any(shows(allowed, one.limit) for one in tall), (height, allowed)
    supplied, left = taken(rf"supply: \S+ was not seen in it, ({NUMBER})% of like", left)
    seen = [option.supply.share for option in options if option.rejections]
    assert all(any(share is not None and shows(text, share, percent=True) for share in seen) for text in supplied)
    left = re.sub(r"one list, May 20\d*", " ", left)  # the day of the list, cut short
    named, left = taken(r"[Tt]erminals? \d+|bridges \d+–\d+|opens \d+", left)
    terminals = {land.terminal for option in options for land in option.geometry.pattern.lands}
    assert {number for one in named for number in re.findall(r"\d+", one)} <= terminals
    return left


def test_every_number_on_the_example_s_cards_is_its_figure_s(result):
    unit, left_over = result.content.costs.unit, []
    for number, part in enumerate(result.parts):
        words = texts(card_of(part, result, prefix=f"card{number}"))
        options, named = cards_options(part, words)
        assert part.chosen in options
        require_heads(part, options, named)
        ratios = next((word for word in words if word.startswith("Defects against ")), "Verdict")
        require_figures(options, words, unit, ratios)
        if ratios != "Verdict":
            require_ratios(part, options, part_between(words, ratios, "Verdict"))
        reasons = part_between(
            words, "Verdict", next(word for word in words if word.startswith("Drawn ") and "rule" in word)
        )
        left_over += re.findall(r"\S*\d\S*", require_reasons(options, reasons, result.line.foil_um))
        foil = re.search(rf"a ({NUMBER}) µm foil", " ".join(words))[1]
        assert shows(foil, result.line.foil_um)
        run = re.search(rf"run of ({NUMBER})", " ".join(words))[1]
        assert float(run) == result.content.costs.run
    assert left_over == []


def printed_options(result):
    return {one.name: one for part in result.parts for one in (part.chosen, part.present) if one}.values()


def between(words, start, *ends):
    """The texts behind the heading that begins so, up to the first of the others."""
    first = next((at for at, word in enumerate(words) if word.startswith(start)), None)
    if first is None:
        return []
    behind = words[first + 1 :]
    stop = next((at for at, word in enumerate(behind) if word.startswith(ends)), len(behind))
    return behind[:stop]


def ranges(words):
    return [tuple(re.findall(NUMBER, word)) for word in words if re.search(r"\d", word)]


def is_range(printed, size):
    """Whether a text's ends, or its one number, are a size's."""
    return size is not None and shows(printed[0], size.min) and shows(printed[-1], size.max)


def spans_of(outline):
    return [outline.row_spacing_mm, outline.span_mm, getattr(outline, "span_top_mm", None)]


@pytest.fixture(scope="module")
def sheets(result):
    made = []
    for option in printed_options(result):
        geometry = option.geometry
        shown = geometry.printed if geometry.printed.apertures else None
        solder = part_solder(geometry.outline, geometry.stand, geometry.mounted)
        made.append((option, texts(land_drawing(geometry.outline, geometry.pattern, shown, solder=solder))))
    return made


def test_the_outline_s_dimensions_on_a_sheet_are_the_outline_s(sheets):
    for option, words in sheets:
        outline = option.geometry.outline
        above = ranges(between(words, "Part on its lands", "From the side"))
        sizes = [outline.body_width_mm, outline.body_length_mm, outline.terminal_width_mm, *spans_of(outline)]
        for printed in above:
            assert any(is_range(printed, size) for size in sizes), (option.name, printed)
        assert any(is_range(printed, outline.body_width_mm) for printed in above)
        assert any(is_range(printed, outline.body_length_mm) for printed in above)
        side = ranges(between(words, "From the side", "Lands", "Terminal", "Print of"))
        sizes = [outline.height_mm, outline.standoff_mm, outline.foot_mm]
        for printed in side:
            assert any(is_range(printed, size) for size in sizes), (option.name, printed)
        assert any(is_range(printed, outline.height_mm) for printed in side)


def test_the_dimensions_of_lands_are_those_of_the_pattern_whose_courtyard_is_the_figure_s_area(sheets):
    for option, words in sheets:
        pattern = option.geometry.pattern
        boxes = [land.place.box for land in pattern.lands]
        centres = [(land.place.x_mm, land.place.y_mm) for land in pattern.lands]
        wide, tall = pattern.courtyard_mm
        known = [wide, tall]
        for axis in (0, 1):
            at = sorted({round(one[axis], 6) for one in centres})
            known += [max(box[axis + 2] for box in boxes) - min(box[axis] for box in boxes), at[-1] - at[0]]
            known += [other - one for one, other in pairwise(at)]
            known += [other - one for one, other in zip(at, at[2:], strict=False)]
            known += [box[axis + 2] - box[axis] for box in boxes]
        shown = [word for word in between(words, "Lands", "Print of", "Terminal") if re.fullmatch(r"\d+\.\d+", word)]
        assert len(shown) >= 5, option.name
        for number in shown:
            assert any(shows(number, value) for value in known), (option.name, number)
        assert any(shows(number, wide) for number in shown)
        assert any(shows(number, tall) for number in shown)
        assert wide * tall == pytest.approx(traced(option.figures["area"])[0])


def test_each_row_of_a_sheet_s_table_is_its_land_and_its_aperture(sheets):
    rows_read = 0
    for option, words in sheets:
        pattern, print_ = option.geometry.pattern, option.geometry.printed
        lands = {land.terminal: land for land in pattern.lands}
        openings = {one.terminal: one.openings for one in print_.apertures}
        cells = between(words, "Terminal", "Places in mm")
        heads = [word for word in ("x", "y", "Land", "Aperture", "Hole") if word in cells[:5]]
        width = len(heads) + 1
        rows = [cells[len(heads) :][at : at + width] for at in range(0, len(cells) - len(heads), width)]
        for terminal, *values in rows:
            first = lands[terminal.partition("…")[0]]
            row = dict(zip(heads, values, strict=True))
            assert shows(row["x"].partition("…")[0], first.place.x_mm), (option.name, terminal)
            assert shows(row["y"].partition("…")[0], first.place.y_mm), (option.name, terminal)
            shape = first.place.shape
            printed = re.findall(NUMBER, row["Land"])
            assert shows(printed[0], shape.length_mm), (option.name, terminal)
            assert shows(printed[-1], shape.width_mm), (option.name, terminal)
            if "Aperture" in row and row["Aperture"] != "none":
                printed = re.findall(NUMBER, row["Aperture"].rpartition(" of ")[2])
                opening = openings[first.terminal][0].shape
                assert shows(printed[0], opening.length_mm), (option.name, terminal)
                assert shows(printed[-1], opening.width_mm), (option.name, terminal)
            if "Hole" in row:
                assert shows(re.search(NUMBER, row["Hole"])[0], first.hole_mm), (option.name, terminal)
            rows_read += 1
    assert rows_read > 40


def test_the_print_in_section_is_the_figure_s_worst_land(sheets):
    read = 0
    for option, words in sheets:
        line = " ".join(between(words, "Print of terminal", "Terminal")).replace("\u2009", " ")
        found = re.search(rf"Area ratio ({NUMBER}): ({NUMBER})% \(({NUMBER})…({NUMBER})\)?%", line)
        found = found or re.search(rf"Area ratio ({NUMBER}): ({NUMBER})% \(({NUMBER})…({NUMBER})%\)", line)
        if found is None:
            assert "Area ratio" not in line, line
            continue
        read += 1
        assert shows(found[1], traced(option.figures["area-ratio"])[0])
        for text, value in zip(found.groups()[1:], traced(option.figures["transfer"]), strict=True):
            assert shows(text, value, percent=True), option.name
        foil_um = option.geometry.printed.foil.thickness_um
        heights = re.search(rf"({NUMBER}) \(({NUMBER})…({NUMBER})\) µm", line)
        for text, value in zip(heights.groups(), traced(option.figures["transfer"]), strict=True):
            assert shows(text, value * foil_um), option.name
        assert any(shows(number, foil_um) for number in re.findall(rf"({NUMBER}) µm", line))
    assert read >= 4


def test_the_board_s_pictures_show_its_totals(result):
    board = board_result(result)
    svg, scale = before_after_svg(board)
    words = [word.replace("\u2009", " ") for word in texts(svg)]
    areas = [re.fullmatch(rf"({NUMBER}) mm²", word)[1] for word in words if "mm²" in word]
    for text, total in zip(areas, (board.before, board.after), strict=True):
        assert shows(text, total.area_mm2)
    references = [ref for part in board.parts for ref in part.part.refs]
    assert sorted(word for word in words if word in references) == sorted(2 * references)
    rule = [float(word) for word in words if re.fullmatch(NUMBER, word)]
    assert rule == sorted(rule)
    assert rule[0] == 0
    assert re.search(r"\d", scale)
    words = [word.replace("\u2009", " ") for word in texts(gain_svg(board))]
    unit = board.content.costs.unit
    shown = [re.match(NUMBER, word)[0] for word in words if re.match(rf"{NUMBER} (mm²|{unit})$", word)]
    totals = (board.before.area_mm2, board.after.area_mm2, board.before.cost, board.after.cost)
    for text, value in zip(shown, totals, strict=True):
        assert shows(text, value, digits=3)
