"""Scenarios on the board page: added, changed, taken out; side by side with the command line's own numbers."""

from __future__ import annotations

import json
import re
import tomllib

import pytest

from landwise.cli import main
from landwise.quantities import significant
from landwise.workbench.boardmend import mended, with_scenario, without_scenario
from landwise.workbench.boardscenarios import MOST_SCENARIOS, read_prices

from .browsers import MARKS
from .test_workbench_boards_page import STUDY, bring, put, settled

SCENARIOS = """
# how it may turn out
[[scenario]]
name = "as planned" # the study itself

# the big customer
[[scenario]]
name = "large order"
run = 50000

[scenario.prices.U3]
"TSSOP-16" = 0.3 # dear by then
"""
WAIT_MS = 60_000


def scenarios(text):
    return tomllib.loads(text).get("scenario", [])


def test_a_scenario_is_added_changed_and_taken_out_in_the_users_own_text():
    text, did = with_scenario(STUDY, "  short   of U3 ")
    assert did == "scenario short of U3 added"
    assert scenarios(text) == [{"name": "short of U3"}]
    assert "\n[[scenario]]\n" in text
    assert text.startswith("# a comment of mine")
    made = mended(
        text,
        {
            "scenario.0.run": "5000",
            "scenario.0.line": "fine",
            "scenario.0.rates": "placement = 0.02",
            "scenario.0.prices": "U3 SO-16 = 0.3, U3 TSSOP-16 = 0.1, U1 SC-70-5 = 0.02",
        },
    )
    assert made.errors == {}
    assert scenarios(made.text) == [
        {
            "name": "short of U3",
            "run": 5000,
            "line": "fine",
            "rates": {"placement": 0.02},
            "prices": {"U3": {"SO-16": 0.3, "TSSOP-16": 0.1}, "U1": {"SC-70-5": 0.02}},
        }
    ]
    back = mended(made.text, {"scenario.0.run": "", "scenario.0.line": "as the study", "scenario.0.prices": ""})
    assert scenarios(back.text) == [{"name": "short of U3", "rates": {"placement": 0.02}}]
    gone, did = without_scenario(back.text, "0")
    assert did == "scenario short of U3 taken out"
    assert tomllib.loads(gone) == tomllib.loads(STUDY)


def test_taking_one_out_leaves_the_others_words_where_they_stand():
    text, _ = without_scenario(STUDY + SCENARIOS, "0")
    assert scenarios(text) == [
        {"name": "large order", "run": 50000, "prices": {"U3": {"TSSOP-16": 0.3}}},
    ]
    assert '# the big customer\n[[scenario]]\nname = "large order"\nrun = 50000\n' in text
    assert '"TSSOP-16" = 0.3 # dear by then' in text


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("run", "-5", "below zero"),
        ("run", "many", "not a number"),
        ("name", "", "needs a name"),
        ("name", "as planned", "a scenario of this name"),
        ("prices", "SO-16 = 0.2", "REFERENCE PACKAGE = PRICE"),
        ("prices", "U9 SO-16 = 0.2", "no such part"),
        ("prices", "U3 SO-14 = 0.2", "does not name this option"),
        ("prices", "U3 SO-16 = -0.2", "at least 0"),
        ("line", "abroad", "no such line"),
        ("rates", "placement", "NAME = VALUE"),
        ("rates", "placemant = 0.1", "rate"),
        ("colour", "red", "no such field"),
    ],
)
def test_what_a_scenario_cannot_hold_is_said_at_its_field(field, typed, says):
    name = f"scenario.1.{field}"
    made = mended(STUDY + SCENARIOS, {name: typed})
    assert made.text == STUDY + SCENARIOS
    assert says in str(made.errors[name])


def test_so_many_scenarios_and_no_more():
    text = STUDY
    for number in range(MOST_SCENARIOS):
        text, _ = with_scenario(text, f"number {number}")
    for name, says in (("one more", "too many"), ("number 3", "of this name"), (" ", "needs a name")):
        with pytest.raises(Exception, match=says) as caught:
            with_scenario(text, name)
        assert caught.value.place == "name"


def test_prices_are_read_as_they_are_shown():
    assert read_prices("U3 SO-16 = 0.2") == {"U3": {"SO-16": 0.2}}


def test_the_page_refuses_a_name_twice_beside_its_field_and_keeps_no_version(client):
    place = bring(client, STUDY + SCENARIOS)
    tag = client.get(place).headers["etag"]
    answer = client.post(place, data={"tag": tag, "where": "choice", "do": "add-scenario", "name": "as planned"})
    assert answer.status_code == 422
    assert re.search(r'id="e-new-scenario"[^>]*>There is a scenario of this name', answer.text, re.I)
    assert client.get(place).headers["etag"] == tag


def test_an_error_of_the_run_stands_beside_the_scenario_that_caused_it(client):
    # Taken out on the page of parts, the option is missing where the scenario prices it.
    place = bring(client, STUDY + SCENARIOS)
    tag = settled(client, place)["tag"]
    answer = put(client, place, tag, **{"part.1.options": "SO-16 = 0.074, QFN-16-2.5x3.5 = 0.078"}).json()
    assert answer["errors"] == {}
    assert "does not name this option" in settled(client, place)["errors"]["scenario.1.prices"]


def test_regret_over_fewer_than_two_is_said_where_it_was_asked(client):
    place = bring(client)
    tag = settled(client, place)["tag"]
    answer = put(client, place, tag, want__choose_for="worst regret").json()
    told = answer if answer["errors"] else settled(client, place)
    assert "two or more" in told["errors"]["want.choose_for"]


# In a browser, against the command line.


@pytest.fixture
def page(browser):
    made = browser.new_page(viewport={"width": 1280, "height": 900})
    made.set_default_timeout(WAIT_MS)
    yield made
    made.close()


def over(page):
    page.wait_for_selector("#result[data-over=yes][data-shows=all]")


@pytest.mark.parametrize("_", [pytest.param("chromium", marks=MARKS)])
def test_scenarios_side_by_side_are_the_command_lines(page, served, tmp_path, _):
    (tmp_path / "board.toml").write_text(STUDY + SCENARIOS)
    page.goto(f"{served}/boards")
    page.set_input_files("#study", str(tmp_path / "board.toml"))
    page.click("text=Open it")
    over(page)
    compared(page, tmp_path / "one")
    # One more is added, changed, and the board chosen for the smallest worst regret.
    page.fill("#new-scenario", "dear placing")
    page.press("#new-scenario", "Enter")
    page.wait_for_selector("[data-field='scenario.2.rates']")
    page.fill("[id='f-scenario.2.rates']", "placement = 0.2")
    page.press("[id='f-scenario.2.rates']", "Enter")
    version(page, 3)
    page.select_option("[id='f-want.choose_for']", "worst regret")
    version(page, 4)
    over(page)
    compared(page, tmp_path / "two")
    page.click("text=Take as planned out")
    version(page, 5)
    over(page)
    heads = page.locator("table.weighed thead th").all_text_contents()
    assert heads == ["Recommended", "large order", "dear placing"]


def version(page, number):
    page.wait_for_function(
        "n => document.querySelector('[data-version]')?.textContent?.startsWith(`Version ${n}:`)", arg=number
    )


def compared(page, folder):
    """The page's table beside what `landwise study` writes for the study that the page hands out."""
    text = page.evaluate(
        "place => fetch(place).then(one => one.text())", f"{page.url.split('?')[0].split('#')[0]}/files/board.toml"
    )
    folder.mkdir()
    (folder / "board.toml").write_text(text)
    with pytest.raises(SystemExit, match="0"):
        main(["study", str(folder / "board.toml"), "-o", str(folder / "out"), "--no-drawings"])
    told = json.loads((folder / "out" / "result.json").read_text())
    weighed = told["scenarios"]
    board = weighed["robust"] if weighed["taken"] else weighed["by_cost"]
    assert told["choice"]["options"] == board
    table = page.locator("table.weighed")
    assert table.locator("thead th").all_text_contents() == ["Recommended", *(row["name"] for row in weighed["rows"])]
    shown = {
        row.locator("th").text_content(): row.locator("td").all_text_contents()
        for row in table.locator("tbody tr").all()
    }
    regrets = [row["regret"] if weighed["taken"] else row["expected"] for row in weighed["rows"]]
    assert cells(shown, "Its own best board costs")[1:] == [significant(row["own_cost"]) for row in weighed["rows"]]
    assert cells(shown, "The recommended board costs in it")[1:] == [
        significant(row["own_cost"] + more) for row, more in zip(weighed["rows"], regrets, strict=True)
    ]
    for said, more in zip(cells(shown, "Regret")[1:], regrets, strict=True):
        assert float(said) == pytest.approx(more, rel=0.006, abs=1e-8)
    worst = max(regrets)
    first = page.locator("section:has(#scenarios) > p").first.text_content()
    assert float(first.split(" at most ")[1].split()[0]) == pytest.approx(worst, rel=0.006)
    apart = [ref for ref, name in board.items() if any(row["own"][ref] != name for row in weighed["rows"])]
    assert [name for name in shown if name in board] == apart
    assert apart, "a comparison in which nothing moves shows nothing"
    for ref in apart:
        assert shown[ref] == [board[ref], *(row["own"][ref] for row in weighed["rows"])]


def cells(shown, start):
    return next(found for name, found in shown.items() if name.startswith(start))
