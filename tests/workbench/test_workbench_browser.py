"""The workbench in a real browser: flows by mouse and by keyboard alone, three sizes, and an accessibility check.

Debian's Chromium, headless; skipped where it is not installed.
"""

from __future__ import annotations

import pytest

from whole import WHOLE

from .browsers import MARKS, broken_rules

pytestmark = MARKS
# Three packages on two foils: a question that is judged in a second.
GATE = (
    "/part?number=74LVC1G08&present=SOT-23-5&options=SC-70-5%3D0.03%2C+SOT-23-5%3D0.02%2C+SOT-5x3-5%3D0.025"
    "&foils=80+um%2C+100+um"
)
PAGES = {
    "empty part page": "/part",
    "row": GATE,
    "row with faults": f"{GATE}&foil=80",
    "one opened": f"{GATE}&open=SC-70-5",
    "two opened, in mil": f"{GATE}&open=SC-70-5&open=SOT-23-5&units=mil",
    "book": "/book",
    "formula worked": "/book/formulas/area-ratio?length=0.25+mm&width=0.2+mm&foil=100+um",
    "sources": "/book/sources",
    "checks": "/book/checks",
    "shelf": "/studies",
    "no such page": "/nothing",
}
# Every element of these stands in "two opened, in mil" as well; `make whole` asks axe-core about them too.
CONTAINED = {PAGES["row"], PAGES["one opened"]}


@pytest.fixture(scope="module")
def address(served):
    return served


@pytest.fixture(scope="module")
def window(browser, address):
    """One for all pages: in a window of its own each page costs a process more, and every script is read anew."""
    context = browser.new_context(viewport={"width": 1280, "height": 900}, base_url=address, reduced_motion="reduce")
    yield context
    context.close()


@pytest.fixture
def page(window, address):
    """A page of its own, with nothing remembered of the pages before."""
    made = window.new_page()
    faults: list[str] = []
    outside: list[str] = []
    made.on("pageerror", lambda error: faults.append(str(error)))
    made.on("console", lambda said: faults.append(said.text) if "Content Security" in said.text else None)
    made.on("request", lambda asked: outside.append(asked.url) if not asked.url.startswith(address) else None)
    yield made
    made.close()
    window.clear_cookies()
    assert faults == []
    assert outside == []


def ready(page):
    """Wait until no answer is awaited."""
    page.wait_for_load_state("networkidle")
    page.wait_for_selector("[aria-busy=true]", state="detached")


def drag(page, name, value):
    """Move a slider as its own events do."""
    page.locator(f".slide[data-name='{name}']").evaluate(
        "(slide, value) => { slide.value = value; slide.dispatchEvent(new Event('input', {bubbles: true}));"
        " slide.dispatchEvent(new Event('change', {bubbles: true})); }",
        str(value),
    )
    ready(page)


def test_moving_the_foil_moves_picture_verdicts_and_address(page):
    page.goto(GATE)
    ready(page)
    before = page.locator("table.row").inner_html()
    drag(page, "foil", 150)
    assert page.locator("table.row").inner_html() != before
    assert "foil=150+um" in page.url
    assert page.locator("#f-foil").input_value() == "150 um"
    moved = page.locator("#result").inner_text()
    page.reload()
    ready(page)
    assert page.locator("#result").inner_text() == moved


def test_a_place_never_asked_for_shows_its_picture_first_and_the_rest_follows(page):
    page.goto(f"{GATE}&foil=101+um")
    ready(page)
    answers = []
    page.on("response", lambda answer: answers.append(answer) if "/part/row" in answer.url else None)
    drag(page, "reduction", 22)
    kinds = ["sketch" if "sketch" in answer.json() else "whole" for answer in answers if answer.ok]
    assert kinds[-1] == "whole"
    assert "reduction=22+um" in page.url
    shown = page.locator("#result").inner_text()
    page.reload()
    ready(page)
    assert page.locator("#result").inner_text() == shown


def test_a_long_drag_ends_where_it_ended(page):
    page.goto(f"{GATE}&foil=99+um")
    ready(page)
    for place in range(2, 41, 2):
        page.locator(".slide[data-name='reduction']").evaluate(
            "(slide, value) => { slide.value = value; slide.dispatchEvent(new Event('input', {bubbles: true})); }",
            str(place),
        )
    drag(page, "reduction", 40)
    assert page.locator("#f-reduction").input_value() == "40 um"
    assert "reduction=40+um" in page.url
    told = page.locator("table.row").inner_text()
    page.reload()
    ready(page)
    assert page.locator("table.row").inner_text() == told


def test_pictures_are_asked_for_one_at_a_time_and_none_of_an_earlier_place_is_drawn_later(page):
    """Of a fast drag over slow answers: one request under way, the places between dropped, the last one drawn."""
    page.goto(f"{GATE}&foil=97+um")
    ready(page)
    # Each answer is held for a while, the first ones longest: an answer that came late would overtake.
    page.evaluate(
        """() => {
          const real = window.fetch;
          window.told = {most: 0, now: 0, asked: [], drawn: []};
          window.fetch = async (path, how) => {
            if (!String(path).includes("quick=1")) return real(path, how);
            const foil = new URLSearchParams(String(path).split("?")[1]).get("foil"), told = window.told;
            told.asked.push(foil);
            told.most = Math.max(told.most, told.now += 1);
            try {
              await new Promise((done) => setTimeout(done, Math.max(20, 150 - 60 * told.asked.length)));
              const reply = await real(path, how), answer = await reply.json();
              return { ok: reply.ok, headers: reply.headers, json: async () => { told.now -= 1; told.drawn.push(foil);
                return answer; } };
            } catch (error) { told.now -= 1; throw error; }
          };
        }"""
    )
    # All in one go, so that it hangs on no machine's speed how many places pass while the first is under way.
    page.locator(".slide[data-name='foil']").evaluate(
        """slide => { for (let place = 85; place < 146; place += 5) {
          slide.value = String(place); slide.dispatchEvent(new Event('input', {bubbles: true})); } }"""
    )
    drag(page, "foil", 150)
    told = page.evaluate("window.told")
    assert told["most"] == 1
    assert len(told["asked"]) < 8
    assert told["drawn"] == told["asked"]
    assert told["asked"][-1] == "150 um"
    assert page.locator("#f-foil").input_value() == "150 um"


def test_undo_goes_back_a_step(page):
    page.goto(GATE)
    ready(page)
    assert page.locator("#back").is_disabled()
    drag(page, "foil", 150)
    drag(page, "foil", 80)
    page.locator("#back").click()
    page.wait_for_url("**foil=150**")
    ready(page)
    assert page.locator("#f-foil").input_value() == "150 um"


def test_the_browser_never_changes_the_question(page):
    """Opening a page adds nothing to its address; a weight finer than the slider's step stays as typed."""
    page.goto(GATE)
    ready(page)
    assert "weight" not in page.url
    page.goto(f"{GATE}&weight.hold=0.035")
    ready(page)
    drag(page, "foil", 80)
    assert "weight.hold=0.035" in page.url
    assert page.url.count("weight.") == 1
    assert "--weight hold=0.035" in page.locator("pre.command").inner_text()
    drag(page, "weight.area", 1)
    assert page.locator("[id='f-weight.area']").input_value() == "1"
    assert "weight.area=1" in page.url


def test_a_fault_stands_at_its_field_and_the_row_stays(page):
    page.goto(GATE)
    ready(page)
    page.locator("#f-foil").fill("80")
    page.locator("#f-foil").press("Enter")
    ready(page)
    assert "unit" in page.locator("#e-foil").inner_text()
    assert page.locator("#f-foil").get_attribute("aria-invalid") == "true"
    assert page.locator("table.row").count() == 1
    page.locator("#f-foil").fill("3.2 mil")
    page.locator("#f-foil").press("Enter")
    ready(page)
    assert page.locator("#e-foil").inner_text() == ""
    assert "foil=3.2+mil" in page.url


def test_the_whole_flow_by_keyboard_alone(page):
    page.goto("/part")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    tab_to(page, "#f-number")
    page.keyboard.type("74LVC1G08")
    tab_to(page, "#f-present")
    page.keyboard.type("SOT-23-5")
    tab_to(page, "#f-options")
    page.keyboard.type("SC-70-5, SOT-23-5")
    page.keyboard.press("Enter")
    page.wait_for_selector("table.row")
    tab_to(page, ".slide[data-name='foil']")
    page.keyboard.press("ArrowLeft")
    page.wait_for_url("**foil=**")
    tab_to(page, "a[data-open='SOT-23-5']")
    page.keyboard.press("Enter")
    page.wait_for_selector(".opened")
    assert page.evaluate("document.activeElement.dataset.open") == "SOT-23-5"
    assert page.evaluate("document.activeElement.getAttribute('aria-expanded')") == "true"
    assert "open=SOT-23-5" in page.url
    tab_to(page, ".opened details summary")
    page.keyboard.press("Enter")
    assert page.locator(".opened details[open]").count() == 1


def tab_to(page, selector):
    """Press Tab until the element has the focus; each stop must be one that can be seen."""
    for _ in range(150):
        page.keyboard.press("Tab")
        if page.evaluate("wanted => document.activeElement.matches(wanted)", selector):
            return
    raise AssertionError(f"Tab never reaches {selector}")


def test_opening_brings_into_view_and_the_skip_link_does_not_load_the_page_again(page):
    page.set_viewport_size({"width": 1280, "height": 500})
    page.goto(GATE)
    ready(page)
    page.evaluate("window.same = true")
    page.locator("a[data-open='SC-70-5']").click()
    page.wait_for_selector(".opened.n1")
    ready(page)
    box = page.locator(".opened section").bounding_box()
    assert -1 <= box["y"] < 400
    page.locator(".skip").focus()
    page.keyboard.press("Enter")
    page.go_back()
    ready(page)
    assert page.evaluate("window.same === true")


def test_two_stand_side_by_side_and_close_again(page):
    page.set_viewport_size({"width": 1920, "height": 1080})
    page.goto(GATE)
    ready(page)
    page.locator("a[data-open='SC-70-5']").click()
    page.wait_for_selector(".opened.n1")
    page.locator("a[data-open='SOT-23-5']").click()
    page.wait_for_selector(".opened.n2")
    left, right = (box.bounding_box() for box in page.locator(".opened > section").all())
    assert left["y"] == right["y"]
    assert right["x"] > left["x"] + left["width"]
    page.locator(".opened .close").first.click()
    page.wait_for_selector(".opened.n1")


def test_units_switch_and_light_and_dark_stay(page):
    page.goto(GATE)
    ready(page)
    page.locator("a[data-units]", has_text="mil").click()
    ready(page)
    assert "units=mil" in page.url
    assert "mil of the part" in page.locator("table.row").inner_text()
    page.locator("#look").click()
    page.goto("/book")
    assert page.locator("html").get_attribute("data-look") == "dark"


def test_the_card_is_downloaded(page):
    page.goto(GATE)
    ready(page)
    with page.expect_download() as caught:
        page.locator("a[href*='card.pdf']").click()
    assert caught.value.suggested_filename == "card.pdf"


def test_a_question_is_kept_and_undone_from_the_shelf(page):
    page.goto(GATE)
    ready(page)
    page.get_by_role("button", name="Keep as a study").click()
    page.wait_for_url("**/studies/*")
    page.get_by_role("link", name="U1").click()
    page.wait_for_selector("table.row")
    assert "study=" in page.url
    drag(page, "foil", 80)
    assert "study=" in page.url
    assert "foil=80" in page.url


def test_the_book_works_a_formula_and_narrows_its_list(page):
    page.goto("/book")
    page.locator("#find").fill("area ratio")
    shown = page.locator("#formulas li:visible")
    assert 0 < shown.count() < page.locator("#formulas li").count()
    page.goto("/book/formulas/area-ratio")
    page.locator("#f-length").fill("0.25 mm")
    page.locator("#f-width").fill("0.2 mm")
    page.locator("#f-foil").fill("100 um")
    page.locator("#f-foil").press("Enter")
    page.wait_for_url("**length=0.25**")
    assert "0.5556" in page.locator(".answer").inner_text()


def test_without_script_the_form_and_links_still_work(browser, address):
    context = browser.new_context(java_script_enabled=False, base_url=address)
    page = context.new_page()
    page.goto("/part")
    page.locator("#f-number").fill("74LVC1G08")
    page.locator("#f-options").fill("SC-70-5, SOT-23-5")
    page.locator("button[type=submit]").first.click()
    page.wait_for_selector("table.row")
    page.locator("table.row thead a").first.click()
    page.wait_for_selector(".opened")
    context.close()


@pytest.fixture(scope="module")
def looked_at(browser, address):
    """One page for all addresses that are looked at: each in a window of its own costs a second more."""
    context = browser.new_context(base_url=address, bypass_csp=True)
    yield context.new_page()
    context.close()


@pytest.mark.parametrize("path", PAGES.values(), ids=PAGES.keys())
def test_nothing_sticks_out_and_no_accessibility_rule_is_broken(looked_at, path):
    """Four sizes; in light axe-core's rules for WCAG 2 A and AA and its best practices, in dark those of colours."""
    page = looked_at
    page.emulate_media(color_scheme="light")
    page.set_viewport_size({"width": 1280, "height": 900})
    page.goto(path)
    ready(page)
    for wide, high in ((1920, 1080), (820, 1180), (390, 844), (1280, 900)):
        page.set_viewport_size({"width": wide, "height": high})
        assert page.evaluate("document.documentElement.scrollWidth") <= wide
    page.wait_for_timeout(100)  # the row is asked for anew in its new room
    ready(page)
    page.locator("details").evaluate_all("boxes => { for (const box of boxes) box.open = true; }")
    if WHOLE or path not in CONTAINED:
        assert broken_rules(page, dark=lambda: page.emulate_media(color_scheme="dark")) == []


def test_the_look_itself_sees_a_fault_of_the_dark_and_puts_every_row_back(browser):
    page = browser.new_page()
    rows = "".join(f"<li>row {n}</li>" for n in range(9))
    style = "[data-look=dark] body { background: #000; color: #fff } [data-look=dark] .low { color: #222 }"
    inner = f"<h1>rows</h1><ul>{rows}<li class='low'>low by night</li></ul><ol><li>in<ul>{rows}</ul></li>{rows}</ol>"
    page.set_content(
        f"<!doctype html><html lang=en><title>x</title><style>{style}</style><body><main>{inner}</main></html>"
    )
    before = page.inner_html("main")
    assert broken_rules(page) == []
    (told,) = broken_rules(page, dark=lambda: page.evaluate("document.documentElement.dataset.look = 'dark'"))
    assert "low by night" in told
    assert page.inner_html("main") == before
    page.close()
