"""Make the pictures of README and docs: cards and reports drawn by landwise, pages of the workbench in a browser.

Run from anywhere, `python docs/make_pictures.py [NAME…]`; it takes some minutes and needs a Chromium. Boards and parts
are those of the examples, whose data is invented. Run it after any change of what a picture shows, and look at each.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

from landwise.board.choice import choose_board
from landwise.board.result import BoardResult
from landwise.judging.study import run_study
from landwise.memory import keep_in_cache_folder
from landwise.sheets.cards import card_of
from landwise.sheets.pdf import svg_png_bytes
from landwise.sheets.pictures import window_svg
from landwise.sheets.report import front_png
from landwise.study.file import read_study, study_from
from landwise.study.question import study_data

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / "docs" / "pictures"
EXAMPLE = ROOT / "examples" / "logger" / "board.toml"
WAIT_MS = 300_000
STILL_MS = 1500  # after which nothing moves any more on a stage
# Chromium's own rasteriser in the place of a graphics card: it draws solids on any machine.
WITHOUT_CARD = ["--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]


@dataclass(frozen=True)
class Shot:
    """A page of the workbench as a browser of this size shows it; `/boards` stands for the example, chosen for.

    `solid`: the look in three dimensions alone, opened on the option that the path opens.
    """

    path: str
    wide: int
    high: int
    look: Literal["light", "dark"] = "light"
    solid: bool = False


SHOTS: Mapping[str, Shot] = {
    "workbench_1280.png": Shot("/part?number=74LVC1G08&present=SOT-23-5", 1280, 860),
    "workbench_1920.png": Shot("/part?number=74LVC245&present=SO-20W&foil=120+um", 1920, 1080, "dark"),
    "workbench_tablet.png": Shot("/part?number=74HC132&present=DIP-14&foil=80+um", 820, 1180),
    "workbench_solid.png": Shot(
        "/part?terminals=14&options=TSSOP-14&foils=100+um&open=TSSOP-14", 1280, 900, solid=True
    ),
    "workbench_board.jpg": Shot("/boards", 1280, 900),
    "workbench_board_1920.jpg": Shot("/boards", 1920, 1080),
    "workbench_board_820.jpg": Shot("/boards", 820, 1180),
}


@cache
def example() -> BoardResult:
    """The invented board of the examples, chosen for."""
    return choose_board(run_study(read_study(EXAMPLE)))


def card() -> bytes:
    """The card of one gate, as README's command writes it."""
    result = choose_board(run_study(study_from(study_data({"number": "74LVC1G08", "present": "SOT-23-5"}))))
    return svg_png_bytes(card_of(result.parts[0], result.judged), dpi=136)


def report() -> bytes:
    """Page one of the example's report."""
    return front_png(example(), dpi=90)


def process_window() -> bytes:
    """The process window of the example's NAND gates, which shows both of its limits."""
    part = example().part("U10")
    assert part.chosen is not None
    drawn = window_svg(part.chosen, example().judged, "window")
    assert drawn is not None
    return svg_png_bytes(drawn)


DRAWN: Mapping[str, Callable[[], bytes]] = {
    "card.png": card,
    "report.png": report,
    "process_window.png": process_window,
}
PICTURES = (*DRAWN, *SHOTS)


@contextmanager
def serving() -> Iterator[str]:
    """The address of a workbench on a folder of its own."""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-u", "-m", "landwise", "serve", "--port", "0", "--no-open", "--workspace", folder]
        server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        try:
            assert server.stdout is not None
            found = re.search(r"http://[\d.:]+", server.stdout.readline())
            assert found is not None
            yield found[0]
        finally:
            server.terminate()
            server.wait(10)


def photographed(names: Sequence[str]) -> Iterator[tuple[str, bytes]]:
    """Pages of the workbench in a real browser."""
    from playwright.sync_api import sync_playwright

    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    with serving() as address, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium, args=WITHOUT_CARD)
        board = ""
        for name in names:
            shot = SHOTS[name]
            page = browser.new_page(viewport={"width": shot.wide, "height": shot.high}, color_scheme=shot.look)
            page.set_default_timeout(WAIT_MS)
            page.goto(address + (board or shot.path if shot.path == "/boards" else shot.path))
            if shot.path == "/boards" and not board:
                page.click("text=Its study")
            if shot.path == "/boards":
                page.wait_for_selector("#result[data-over=yes][data-shows=all]")
                board = page.url.removeprefix(address)
            else:
                page.wait_for_selector("#result:not([aria-busy]) table.row")
            if shot.solid:
                page.click(".solid > button")
                page.wait_for_selector(".stage[data-painted]")
                page.wait_for_timeout(STILL_MS)
                yield name, page.locator(".solid-look").screenshot()
            else:
                yield name, page.screenshot(type="jpeg" if name.endswith(".jpg") else "png")
            page.close()
        browser.close()


def main(names: Sequence[str]) -> int:
    """Make the pictures named, or all; 2 for a name that no picture has."""
    if unknown := set(names) - set(PICTURES):
        print(f"no such picture: {', '.join(sorted(unknown))}; there are {', '.join(PICTURES)}")
        return 2
    wanted = names or PICTURES
    keep_in_cache_folder()
    shots = [name for name in wanted if name in SHOTS]
    for name, content in [
        *((name, DRAWN[name]()) for name in wanted if name in DRAWN),
        *(photographed(shots) if shots else ()),
    ]:
        (FOLDER / name).write_bytes(content)
        print(f"{name}: {len(content) / 1000:.0f} kB")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
