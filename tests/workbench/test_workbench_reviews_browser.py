"""The review page in a browser: an invented board dropped, judged, filtered, picked from, kept in the address."""

from __future__ import annotations

import pytest

from .browsers import MARKS, broken_rules
from .invented import board, packed

pytestmark = MARKS


@pytest.fixture(scope="module")
def page(served, browser, tmp_path_factory):
    source = tmp_path_factory.mktemp("board") / "invented.zip"
    source.write_bytes(packed(board()))
    made = browser.new_page(viewport={"width": 1280, "height": 900})
    faults = []
    made.on("pageerror", lambda error: faults.append(str(error)))
    made.on("console", lambda told: faults.append(told.text) if told.type == "error" else None)
    made.goto(f"{served}/reviews")
    made.set_input_files("#file", str(source))
    made.click("text=Review it")
    made.wait_for_selector("[data-ready]")
    yield made
    assert faults == []
    made.close()


def drawn(page):
    return int(page.get_attribute("canvas", "data-drawn"))


def test_the_board_is_drawn_and_its_figures_are_told(page):
    assert drawn(page) >= 1
    told = page.inner_text("[data-part=says]")
    assert "top" in told
    assert "least area ratio" in told
    assert page.locator("[data-part=rows] tr").count() > 10
    ink = page.evaluate("""() => {
        const c = document.querySelector('canvas'), d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;
        const seen = new Set();
        for (let k = 0; k < d.length; k += 4) seen.add((d[k] << 16) | (d[k + 1] << 8) | d[k + 2]);
        return seen.size;
    }""")
    assert ink > 3


def test_a_foil_and_a_filter_move_the_picture_and_the_address(page):
    before = drawn(page)
    page.focus("#foil")
    page.keyboard.press("End")
    page.wait_for_function("() => location.search.includes('foil=150')")
    assert drawn(page) > before
    assert "150 µm" in page.inner_text("[data-part=says]")
    page.fill("#least", "1 mm")
    page.wait_for_function("() => document.querySelector('[data-part=count]').textContent.startsWith('1 of')")
    assert "least=1+mm" in page.url
    page.fill("#least", "wide")
    assert "a length such as" in page.inner_text("#least-error")
    assert page.get_attribute("#least", "aria-invalid") == "true"
    page.fill("#least", "")


def test_an_opening_is_picked_by_keyboard_and_by_pointer_and_survives_a_reload(page):
    page.focus("canvas")
    page.keyboard.press("n")
    page.wait_for_function("() => location.search.includes('opening=')")
    first = page.inner_text("[data-part=figures] h3")
    page.reload()
    page.wait_for_selector("[data-ready]")
    assert page.inner_text("[data-part=figures] h3") == first
    assert "foil=150" in page.url
    page.keyboard.press("Tab")
    page.focus("canvas")
    page.keyboard.press("0")
    box = page.locator("canvas").bounding_box()
    page.mouse.click(box["x"] + 4, box["y"] + box["height"] - 60)
    assert "Click an opening" in page.inner_text("[data-part=figures]")


def test_moving_and_zooming_draw_anew(page):
    before = drawn(page)
    page.focus("canvas")
    for key in ("ArrowLeft", "ArrowUp", "+", "-"):
        page.keyboard.press(key)
    box = page.locator("canvas").bounding_box()
    page.mouse.move(box["x"] + 200, box["y"] + 200)
    page.mouse.wheel(0, -300)
    page.mouse.down()
    page.mouse.move(box["x"] + 260, box["y"] + 220, steps=4)
    page.mouse.up()
    page.wait_for_function(f"() => Number(document.querySelector('canvas').dataset.drawn) > {before}")


def test_the_page_passes_the_accessibility_check(page):
    assert broken_rules(page) == []


@pytest.mark.parametrize("width", [820, 1280, 1920])
def test_nothing_runs_out_of_the_page(page, width):
    page.set_viewport_size({"width": width, "height": 900})
    assert page.evaluate("() => document.documentElement.scrollWidth <= window.innerWidth")
