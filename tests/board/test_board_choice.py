"""The chain: limits, choice, totals, results; and the report's parts."""

from __future__ import annotations

import json
import re

import jsonschema
import pytest

from landwise.board.choice import choose_board, rank_each
from landwise.costs.loads import Line
from landwise.errors import LandwiseError
from landwise.judging.limits import LimitKey
from landwise.judging.notes import Note, NoteKey
from landwise.judging.study import run_study
from landwise.results.file import options_csv, read_result, result_data, result_schema, result_text
from landwise.results.told import asked
from landwise.study.defaults import study_defaults as defaults
from landwise.study.file import schema, study_from

GATE = {"refs": ["U1", "U2"], "number": "1G08", "family": "LVC", "terminals": 5, "package": "SOT-23-5"}
# Leads of three pitches, lands without leads of two, balls: the catalogue has more of each, which are judged alike.
LITTLE = ("SOT-23-5", "SC-70-5", "SOT-5x3-5", "SON-5-0.8x0.8", "SON-6-0.9x1.0", "WLP-5-0.5")
GATE |= {"options": [{"outline": name} for name in LITTLE]}
OPEN = {"refs": ["U3"], "number": "00", "family": "HC", "terminals": 14, "package": "DIP-14"}
# Of a quad one package of each kind; the catalogue is asked for all of them where its proposals are looked at.
QUAD = OPEN | {"options": [{"outline": name} for name in ("DIP-14", "SO-14", "TSSOP-14", "QFN-14-2.5x3")]}
# Where only one package is looked at, on a line or board of its own, only that one is judged.
ALONE = GATE | {"options": [{"outline": "SOT-23-5", "price": 0.03}]}
QUAD_ALONE = OPEN | {"options": [{"outline": "DIP-14", "price": 0.1}]}
ONE_FOIL = {"foils": ["100 um"]}  # the line's usual one; with all on hand every print is made once more for each
DESIGNED = {"print": "designed"}


def study(*parts, line=ONE_FOIL, **tables):
    """Parts judged; prints are as large as the lands, unless a line says otherwise: to design them takes longest."""
    return run_study(study_from({"part": list(parts) or [GATE], "line": {"print": "as lands"} | line, **tables}))


def rejected(result, outline, part=0):
    option = next(o for o in result.parts[part].options if o.name == outline)
    return {r.limit for r in option.rejections}


def test_present_package_is_always_judged_and_named():
    part = choose_board(study()).parts[0]
    assert part.present.name == "SOT-23-5"
    # Among equals within what is known, today's package stays.
    assert part.chosen is part.present
    assert "already in use" in part.says


def test_options_come_best_first_and_rejected_ones_last():
    part = choose_board(study()).parts[0]
    names = [o.name for o in part.options]
    assert tuple(names[: len(part.standing.order)]) == part.standing.order
    more = [part.standing.more[name] for name in part.standing.order]
    assert more == sorted(more)
    assert more[0] == 0.0
    assert sum(part.standing.wins.values()) == pytest.approx(1.0)
    assert all(part.standing.low[name] <= part.standing.high[name] for name in part.standing.order)


def test_each_part_by_itself_stands_by_the_same_money():
    result = study(GATE)
    together, alone = choose_board(result).parts[0], rank_each(result).parts[0]
    assert alone.chosen.name == together.chosen.name
    assert set(alone.standing.order) == set(together.standing.order)
    for name in alone.standing.order:
        assert alone.standing.more[name] - alone.standing.more[together.standing.order[0]] == pytest.approx(
            together.standing.more[name], abs=1e-9
        )


@pytest.mark.parametrize(
    ("tables", "outline", "limit"),
    [
        ({}, "SON-6-0.9x1.0", "least-pitch"),
        ({"line": {"print": "as lands"}}, "SON-6-0.9x1.0", "foil"),
        ({"want": {"max_height": "1.0 mm"}}, "SOT-23-5", "height"),
        ({"want": {"max_area": 5.0}}, "SOT-23-5", "area"),
        ({"want": {"least_gap": "0.3 mm"}}, "SC-70-5", "land-gap"),
        ({"want": {"hidden_joints": "never"}}, "SON-5-0.8x0.8", "hidden-joints"),
        ({"line": {"inspection": ["optical"]}}, "WLP-5-0.5", "hidden-joints"),
    ],
)
def test_hard_limits_reject_by_name(tables, outline, limit):
    assert limit in rejected(study(GATE, **tables), outline)


def test_drilled_parts_can_be_unwanted():
    assert "drilled" in rejected(study(QUAD, want={"drilled": False}), "DIP-14")
    assert "drilled" not in rejected(study(QUAD), "DIP-14")


def test_supply_is_a_limit_that_can_be_lifted():
    bipolar = {**OPEN, "family": "F"}
    assert "supply" in rejected(study(bipolar), "TSSOP-14")
    assert "supply" not in rejected(study(bipolar, want={"supply": "any"}), "TSSOP-14")
    named = {**bipolar, "options": [{"outline": "TSSOP-14", "price": 0.2}]}
    assert "supply" not in rejected(study(named), "TSSOP-14")


def test_a_step_is_a_charge_where_steps_are_allowed():
    # As large as its lands the part asks for a step; the design prints it on the board's foil.
    line = {"preset": "fine", "foil": "100 um", "technology": "laser-cut", "powder": "T4"}
    part = GATE | {"options": [{"outline": "SON-6-0.9x1.0", "price": 0.1}]}
    designed = next(o for o in study(part, line=line | DESIGNED).parts[0].options if o.name == "SON-6-0.9x1.0")
    assert designed.geometry.demand.kind == "none"
    result = study(part, line={**line, "print": "as lands"})
    option = next(o for o in result.parts[0].options if o.name == "SON-6-0.9x1.0")
    assert option.geometry.demand.kind == "step-down zone"
    assert "foil" not in {r.limit for r in option.rejections}


def test_a_locked_part_keeps_its_package():
    part = study({**GATE, "locked": True}).parts[0]
    assert part.chosen is part.present
    assert "locked" in part.says


def test_nothing_fits_says_what_comes_nearest():
    result = study(GATE, want={"max_height": "0.1 mm"})
    assert result.parts[0].chosen is None
    assert "comes nearest" in result.parts[0].says
    assert Note(key=NoteKey.NOTHING_FITS, names=("U1",)) in result.notes


def test_what_comes_nearest_can_be_bought_and_misses_by_least():
    """At 0.6 mm of height no quad is on offer; the lowest one that is on offer is told, not one that nobody sells."""
    part = study(
        {"refs": ["U1"], "number": "00", "family": "HC", "terminals": 14}, want={"max_height": "0.6 mm"}
    ).parts[0]
    offered = [o for o in part.options if LimitKey.SUPPLY not in {why.limit for why in o.rejections}]
    lowest = min(offered, key=lambda option: option.geometry.outline.height_mm.max)
    assert f"{lowest.name} comes nearest" in part.says
    assert min(one.geometry.outline.height_mm.max for one in part.options) < lowest.geometry.outline.height_mm.max


def test_what_would_fit_but_was_not_seen_on_offer_is_told_too():
    """The 0.9 × 1.0 mm body is 0.35 mm low and sold in this family (common practice, no source); the list lacks it."""
    gate = {"refs": ["U1"], "number": "1G02", "family": "AUP", "terminals": 5}
    low = {"max_height": "0.35 mm", "hidden_joints": "any"}
    assert (
        "SON-6-0.9x1.0 would fit, if a maker offers it" in study(gate, want=low, line={"preset": "fine"}).parts[0].says
    )
    assert "would fit" not in study(gate, want={"max_height": "0.1 mm"}).parts[0].says


def test_prices_decide_and_missing_ones_are_guessed_with_a_band():
    options = [{"outline": "SC-70-5", "price": 9.0}, {"outline": "SOT-5x3-5"}]
    part = study({**GATE, "price": 0.05, "options": options}).parts[0]
    assert next(option for option in part.options if option.name == "SC-70-5").cost.total > 9
    guessed = next(option for option in part.options if option.name == "SOT-5x3-5")
    assert guessed.price is None
    assert guessed.priced.low < 0.05 < guessed.priced.high
    assert guessed.priced.against == "SOT-23-5"  # the present price, and the nearest known ratio
    assert NoteKey.PRICES_GUESSED in {note.key for note in part.notes}


def test_price_breaks_follow_the_pieces_bought():
    options = [{"outline": "SC-70-5", "prices": {"1": 0.2, "1000": 0.1}}]
    prices = []
    for run in (10, 499, 500):  # two places: 20, 998 and 1000 pieces
        part = study({**GATE, "options": options}, costs={"run": run}).parts[0]
        prices.append(next(o.price for o in part.options if o.name == "SC-70-5"))
    assert prices == [0.2, 0.2, 0.1]


def test_totals_count_every_place_and_shared_charges_once():
    result = study(GATE, QUAD)
    by_hand = sum(p.present.area_mm2 * p.count for p in result.parts)
    assert result.before.area_mm2 == pytest.approx(by_hand)
    assert result.before.parts == 3
    assert result.before.holes == 14
    hidden = [{"outline": "SON-5-0.8x0.8"}]
    one, two = (
        study(
            *(
                {**GATE, "refs": [f"U{n}"], "package": "SON-5-0.8x0.8", "options": hidden, "price": 0}
                for n in range(count)
            ),
        ).before.cost
        for count in (1, 2)
    )
    assert two == pytest.approx(2 * one)  # what the board shares is no part's own


def test_expected_rework_is_charged_by_where_it_shows():
    small = study({**GATE, "package": "SON-5-0.8x0.8"}).parts[0].present
    lines = {item.line: item.value for item in small.cost.items}
    assert 0 < lines[Line.REWORK_HIDDEN] < 25 * small.figures["defects"].value  # what escapes is not mended
    assert lines[Line.REWORK_HIDDEN] > lines.get(Line.REWORK, 0.0)
    leaded = {item.line for item in study(QUAD | {"package": "TSSOP-14"}).parts[0].present.cost.items}
    assert Line.REWORK in leaded
    assert Line.REWORK_HIDDEN not in leaded


def test_totals_tell_how_many_boards_are_good_at_first_pass():
    before = study(GATE | {"package": "SON-5-0.8x0.8"}).before
    assert before.defects > before.hidden_defects * 0.999 > 0
    assert 1 - before.defects < before.first_pass < 1
    assert before.dpmo == pytest.approx(1e6 * before.defects / (2 * 2 + 2 * 5))


def test_own_rates_and_scatter_reach_the_figures():
    rates = [{"family": "gull-wing dual", "bridge": 50, "open": 20}]
    stated = study(ALONE, line={"rates": rates}).parts[0].present.figures
    assert stated["bridging"].value == pytest.approx(50e-6 * 5)
    assert stated["bridging"].low == stated["bridging"].high
    assert "your own line" in stated["open"].trail[-2].says
    # On one and the same print, paste that slumps further bridges more.
    free, wide = (
        study(ALONE, line={"print": "as lands", "scatter": own}).parts[0].present.figures["bridging"]
        for own in ({}, {"slump_share": 0.9})
    )
    assert wide.value > 10 * free.value > 0
    assert wide.high > free.high
    drilled = study(QUAD_ALONE).parts[0].present.figures
    assert drilled["defects"].value is None
    assert "line.rates" in drilled["defects"].why


def test_a_designed_print_answers_stated_scatter_at_a_price():
    # The openings are made for the stated slump: paste is kept apart, and what that takes away the joints lack.
    free, wide = (study(ALONE, line=DESIGNED | {"scatter": own}).parts[0].present for own in ({}, {"slump_share": 0.9}))
    widths = [option.geometry.printed.apertures[0].openings[0].shape.width_mm for option in (free, wide)]
    assert widths[1] < widths[0]
    assert wide.figures["open"].value > free.figures["open"].value
    assert sum(wide.figures[name].value for name in ("bridging", "open")) > sum(
        free.figures[name].value for name in ("bridging", "open")
    )


@pytest.mark.parametrize(
    "line",
    [
        {"scatter": {"slump": 1}},
        {"scatter": {"lead_film": "-3 um"}},
        {"rates": [{"family": "x", "bridge": 1, "open": 1}]},
    ],
)
def test_terms_and_rates_that_make_no_sense_are_refused_by_name(line):
    with pytest.raises(LandwiseError, match=r"line"):
        study(GATE, line=line)


def test_parts_without_a_known_package_are_left_out_of_totals_and_said():
    result = study(GATE, {"refs": ["U9"], "terminals": 14, "options": [{"outline": "TSSOP-14"}]})
    assert result.before.parts == 2
    assert Note(key=NoteKey.PRESENT_UNKNOWN, names=("U9",)) in result.notes


def test_probe_access_adds_the_area_of_test_lands():
    plain, probed = (study(ALONE, want={"probe_access": wanted}).parts[0].present.area_mm2 for wanted in (False, True))
    assert probed - plain == pytest.approx(5 * 1.905**2)


def test_wishing_terminals_hidden_turns_the_criterion_round():
    seen = study(ALONE).parts[0].present.figures["reach"].value
    hidden = study(ALONE, want={"terminals": "hidden"}).parts[0].present.figures["reach"].value
    assert seen + hidden == pytest.approx(1)


def test_x_ray_is_not_charged_where_the_board_needs_it_anyway():
    # A hidden part that must stay: the board looks at a sample for it, or already does for another part.
    part = {**GATE, "options": [{"outline": "SON-5-0.8x0.8", "price": 0.1}], "package": "SON-5-0.8x0.8"}
    charged, free = (
        choose_board(study(part, board={"xray_anyway": anyway}, line=ONE_FOIL | DESIGNED)) for anyway in (False, True)
    )
    rates = {name: rate.value for name, rate in charged.rates.items()}
    sample = rates["xray"] * (0.01 + 5 * 0.99 / 1000) + rates["xray_setup"] / 1000
    assert charged.choice.cost - free.choice.cost == pytest.approx(sample)


def test_every_figure_carries_a_verdict_a_reason_and_known_sources():
    from landwise.evidence import all_sources

    for part in study(GATE, QUAD).parts:
        for option in part.options:
            for figure in option.figures.values():
                assert figure.verdict in ("holds", "marginal", "fails", "not known")
                assert figure.why
                assert {key for key in figure.sources if key not in all_sources()} == set()


def test_result_follows_its_schema_and_reads_back():
    result = study(GATE, QUAD)
    data = json.loads(result_text(result))
    jsonschema.validate(data, result_schema())
    again = read_result(result_text(result), file="result.json")
    assert [p.chosen for p in again.parts] == [p.chosen.name for p in result.parts]
    assert result_data(result)["sources"]


def test_options_table_has_a_row_an_option():
    result = study(GATE, QUAD)
    rows = options_csv(result).splitlines()
    assert len(rows) == 1 + sum(len(p.options) for p in result.parts)
    assert rows[0].startswith("refs,function,rank,outline")


def test_shipped_schemas_are_fresh():
    from importlib import resources

    folder = resources.files("landwise").joinpath("schemas")
    assert json.loads(folder.joinpath("result.schema.json").read_text()) == result_schema()
    assert json.loads(folder.joinpath("landwise.schema.json").read_text()) == schema()


def test_every_study_default_has_a_reason():
    assert all(item.reason and item.says for item in defaults())


def test_the_page_loads_nothing_from_outside_and_escapes_what_users_wrote():
    from landwise.sheets.cards import card_of
    from landwise.sheets.report import annex_html, html_text

    nasty = {**GATE, "function": '<script>alert("x")</script>', "guesses": ["<b>bold</b>"]}
    result = study(nasty, board={"name": "<i>board</i>"})
    cards = [card_of(part, result) for part in result.parts]
    for page in (html_text(result, cards), annex_html(result, cards)):
        assert "<script" not in page
        assert "<b>bold" not in page
        assert "<i>board" not in page
        # The two pages lead to each other, and nowhere else.
        assert re.findall(r'(?:src|href)="(?!#|annex.html|report.html)[^"]*"', page) == []
        assert re.findall(r"url\((?!data:|#|&)[^)]*\)", page) == []
        ids = re.findall(r' id="([^"]+)"', page)
        assert len(ids) == len(set(ids))


def test_the_pdf_has_a_page_for_each_card_at_its_own_size():
    import io

    from pypdf import PdfReader

    from landwise.sheets.cards import card_of
    from landwise.sheets.pdf import svg_size_mm
    from landwise.sheets.report import annex_pdf, pdf_bytes

    result = study(GATE, QUAD)
    cards = [card_of(part, result) for part in result.parts]
    made = (pdf_bytes(result, cards), annex_pdf(result, cards))  # a card stands once, in the one or the other
    pages = [page for data in made for page in PdfReader(io.BytesIO(data)).pages]
    sizes = [(round(float(p.mediabox.width) / 72 * 25.4), round(float(p.mediabox.height) / 72 * 25.4)) for p in pages]
    for card in cards:
        width, height = (round(side) for side in svg_size_mm(card))
        assert any(page[0] == width and page[1] >= height for page in sizes)  # as wide as drawn: not scaled
    assert pdf_bytes(result, cards) == made[0]


def test_paste_in_holes_follows_the_boards_thickness():
    part = {
        "refs": ["U1"],
        "function": "hex inverter",
        "terminals": 14,
        "family": "HC",
        "package": "DIP-14",
        "options": [{"outline": "DIP-14", "price": 0.1}],
    }
    fills = {}
    for thickness in ("0.8 mm", "1.6 mm"):
        data = {"board": {"thickness": thickness}, "part": [part]}
        option = run_study(study_from(data)).parts[0].present
        fills[thickness] = (option.geometry.board_mm, option.geometry.mounted.drilled)
    assert [board for board, _ in fills.values()] == [0.8, 1.6]
    assert fills["0.8 mm"][1] != fills["1.6 mm"][1]


def test_a_board_with_no_fitted_part_is_reported_part_by_part():
    part = {
        "refs": ["U1"],
        "number": "74HC00",
        "function": "quad NAND",
        "terminals": 14,
        "package": "SO-14",
        "fitted": False,
        "options": QUAD["options"],
    }
    result = choose_board(study(part))
    assert result.choice is None
    assert result.notes[0].key == NoteKey.NOTHING_TO_CHOOSE
    assert result.parts[0].options


def test_a_wish_for_hidden_terminals_that_nothing_left_meets_is_said_with_what_would():
    """A quad flat body's lands stand out past its edge, where a needle reaches them; a grid of balls hides them."""
    octal = {"refs": ["U1"], "terminals": 20, "options": [{"outline": name} for name in ("TSSOP-20", "QFN-20-3.5x4.5")]}
    want = {"terminals": "hidden", "hidden_joints": "any"}
    unmet = asked(choose_board(study(octal, want=want, line=DESIGNED)))[0]
    assert unmet.startswith("terminals wanted hidden: U1 in ")
    assert unmet.endswith(" does not meet it, nor does any other that can be taken")
    octal["options"].append({"outline": "WLP-20-0.5", "price": 2.0})
    out = asked(choose_board(study(octal, want={**want, "hidden_joints": "never"}, line=DESIGNED)))[0]
    assert out.endswith("nor does any other that can be taken: WLP-20-0.5 would (see why left out)")
    met = asked(choose_board(study(octal, want=want, line=DESIGNED)))[0]
    assert "nor does" not in met
    assert "WLP-20-0.5 meets it for " in met
