"""The board page in a browser: a bill dropped, mended, limited, chosen for; a point opened; nothing lost on reload."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import pytest

from landwise.judging.results import BoardTotals
from landwise.quantities import significant
from landwise.sheets.boardpage import MOST_OTHERS
from landwise.sheets.reportdata import totals_rows
from landwise.workbench.boardviews import runs_of

from .browsers import MARKS, broken_rules
from .test_workbench_boards_page import BILL, STUDY

pytestmark = MARKS
SIZES = ((1280, 900), (1920, 1080), (820, 1180))
WAIT_MS = 60_000


@pytest.fixture(scope="module")
def window(browser):
    """One for all pages: in a window of its own each page costs a process more, and every script is read anew."""
    context = browser.new_context(viewport={"width": 1280, "height": 900}, reduced_motion="reduce")
    yield context
    context.close()


@pytest.fixture
def page(window):
    """A page of its own, with nothing remembered of the pages before."""
    made = window.new_page()
    faults = []
    made.on("pageerror", lambda error: faults.append(str(error)))
    made.on("console", lambda told: faults.append(told.text) if told.type == "error" else None)
    made.set_default_timeout(WAIT_MS)
    yield made
    # The browser itself reports answers that refuse; a fault of the page's own is anything else.
    assert [text for text in faults if "the server responded with a status of 4" not in text] == []
    made.close()
    window.clear_cookies()


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("files")
    (folder / "bill.csv").write_bytes(BILL)
    (folder / "board.toml").write_text(STUDY)
    return folder


def sent(window, served, files):
    """The address of the study as a board of its own, sent as the form of the page does."""
    study = {"name": "board.toml", "mimeType": "application/toml", "buffer": (files / "board.toml").read_bytes()}
    answer = window.request.post(
        f"{served}/boards", multipart={"kind": "study", "study": study}, headers={"origin": served}, max_redirects=0
    )
    assert answer.status == 303
    return served + answer.headers["location"]


def brought(page, served, files):
    """A board of its own, open on the page and chosen for."""
    return opened(page, sent(page.context, served, files))


@pytest.fixture(scope="module")
def settled(window, served, files):
    """A board that no test changes, as every page finds it once it is chosen for."""
    page = window.new_page()
    page.set_default_timeout(WAIT_MS)
    page.goto(f"{served}/boards")
    page.set_input_files("#study", str(files / "board.toml"))
    page.click("text=Open it")
    over(page)
    place = page.url.split("?")[0]
    page.close()
    return place


def opened(page, place):
    page.goto(place)
    over(page)
    return place


def over(page):
    page.wait_for_selector("#result[data-over=yes][data-shows=all]")


def version(page, number):
    page.wait_for_function(
        "n => document.querySelector('[data-version]')?.textContent?.startsWith(`Version ${n}:`)", arg=number
    )


def test_a_bill_is_dropped_mended_and_chosen_for(page, served):
    page.goto(f"{served}/boards")
    page.evaluate(
        """text => { const held = new DataTransfer(); held.items.add(new File([text], "bill.csv"));
        window.dispatchEvent(new DragEvent("drop", { dataTransfer: held, cancelable: true })); }""",
        BILL.decode(),
    )
    page.click("text=Read it")
    page.wait_for_url("**/parts")
    assert page.locator("table.mend tbody tr").count() == 2
    assert page.locator("section:has-text('Left aside') tbody tr").count() == 1
    # A wrong package is said beside its field and keeps no version.
    field = page.get_by_label("U3, package in use")
    assert "guess" in field.get_attribute("class")
    field.fill("SOT-99")
    field.press("Tab")
    page.wait_for_selector("td[data-field='part.1.package'] .error:not(:empty)")
    assert field.get_attribute("aria-invalid") == "true"
    field.fill("SO-16")
    field.press("Enter")
    version(page, 2)
    assert field.get_attribute("aria-invalid") is None
    assert "guess" not in (field.get_attribute("class") or "")
    page.get_by_label("U1, keep its package").check()
    version(page, 3)
    page.get_by_label("U1, offered in").fill("SOT-23-5 = 0.03, SC-70-5 = 0.031")
    page.get_by_label("U3, offered in").fill("SO-16 = 0.07, TSSOP-16 = 0.075 / 1000: 0.06")
    page.get_by_label("U3, offered in").press("Tab")
    version(page, 5)
    page.reload()
    assert page.get_by_label("U3, offered in").input_value() == "SO-16 = 0.07, TSSOP-16 = 0.075 / 1000: 0.06"
    assert page.get_by_label("U1, keep its package").is_checked()
    page.click("text=Choose for this board")
    over(page)
    assert page.locator("table.parts tbody tr").count() == 2
    assert "kept" in page.locator("table.parts tbody tr").first.text_content()


def test_a_limit_moves_the_choice_and_undo_takes_it_back(page, served, files):
    brought(page, served, files)
    before = page.locator("table.parts").text_content()
    page.click("summary:has-text('Limits of each part')")
    page.fill("[id='f-want.max_height']", "1.2 mm")
    page.press("[id='f-want.max_height']", "Enter")
    version(page, 2)
    over(page)
    after = page.locator("table.parts").text_content()
    assert "SO-16" in before
    assert after != before
    page.reload()
    over(page)
    assert page.locator("table.parts").text_content() == after
    page.click("text=Undo")
    version(page, 1)
    over(page)
    assert page.locator("table.parts").text_content() == before


def test_weights_move_by_the_keyboard(page, served, files):
    brought(page, served, files)
    slide = page.locator(".slide[data-for='f-want.weights.area']")
    slide.focus()
    slide.press("ArrowRight")
    slide.press("Tab")
    version(page, 2)
    assert page.locator("[id='f-want.weights.area']").input_value() == "0.01"
    over(page)


def test_a_wrong_limit_is_said_beside_its_field(page, served, files):
    brought(page, served, files)
    page.fill("[id='f-want.board_limits.area']", "large")
    page.press("[id='f-want.board_limits.area']", "Enter")
    page.wait_for_selector(
        "[data-field='want.limits'] .error:not(:empty), [data-field='want.board_limits.area'] .error:not(:empty)"
    )
    page.fill("[id='f-want.board_limits.area']", "400")
    page.press("[id='f-want.board_limits.area']", "Enter")
    page.wait_for_selector("[data-field='want.board_limits.area'] .error", state="hidden")
    over(page)


def test_an_open_question_is_answered_where_it_is_asked(page, served, files):
    brought(page, served, files)
    page.fill("[data-asks] [name='use.environment']", "nowhere")
    page.click("[data-asks] button")
    page.wait_for_selector("[data-asks] .error:not(:empty)")
    page.fill("[data-asks] [name='use.environment']", "telecom")
    page.click("[data-asks] button")
    version(page, 2)
    over(page)
    assert page.locator("[data-asks] [name='use.environment']").count() == 0
    assert page.input_value("[id='f-use.environment']") == "telecom"


def test_a_text_longer_than_its_field_stands_in_full_while_it_is_used(page, served, files):
    page.goto(f"{sent(page.context, served, files)}/parts")
    long = "single AND gate with Schmitt-trigger inputs and an output that may be left open"
    box = page.locator("[name='part.0.function']")
    box.fill(long)
    assert page.locator(".full").inner_text() == long
    page.locator("[name='part.0.number']").focus()
    assert page.locator(".full").count() == 0
    box.hover()
    assert box.get_attribute("title") == long


def test_hours_of_a_life_are_stated_and_what_was_refused_stays_said(page, served, files):
    brought(page, served, files)
    page.click("summary:has-text('Life in service')")
    page.fill("[name='use.off']", "900 V at 25 degC")
    page.press("[name='use.off']", "Tab")
    page.wait_for_selector("[data-field='use.off'] .error:not(:empty)")
    page.select_option("[name='use.profile']", "cabin")
    version(page, 2)
    over(page)
    assert page.get_attribute("[name='use.off']", "aria-invalid") == "true"  # its text is not the study's
    page.fill("[name='use.off']", "900 h at 25 degC")
    page.press("[name='use.off']", "Tab")
    version(page, 3)
    page.wait_for_selector("[data-field='use.off'] .error:empty", state="attached")


def test_a_point_opens_by_keyboard_and_the_address_holds_it(page, settled):
    place = opened(page, settled)
    spots = page.locator(".curve a")
    assert spots.count() >= 3
    last = spots.last
    label = last.get_attribute("aria-label")
    last.focus()
    page.keyboard.press("Enter")
    page.wait_for_selector(".point-bar")
    number = label.split(":")[0].removeprefix("Point ")
    assert page.url.startswith(f"{place}?point={number}")
    assert f"Point {number} of the trade-off" in page.locator(".point-bar").text_content()
    page.reload()
    page.wait_for_selector(".point-bar")
    page.go_back()
    page.wait_for_selector(".point-bar", state="detached")


def cells(page, table):
    """Every row of a table as its cells' texts."""
    rows = page.locator(f"{table} tbody tr").evaluate_all("rows => rows.map(r => [...r.cells].map(c => c.textContent))")
    return [[cell.strip() for cell in row] for row in rows]


def test_every_figure_of_the_board_page_is_the_command_lines(page, settled):
    """The file is the command line's, byte for byte, by another test; here the page is held to the file."""
    place = opened(page, settled)
    told = page.request.get(f"{place}/files/result.json").json()
    choice, before, after = told["choice"], told["before"], told["after"]
    shown = {row[0]: row[1:] for row in cells(page, "table.totals")}
    for name, was, then in totals_rows(BoardTotals(**before), BoardTotals(**after), told["money"]):
        assert shown.pop(name[0].upper() + name[1:]) == [was, then]
    assert shown == {}
    more = {one["ref"]: (one["option"], significant(one["more"])) for one in choice["alternatives"]}
    kinds = {one["part"]: one["kind"] for one in told["answer"]["parts"]}
    rows = cells(page, "table.parts")
    assert len(rows) == len(told["parts"])
    for part, row in zip(told["parts"], rows, strict=True):
        ref, count = part["refs"][0], len(part["refs"])
        assert row[2:4] == [part["present"], choice["options"][ref]]
        areas = {o["outline"]: o["area_mm2"] * count for o in part["options"]}
        said = [f"{significant(areas[name])}\u2009mm²" for name in row[2:4]]
        assert row[4] == " → ".join(said)
        assert row[6] == (", ".join(more[ref]) if ref in more else "no other fits")
        assert row[7].split(" to ")[0] == kinds[ref]
    points = cells(page, "section[aria-labelledby=trade] table")
    assert [row[1 : 1 + len(choice["axes"])] for row in points] == [
        [significant(value) for value in one["values"]] for one in choice["points"]
    ]
    steps = cells(page, "section[aria-labelledby=steps] table")
    assert [(row[0], row[2]) for row in steps] == [
        (str(one["changes"]), significant(max(0.0, one["saved"]))) for one in choice["steps"]
    ]
    others = cells(page, "section[aria-labelledby=shared] table")
    wanted = [(one["decision"], more_says(one["more"])) for one in choice["others"]]
    assert [tuple(row[:2]) for row in others] == wanted[: len(others)]
    assert len(others) == min(len(wanted), MOST_OTHERS)
    brief = page.locator(".summary p").text_content()
    assert f"{before['area_mm2']:.0f} → {after['area_mm2']:.0f}" in brief
    assert f"{significant(before['cost'])} → {significant(after['cost'])}" in brief


def test_the_summary_stays_in_sight_and_leads_to_every_section(page, settled):
    opened(page, settled)
    links = page.locator(".summary nav a")
    for at in range(links.count()):
        link = links.nth(at)
        link.click()
        target = page.locator(link.get_attribute("href")).bounding_box()
        bar = page.locator(".summary").bounding_box()
        assert -1 <= bar["y"] < 900
        assert target["y"] >= bar["y"] + bar["height"] - 1, link.text_content()


def test_a_second_browser_is_told_and_loses_nothing(page, browser, served, files):
    place = brought(page, served, files)
    other = browser.new_page()
    other.goto(place)
    over(other)
    other.fill("[id='f-want.board_limits.area']", "400")
    other.press("[id='f-want.board_limits.area']", "Enter")
    version(other, 2)
    page.fill("[id='f-want.board_limits.area']", "300")
    page.press("[id='f-want.board_limits.area']", "Enter")
    page.wait_for_selector("[data-trouble]:not(:empty)")
    assert "changed elsewhere" in page.locator("[data-trouble]").text_content()
    assert page.input_value("[id='f-want.board_limits.area']") == "300"
    page.reload()
    assert page.input_value("[id='f-want.board_limits.area']") == "400"
    other.close()


def test_it_works_without_a_script(browser, served, files):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{served}/boards")
    page.set_input_files("#study", str(files / "board.toml"))
    page.click("text=Open it")
    page.fill("[id='f-want.board_limits.area']", "400")
    page.click("text=Choose again")
    assert "board area: open → 400" in page.locator("[data-version]").text_content()
    context.close()


def test_a_check_of_accessibility_finds_nothing(page, served, files, settled):
    """Every rule in light, and those of colours in dark: between the two nothing but colours differs."""
    places = []
    page.goto(f"{served}/boards")
    places.append(page.url)
    page.set_input_files("#bill", str(files / "bill.csv"))
    page.click("text=Read it")
    page.wait_for_url("**/parts")
    places.append(page.url)
    places += [settled, f"{settled}?point=2", f"{settled}/versions?one=1&two=1"]
    for address in places:
        page.goto(address)
        if page.locator("#result").count():
            over(page)
        page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
        # As the button for it does; that the server keeps the look is another test's.
        assert broken_rules(page, dark=lambda: page.evaluate("document.documentElement.dataset.look = 'dark'")) == []


def test_nothing_is_wider_than_the_screen(page, served, settled):
    for address in (f"{served}/boards", settled, f"{settled}/parts", f"{settled}?point=2", f"{settled}/versions"):
        page.goto(address)
        if page.locator("#result").count():
            over(page)
        for wide, high in SIZES:
            page.set_viewport_size({"width": wide, "height": high})
            page.wait_for_timeout(100)
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), (address, wide)


def test_the_downloads_come_from_the_page(page, settled):
    opened(page, settled)
    with page.expect_download() as coming:
        page.click("a.button:has-text('board.toml')")
    assert Path(coming.value.path()).read_text() == STUDY
    assert coming.value.suggested_filename == "board.toml"


def more_says(more):
    if more is None:
        return "–"
    return significant(more) if more >= 0 else f"{significant(-more)} less, within what is known"


def test_the_runs_are_the_applications_own():
    class Request:
        app = type(
            "App", (), {"state": SimpleNamespace(desk=SimpleNamespace(own=None, tidying=SimpleNamespace(asked=bool)))}
        )()

    assert runs_of(Request) is runs_of(Request)
