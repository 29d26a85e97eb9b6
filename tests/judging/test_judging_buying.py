"""What may be bought, and what that does to a choice: supply, offers, makers, drop-in, prices at the pieces bought."""

from __future__ import annotations

from importlib import resources

import pytest

from landwise.costs.loads import Line
from landwise.costs.prices import Price
from landwise.errors import InputError
from landwise.judging.bench import Bench
from landwise.judging.buying import asked_of, pieces_of, purchase_of, supply_says
from landwise.judging.dropin import choice_worth, drop_in, serves
from landwise.judging.notes import NoteKey
from landwise.judging.study import run_study
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.results.notewords import note_says
from landwise.results.rowmarks import supply_marks
from landwise.study.file import study_from

GATE = {"refs": ["U1", "U2"], "number": "1G08", "family": "AHC", "terminals": 5, "package": "SOT-23-5"}
QUAD = {"refs": ["U3"], "number": "00", "family": "HC", "terminals": 14, "package": "SO-14"}


LINE = {"print": "as lands"}  # what may be bought hangs on no design of its print


def study(*parts, **tables):
    return run_study(study_from({"part": list(parts) or [GATE], "line": LINE, **tables}))


def option(result, name, part=0):
    return next(one for one in result.parts[part].options if one.name == name)


def limits(result, name, part=0):
    return {why.limit for why in option(result, name, part).rejections}


def offer(code, maker="a", price=0.05, **more):
    return {"order_code": code, "maker": maker, "price": price, **more}


# Supply


def test_packages_not_seen_are_out_with_the_reason_and_the_way_to_allow_them():
    result = study()
    out = option(result, "SON-5-0.8x0.8")
    says = next(why.says for why in out.rejections if why.limit == "supply")
    assert "not seen" in says
    assert "[[offer]]" in says
    assert "nobody" not in says
    note = next(note for note in result.parts[0].notes if note.key == NoteKey.NOT_SEEN)
    assert "does not mean that nobody makes it" in note_says(note)
    assert "supply" not in limits(study(GATE, want={"supply": "any"}), "SON-5-0.8x0.8")
    assert study(GATE, want={"supply": "usual"}).content.want.supply == "likely"  # an older study's word


def test_the_choice_is_stated_seen_or_likely_for_every_family():
    for number, family in (
        ("1G00", "HCT"),
        ("1G04", "AUP"),
        ("08", "VHC"),
        ("00", "LVC"),
        ("16245", "ALVC"),
        ("00", ""),
    ):
        little = number.startswith("1G")
        terminals = 48 if number == "16245" else 5 if little else 14  # a count once judged is soon judged again
        part = {"refs": ["U1"], "number": number, "family": family, "terminals": terminals}
        result = study(part, want={"hidden_joints": "any"})
        assert result.parts[0].chosen.supply.may_be_planned, (number, family)


def test_only_seen_ones_if_wanted():
    result = study({**GATE, "number": "1G77"}, want={"supply": "seen"})
    assert "supply" in limits(result, "SC-70-5")
    assert result.parts[0].chosen.name == "SOT-23-5"  # in use, so stated


def test_wide_functions_are_judged_as_wide_ones():
    part = study_from({"part": [{"refs": ["U1"], "number": "32T245", "family": "AVC", "terminals": 96}]}).content.part[
        0
    ]
    assert not asked_of(part, 96).little


def test_a_users_own_outline_is_not_refused_for_supply(tmp_path):
    folder = resources.files("landwise.outlines").joinpath("catalogue_data")
    tables = folder.joinpath("shrink_small_outline.toml").read_text(encoding="utf-8").split("[[outline]]")
    table = next(table for table in tables if 'name = "TSSOP-14"' in table)
    mine = "".join(line for line in table.splitlines(True) if not line.startswith("also"))
    (tmp_path / "mine.toml").write_text("[[outline]]" + mine.replace('"TSSOP-14"', '"MY-14"'))
    part = {**QUAD, "options": [{"outline": "MY-14", "price": 0.1}]}
    result = run_study(study_from({"outlines": ["mine.toml"], "part": [part], "line": LINE}, folder=tmp_path))
    assert option(result, "MY-14").supply.state == "stated"
    assert "supply" not in limits(result, "MY-14")
    proposed = run_study(study_from({"outlines": ["mine.toml"], "part": [QUAD], "line": LINE}, folder=tmp_path))
    assert option(proposed, "MY-14").supply.state == "stated"


# Offers


def test_an_offer_outranks_the_table():
    result = study(GATE, offer=[offer("X1", outline="SON-5-0.8x0.8", number="1G08", family="AHC")])
    got = option(result, "SON-5-0.8x0.8")
    assert got.supply.state == "stated"
    assert "supply" not in limits(result, "SON-5-0.8x0.8")
    assert got.price == 0.05
    assert got.priced.basis == "offer"


def test_order_codes_alone_are_enough():
    result = study(QUAD, offer=[{"order_code": "SN74HC00PWR", "maker": "a", "prices": {"1": 0.2, "1000": 0.07}}])
    assert option(result, "TSSOP-14").price == 0.07
    with pytest.raises(InputError, match="no logic number"):
        study(QUAD, offer=[offer("no code at all")])


def test_breaks_count_pieces_of_the_order_code_in_all_parts():
    other = {**GATE, "refs": ["U8", "U9", "U10"]}
    content = study_from({"part": [GATE, other, QUAD], "costs": {"run": 100}}).content
    assert pieces_of(content, content.part[0]) == 500
    assert pieces_of(content, content.part[2]) == 100
    offers = [offer("X1", outline="SC-70-5", number="1G08", family="AHC", price=None, prices={"1": 0.2, "500": 0.1})]
    alone, together = (
        study(GATE, costs={"run": 100}, offer=offers),
        study(GATE, other, costs={"run": 100}, offer=offers),
    )
    assert option(alone, "SC-70-5").price == pytest.approx(0.2)
    assert option(together, "SC-70-5").price == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("more", "want", "limit"),
    [
        ({"lifecycle": "obsolete"}, {}, "lifecycle"),
        ({"last_buy": "2020-01-31"}, {}, "lifecycle"),
        ({"grade": ""}, {"grade": "automotive"}, "grade"),
        ({"reel": 10000}, {"most_reel": 3000}, "reel"),
        ({"lead_weeks": 40}, {"most_lead_weeks": 20}, "lead-time"),
        ({"stock": 10}, {"in_stock": True}, "stock"),
    ],
)
def test_limits_on_what_may_be_bought(more, want, limit):
    import datetime

    if "last_buy" in more:
        more = {"last_buy": datetime.date.fromisoformat(more["last_buy"])}
    bad = offer("X1", outline="SC-70-5", number="1G08", family="AHC", **more)
    assert limit in limits(study(GATE, offer=[bad], want=want), "SC-70-5")
    good = offer("X2", outline="SC-70-5", number="1G08", family="AHC", grade="automotive", stock=10**6)
    assert limit not in limits(study(GATE, offer=[bad, good], want=want), "SC-70-5")


def test_makers_are_counted_marked_and_a_limit():
    offers = [
        offer("X1", "a", outline="SC-70-5", number="1G08", family="AHC"),
        offer("X2", "b", outline="SOT-5x3-5", number="1G08", family="AHC"),
        offer("X3", "c", outline="SOT-5x3-5", number="1G08", family="AHC"),
    ]
    result = study(GATE, offer=offers)
    assert "one maker" in supply_marks(option(result, "SC-70-5"))
    assert option(result, "SOT-5x3-5").makers == 2
    strict = study(GATE, offer=offers, want={"makers": 2})
    assert "makers" in limits(strict, "SC-70-5")
    assert "makers" not in limits(strict, "SOT-5x3-5")
    assert "makers" in limits(strict, "SOT-23-5")  # nobody in the list offers it


# Prices


def test_missing_prices_never_rank_as_equal():
    result = study()
    medians = {one.name: one.priced.median for one in result.parts[0].options}
    assert len(set(medians.values())) > len(medians) / 2
    assert NoteKey.PRICES_UNQUOTED in {note.key for note in result.parts[0].notes}
    assert option(result, "SC-70-5").cost.price_known is False
    item = next(one for one in option(result, "SC-70-5").cost.items if one.line == Line.PART)
    assert item.low < item.value < item.high


def test_the_cost_figure_says_that_a_price_is_guessed():
    figure = option(study(), "SC-70-5").figures["cost"]
    assert figure.verdict == "not known"
    assert "guessed" in figure.why


def test_prices_of_another_scale_are_warned_of():
    far = {**GATE, "options": [{"outline": "SC-70-5", "price": 9.0}, {"outline": "SOT-23-5", "price": 10.0}]}
    money = {NoteKey.PRICES_FAR_OFF, NoteKey.OTHER_MONEY}

    def warned(result):
        return {note.key for note in result.notes} & money

    assert warned(study(far)) == {NoteKey.PRICES_FAR_OFF}
    assert not warned(study(far, costs={"rate_factor": 90.0, "unit": "RUB"}))
    assert warned(study(GATE, costs={"unit": "INR"})) == {NoteKey.OTHER_MONEY}


def test_the_factor_scales_shipped_rates_and_assumed_prices_together():
    plain, scaled = study(GATE), study(GATE, costs={"rate_factor": 10.0})
    assert option(scaled, "SC-70-5").cost.total == pytest.approx(10 * option(plain, "SC-70-5").cost.total)
    stated = study(GATE, costs={"rate_factor": 10.0, "rates": {"placement": 0.3}})
    assert stated.rates["placement"].value == 0.3
    assert stated.rates["step_zone"].value == plain.rates["step_zone"].value


# Drop-in


@pytest.mark.parametrize(
    ("name", "present", "how"),
    [
        ("SC-70-5", "SOT-23-5", "same terminals"),
        ("TSSOP-14", "SO-14", "same terminals"),
        ("TSSOP-14", "SSOP-14", "same lands"),  # the 5.3 mm body's lands reach under the 4.4 mm body's feet
        ("QFN-14-2.5x3", "TSSOP-14", ""),
        ("DIP-14", "SO-14", ""),
        ("SON-6-1.45x1.0", "SOT-23-5", ""),
        ("WLP-4-0.4", "WLP-4-0.5", ""),  # a ball pulls to the middle of its land: another pitch is no fit
        ("SO-14", "SO-14", "same part"),
    ],
)
def test_drop_in(name, present, how):
    pattern = land_pattern(find(present))
    assert drop_in(find(name), find(present), pattern) == how


def test_lands_hold_their_own_terminals():
    for name in ("SO-14", "TSSOP-20", "QFN-20-2.5x4.5", "SOT-23-5", "DIP-14"):
        assert serves(land_pattern(find(name)), find(name)), name


def test_drop_in_as_a_wish():
    result = study({**QUAD, "package": "SSOP-14"}, want={"drop_in": True})
    assert "drop-in" not in limits(result, "TSSOP-14")
    assert "drop-in" in limits(result, "QFN-14-2.5x3")
    assert result.parts[0].chosen.drop_in


def test_lands_that_take_two_packages_are_said_with_their_worth():
    result = study({**QUAD, "package": "SSOP-14"})
    wide = option(result, "SSOP-14")
    assert "TSSOP-14" in wide.also_takes
    assert wide.choice_worth > 0
    assert any("also take" in mark for mark in supply_marks(wide))


def test_worth_of_a_choice_against_draws():
    import numpy as np

    one, other = Price(0.10, 0.05, 0.20, "prior"), Price(0.12, 0.05, 0.29, "prior")
    draws = np.random.default_rng(1)
    x = one.median * np.exp(one.log_sd * draws.standard_normal(400_000))
    y = other.median * np.exp(other.log_sd * draws.standard_normal(400_000))
    assert choice_worth(one, [other]) == pytest.approx(np.maximum(x - y, 0).mean(), rel=0.02)


def test_purchases_are_worked_once_for_a_part():
    content = study_from({"part": [GATE]})
    bench = Bench.of(content)
    first = purchase_of(find("SC-70-5"), content.content.part[0], 5, bench)
    assert purchase_of(find("SC-70-5"), content.content.part[0], 5, bench) == first


@pytest.mark.parametrize(
    ("words", "terminals", "numbers"),
    [("hex Schmitt inverter", 14, ("14", "19", "4584", "40106")), ("single 2-input AND gate", 5, ("1G08",))],
)
def test_a_function_in_words_is_seen_where_a_number_that_does_it_was(words, terminals, numbers):
    """The sightings of each number, asked by itself, are the answer held against."""
    part = {"refs": ["U1"], "function": words, "terminals": terminals}
    want = {"supply": "any", "hidden_joints": "any"}
    said = {one.name: one.supply for one in study(part, want=want).parts[0].options}
    seen: dict[str, int] = dict.fromkeys(said, 0)
    for number in numbers:
        for one in study({"refs": ["U1"], "number": number, "terminals": terminals}, want=want).parts[0].options:
            seen[one.name] = seen.get(one.name, 0) + (one.supply.sightings if one.supply.state == "seen" else 0)
    assert set(seen) == set(said)
    assert sum(count > 0 for count in seen.values()) >= 4
    assert {name: supply.sightings for name, supply in said.items() if supply.state == "seen"} == {
        name: count for name, count in seen.items() if count
    }
    assert all(set(supply.numbers) <= set(numbers) for supply in said.values())


def test_words_say_which_numbers_were_seen_in_which_families():
    part = {"refs": ["U1"], "function": "hex Schmitt inverter", "terminals": 14}
    result = study(part, want={"supply": "seen", "hidden_joints": "any"})
    assert "supply" not in limits(result, "QFN-14-2.5x3")
    says = supply_says(option(result, "QFN-14-2.5x3").supply, result.parts[0].part)
    assert "of hex Schmitt inverter (14) in " in says
    assert "HC" in says
