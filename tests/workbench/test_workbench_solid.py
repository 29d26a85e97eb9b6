"""The look in three dimensions: what the server sends for it, the library that is carried, and one look at it."""

from __future__ import annotations

import gzip
import hashlib
import io
import re
from importlib import resources

import numpy as np
import pytest

from landwise.workbench.app import THREE, THREE_FILES

from .browsers import CHROMIUM, MARKS

GATE = "/part?terminals=5&options=SOT-23-5%2C+SC-70-5&foils=100+um&open=SOT-23-5"
MOST_BYTES = 1_000_000
# Chromium's own rasteriser in the place of a graphics card.
WITHOUT_CARD = ["--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
FOLDER = resources.files("landwise.workbench").joinpath("static", THREE)


def in_browser(test):
    """Skipped where no browser is."""
    for mark in MARKS:
        test = mark(test)
    return test


def unpacked(name):
    return gzip.decompress(FOLDER.joinpath(f"{name}.gz").read_bytes())


def test_the_library_is_small_stands_with_its_licence_and_is_what_its_origin_says():
    origin = FOLDER.joinpath("ORIGIN.md").read_text(encoding="utf-8")
    sums = dict(reversed(line.split()) for line in re.findall(r"[0-9a-f]{64}  \S+", origin))
    for name in THREE_FILES:
        assert hashlib.sha256(unpacked(name)).hexdigest() == sums[name]
    assert "The MIT License" in FOLDER.joinpath("LICENSE").read_text(encoding="utf-8")
    assert THREE.removeprefix("three-") in origin
    own = FOLDER.joinpath("..", "solid.js").read_bytes()
    assert sum(len(one.read_bytes()) for one in FOLDER.iterdir()) + len(own) < MOST_BYTES


def test_the_library_asks_for_nothing_that_the_policy_forbids():
    for name in THREE_FILES:
        text = unpacked(name).decode()
        assert "new Function" not in text
        assert not re.search(r"\beval\(", text)
        assert set(re.findall(r'from\s*"([^"]+)"', text)) <= {"./three.core.min.js"}


def test_only_the_files_named_are_served(client):
    for name in THREE_FILES:
        answer = client.get(f"/static/{THREE}/{name}")
        assert answer.status_code == 200
        assert answer.headers["content-type"].startswith("text/javascript")
    assert client.get(f"/static/{THREE}/LICENSE").status_code == 404
    assert client.get("/static/three-0.1/three.module.min.js").status_code == 404


def test_the_solids_of_an_option_come_with_their_figures(client):
    answer = client.get(GATE.replace("/part?", "/part/solid?"))
    assert answer.status_code == 200
    data = answer.json()
    assert data["title"] == "SOT-23-5 on its lands"
    kinds = {piece["kind"] for piece in data["pieces"]}
    assert kinds == {"board", "mask", "land", "paste", "foil", "solder", "terminal", "body", "mark"}
    for piece in data["pieces"]:
        points, faces = np.reshape(piece["points"], (-1, 3)), np.reshape(piece["faces"], (-1, 3))
        assert len(piece["normals"]) == len(piece["points"])
        assert faces.max() == len(points) - 1
        assert len(piece["places"]) % 3 == 0
    solder = [piece for piece in data["pieces"] if piece["kind"] == "solder"]
    assert sum(len(piece["places"]) // 3 for piece in solder) == 5
    heel = float(re.search(r"(\d+)\u2009µm at the heel", data["says"]["reflowed"])[1])
    assert max(max(piece["points"][2::3]) for piece in solder) * 1000 == pytest.approx(heel, abs=0.6)
    assert "100\u2009µm" in data["says"]["printed"]


def test_an_option_that_is_not_in_the_row_is_refused(client):
    answer = client.get("/part/solid?terminals=5&options=SOT-23-5&open=BGA-361-0.8")
    assert answer.status_code in (404, 422)


@pytest.fixture(scope="module")
def looked(browser):
    """A browser that draws in three dimensions without a graphics card."""
    made = browser.browser_type.launch(executable_path=CHROMIUM, args=WITHOUT_CARD)
    yield made
    made.close()


def seen(page):
    """What stands on the stage, as numbers. (high, wide, 3)"""
    from PIL import Image

    picture = Image.open(io.BytesIO(page.locator(".stage").screenshot()))
    return np.asarray(picture.convert("RGB")).astype(np.int16)


def painted(page, before):
    page.wait_for_function(f"() => Number(document.querySelector('.stage').dataset.painted || 0) > {before}")
    return int(page.locator(".stage").get_attribute("data-painted"))


@in_browser
def test_the_look_opens_draws_and_turns_by_key(looked, served):
    context = looked.new_context(viewport={"width": 420, "height": 640}, base_url=served, reduced_motion="reduce")
    page = context.new_page()
    faults, asked = [], []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda said: faults.append(said.text) if said.type == "error" else None)
    page.on("request", lambda one: asked.append(one.url))
    page.goto(GATE)
    page.wait_for_selector("#result:not([aria-busy]) .solid > button")
    assert not any("three" in url or "solid" in url for url in asked)  # nothing of it comes before it is wanted
    page.click(".solid > button")
    page.wait_for_selector(".stage[data-painted]")
    count = painted(page, 0)
    first = seen(page)
    # Not blank: dark body, bright solder, the paper around them.
    assert np.ptp(first.reshape(-1, 3).sum(axis=1)) > 300
    assert first.reshape(-1, 3).std(axis=0).min() > 15
    page.focus(".stage")
    page.keyboard.press("ArrowLeft")
    painted(page, count)
    assert (np.abs(seen(page) - first).max(axis=2) > 24).mean() > 0.02
    assert "µm at the heel" in page.locator(".solid-look figcaption").inner_text()
    assert "three dimensions" in page.locator(".stage").get_attribute("aria-label")
    assert all(url.startswith(served) for url in asked)
    assert faults == []
    context.close()


@in_browser
def test_without_three_dimensions_a_sentence_stands_there(browser, served):
    page = browser.new_page(base_url=served)
    page.add_init_script("HTMLCanvasElement.prototype.getContext = () => null")
    page.goto(GATE)
    page.wait_for_selector("#result:not([aria-busy]) .solid > button")
    page.click(".solid > button")
    page.wait_for_selector("text=This browser draws nothing in three dimensions")
    page.close()
