"""What lasts: memory stays flat over many questions, progress moves inside each step, pages outlive a restart."""

from __future__ import annotations

import gc
import itertools
import socket
import sys
import threading
import time
import zipfile
from pathlib import Path

import pytest
import uvicorn

from landwise import memory
from landwise.workbench import row
from landwise.workbench.app import make_app
from landwise.workbench.jobs import Job
from landwise.workbench.workspace import Workspace

from .browsers import MARKS
from .test_workbench_boards_page import bring, settled

GATE = {"number": "74LVC1G08", "present": "SOT-23-5", "options": "SC-70-5=0.03, SOT-23-5=0.02", "quick": "1"}
EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "logger"
BOARDS = Path(__file__).resolve().parents[2].parent / "shared" / "boards"
WAIT_MS = 60_000
SMALL = """[board]
name = "one gate"

[line]
foil = "100 um"
foils = ["100 um"]

[[part]]
refs = ["U1"]
function = "single AND gate"
terminals = 5
package = "SOT-23-5"
options = [{ outline = "SOT-23-5", price = 0.03 }, { outline = "SC-70-5", price = 0.03 }]
"""
MOST_BLOCKS = 40  # of memory that a question may leave behind: a few numbers of its foil; its picture alone is 400
KEPT = 40  # on each shelf, in place of thousands, so that they are full soon


def test_memory_stays_flat_over_two_hundred_questions(client, monkeypatch):
    """Every question is new, so what is kept is bounded by the shelves alone; the long run is `make memory`."""
    monkeypatch.setattr(row, "MOST_DRAWN", KEPT)
    monkeypatch.setattr(row, "MOST_PRINTED", KEPT)
    monkeypatch.setattr(memory, "MOST_RECALLED", KEPT)
    monkeypatch.setattr(memory, "MOST_SHELVES", KEPT)
    places = itertools.count()

    def ask(times):
        for n in itertools.islice(places, times):
            moved = {"foil": f"{80 + n / 10:.1f} um", "reduction": f"{n % 40} um", "tab": "a-tab", "turn": str(n)}
            assert "sketch" in client.get("/part/row", params=GATE | moved).json()

    ask(KEPT + 20)
    gc.collect()
    before = sys.getallocatedblocks()
    ask(200)
    gc.collect()
    grown = sys.getallocatedblocks() - before
    assert grown < 200 * MOST_BLOCKS
    desk = client.app.state.desk
    assert len(desk.drawn._shelf) <= KEPT
    assert len(desk.drawn._printed) <= KEPT
    assert len(desk.engine.memory._recalled) <= KEPT


def test_progress_moves_inside_each_step(client, monkeypatch):
    """Judging, weighing, searching and explaining each say how far they are; none says more than all of it."""
    told = []

    class Telling(Job):
        def __setattr__(self, name, value):
            super().__setattr__(name, value)
            if name == "says":
                told.append((self.part, self.whole, value))

    monkeypatch.setattr("landwise.workbench.jobs.Job", Telling)
    settled(client, bring(client, SMALL))
    steps = [(part, whole) for part, whole, _ in told if whole]
    assert all(0 <= part <= whole for part, whole in steps)
    runs = [list(group) for _, group in itertools.groupby(steps, lambda one: one[1])]
    moving = [[part for part, _ in run] for run in runs if len(run) > 1]
    assert len(moving) >= 2
    assert all(len(set(parts)) > 1 for parts in moving)
    assert len({says for _, _, says in told}) >= 5


class Restarted:
    """A workbench on one folder and one port that can be stopped and begun again."""

    def __init__(self, folder):
        self.folder, self.port, self._server, self._thread = folder, 0, None, None

    def begin(self):
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind(("127.0.0.1", self.port))
        self.port = listener.getsockname()[1]
        config = uvicorn.Config(
            make_app(Workspace(self.folder)), log_level="critical", ws="none", timeout_graceful_shutdown=1
        )
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._server.run, kwargs={"sockets": [listener]}, daemon=True)
        self._thread.start()
        while not self._server.started:
            time.sleep(0.02)
        return f"http://127.0.0.1:{self.port}"

    def end(self):
        self._server.should_exit = self._server.force_exit = True
        self._thread.join(20)


@pytest.fixture
def page(browser):
    made = browser.new_page(viewport={"width": 1280, "height": 900})
    made.set_default_timeout(WAIT_MS)
    yield made
    made.close()


class TestInBrowser:
    pytestmark = MARKS

    def test_pages_outlive_a_restart_of_the_workbench(self, browser, page, tmp_path):
        """What was moved and typed while nobody answered is asked and kept once somebody does."""
        bench = Restarted(tmp_path / "workspace")
        address = bench.begin()
        other = browser.new_page()
        other.set_default_timeout(WAIT_MS)
        try:
            page.goto(f"{address}/boards")
            page.set_input_files("#study", {"name": "board.toml", "mimeType": "", "buffer": SMALL.encode()})
            page.click("text=Open it")
            page.wait_for_selector("#result[data-over=yes][data-shows=all]")
            asked = "number=74LVC1G08&present=SOT-23-5&options=SC-70-5%3D0.03%2C+SOT-23-5%3D0.02&foils=100+um"
            other.goto(f"{address}/part?{asked}")
            other.wait_for_selector("table.row")
            other.wait_for_selector("[aria-busy=true]", state="detached")
            bench.end()
            page.fill("[id='f-want.board_limits.area']", "900")
            page.press("[id='f-want.board_limits.area']", "Enter")
            page.wait_for_selector("[data-trouble]:has-text('does not answer')")
            other.fill("#f-foil", "100 um")
            other.press("#f-foil", "Enter")
            other.wait_for_selector("#trouble:has-text('does not answer')")
            assert bench.begin() == address
            page.wait_for_selector("[data-version]:has-text('Version 2:')")
            page.wait_for_selector("[data-trouble]:empty", state="attached")
            page.wait_for_selector("#result[data-over=yes][data-shows=all]")
            assert page.input_value("[id='f-want.board_limits.area']") == "900"
            other.wait_for_selector("#trouble:empty", state="attached")
            other.wait_for_url("**foil=100+um**")
            assert other.locator("table.row").count() == 1
        finally:
            other.close()
            bench.end()

    def test_files_are_chosen_in_one_style_on_every_page(self, page, served):
        """Box and button of each file field, as the browser draws them."""
        styles, seen = set(), 0
        for path in ("/boards", "/reviews", "/studies"):
            page.goto(served + path)
            found = page.eval_on_selector_all(
                "input[type=file]",
                """(boxes) => boxes.map((box) => [null, "::file-selector-button"].map((part) => {
                  const style = getComputedStyle(box, part);
                  return ["fontFamily", "fontSize", "borderTopWidth", "borderTopStyle", "borderTopColor", "paddingLeft",
                    "backgroundColor", "color"].map((one) => style[one]).join(" ");
                }).join(" | "))""",
            )
            seen += len(found)
            styles |= set(found)
        assert seen >= 5
        assert len(styles) == 1

    def test_a_trade_word_opens_its_definition_where_it_stands(self, page, served):
        page.goto(
            f"{served}/part?number=74LVC1G08&present=SOT-23-5&options=SC-70-5%3D0.03%2C+SOT-23-5%3D0.02&foils=100+um"
        )
        page.wait_for_selector("[aria-busy=true]", state="detached")
        word = page.locator("button.word").first
        said = page.locator(f"#{word.get_attribute('popovertarget')}")
        assert not said.is_visible()
        word.focus()
        page.keyboard.press("Enter")
        said.wait_for(state="visible")
        assert len(said.inner_text()) > 20
        page.keyboard.press("Escape")
        said.wait_for(state="hidden")

    def test_the_example_goes_from_its_bill_to_a_choice(self, page, served):
        """The shipped, invented example: its bill and placement file; all parts but one are taken out, to be quick."""
        page.goto(f"{served}/boards")
        page.set_input_files("#bill", str(EXAMPLE / "bom.csv"))
        page.set_input_files("#placement", str(EXAMPLE / "fabrication" / "logger-placement.csv"))
        page.click("text=Read it")
        page.wait_for_selector("table.mend tbody tr")
        assert page.locator("table.mend tbody tr").count() == 6
        assert "radio module" in page.inner_text("section[aria-labelledby=aside]")
        for left in range(5, 0, -1):
            page.click("table.mend tbody tr:last-child .c-out button")
            page.wait_for_function("n => document.querySelectorAll('table.mend tbody tr').length === n", arg=left)
        page.fill("[name='part.0.options']", "SOT-23-5 = 0.02, SC-70-5 = 0.03")
        page.press("[name='part.0.options']", "Tab")
        page.wait_for_selector("[data-version]:has-text('Version 7:')")
        page.click("text=Choose for this board")
        page.wait_for_selector("#result[data-over=yes][data-shows=all]")
        assert page.locator("table.parts tbody tr").count() == 1
        assert page.locator(".trays svg").count() == 1

    def test_the_example_s_fabrication_files_are_reviewed(self, page, served, tmp_path):
        source = tmp_path / "logger.zip"
        with zipfile.ZipFile(source, "w") as made:
            for file in sorted((EXAMPLE / "fabrication").iterdir()):
                made.write(file, file.name)
        page.goto(f"{served}/reviews")
        page.set_input_files("#file", str(source))
        page.click("text=Review it")
        page.wait_for_selector("[data-ready]")
        assert int(page.get_attribute("canvas", "data-drawn")) >= 1
        assert page.locator("[data-part=rows] tr").count() > 10
        assert "least area ratio" in page.inner_text("[data-part=says]")

    @pytest.mark.skipif(not BOARDS.is_dir(), reason="../shared is not here")
    def test_a_real_bill_is_read_mended_and_its_parts_shown(self, page, served):
        """The bill and placement file of an open hardware probe, read in place."""
        page.goto(f"{served}/boards")
        page.set_input_files("#bill", str(BOARDS / "buspirate7" / "7-REV1B.csv"))
        page.set_input_files("#placement", str(BOARDS / "buspirate7" / "7-REV1B-all-pos.csv"))
        page.click("text=Read it")
        page.wait_for_selector("table.mend tbody tr")
        assert page.locator("table.mend tbody tr").count() >= 3
        page.check("[type=checkbox][name='part.0.locked']")
        page.wait_for_selector("[data-version]:has-text('Version 2:')")
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
        page.reload()
        assert page.is_checked("[type=checkbox][name='part.0.locked']")
