"""From a slider's event to the new picture on the screen, in a real browser, as a hand moves it.

Each question is opened in headless Chromium on a fresh server: the first paint of its picture is timed, then foil,
reduction and the weight of the area are dragged, step after step, and moved again after a rest, when the figures of
the place before are being worked. A time runs from the slider's event to the frame that shows the new picture. Beside
it stand the server's processor time for the answer, and the time from the answer's arrival to the frame, which is the
browser's. On a busy machine the rest is its neighbours'; compare it with the wait of a request that does nothing. The
load of the machine and the share of its processors that somebody used meanwhile stand beside the figures.

Run with `python benchmarks/workbench_slider.py [QUESTION…]`; `--short` takes the least and the largest question and
ends within a minute. The target is 100 ms for 95 of 100 moves.
"""

from __future__ import annotations

import os
import shutil
import sys
import time
import urllib.request
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlencode, urljoin

from workbench import LOOK_S, QUESTIONS, TARGET_MS, percentile, serving

if TYPE_CHECKING:
    from playwright.sync_api import Page

DRAGS = {"foil": range(80, 151, 5), "reduction": range(0, 41, 2), "weight.area": [n / 20 for n in range(1, 20)]}
STILL = "#result:not([aria-busy]) table.row"  # all figures are there
APART_MS = 60  # between two steps of a drag
REST_MS = 500  # of a hand that lets the figures begin
SHORT = ("single gate", "48 terminals")
SHORT_S = 50.0  # when a short run begins nothing more
# Each answer with a picture, and each frame after it, is noted; a step waits for its own.
WATCH = """() => {
  const asked = window.fetch;
  window.work = window.came = 0;
  window.fetch = async (...given) => {
    const reply = await asked(...given);
    const told = /dur=([0-9.]+)/.exec(reply.headers.get("server-timing") || "");
    if (told) window.work = Number(told[1]);
    const read = reply.json.bind(reply);
    reply.json = async () => { const found = await read(); window.came = performance.now(); return found; };
    return reply;
  };
}"""
STEP = """([name, place]) => new Promise((done, late) => {
  const slide = document.querySelector(`.slide[data-name="${name}"]`), result = document.getElementById("result");
  const start = performance.now(), watch = new MutationObserver((all) => {
    if (!all.some((one) => one.target === result || one.target.matches?.(".picture"))) return;
    watch.disconnect();
    requestAnimationFrame(() => setTimeout(() => {
      const now = performance.now();
      done([now - start, now - window.came, window.work]);
    }, 0));
  });
  watch.observe(result, {childList: true, subtree: true});
  setTimeout(() => late("no picture came"), 60000);
  slide.value = place;
  slide.dispatchEvent(new Event("input", {bubbles: true}));
})"""
NOTHING = """async () => {
  const start = performance.now();
  await (await fetch(`/favicon.ico?${start}`)).blob();
  return performance.now() - start;
}"""


@dataclass(frozen=True)
class Moved:
    """One step of a slider: to the frame; of it from the answer to the frame; the server's processor time. [ms]"""

    frame: float
    drawing: float
    work: float


class Machine:
    """How busy the machine was since this was made: its load, and the share of its processors in use."""

    def __init__(self) -> None:
        self._load, (self._used, self._all) = os.getloadavg()[0], _ticks()

    def says(self) -> str:
        """In a line."""
        used, whole = _ticks()
        share = f", {(used - self._used) / max(whole - self._all, 1):.0%} of them in use" if whole else ""
        load = f"{self._load:.1f} before, {os.getloadavg()[0]:.1f} after"
        return f"load of the machine {load}, {os.cpu_count()} cores{share}"


def _ticks() -> tuple[int, int]:
    """The processors' time in use and in all; nothing where the system does not tell."""
    try:
        told = [int(one) for one in Path("/proc/stat").read_text().split("\n", 1)[0].split()[1:9]]
    except OSError:
        return 0, 0
    return sum(told) - told[3] - told[4], sum(told)


def main(given: Sequence[str]) -> int:
    """Print a line for each question and slider, and the whole; 1 if the target is missed."""
    short = "--short" in given
    names = [one for one in given if one != "--short"] or (SHORT if short else list(QUESTIONS))
    began, machine = time.monotonic(), Machine()
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        print("no Chromium on this machine: nothing was measured")
        return 2
    from playwright.sync_api import sync_playwright

    head = f"{'question':<20} {'slider':<20} steps   median    p95   most"
    print(f"{head} | server's work p95 | browser median   p95   [ms]")
    everything: list[Moved] = []
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        for number, title in enumerate(names, 1):
            with serving() as (_, host, port):
                page = browser.new_page(viewport={"width": 1280, "height": 900})
                address = f"http://{host}:{port}/part?{urlencode(QUESTIONS[title])}"
                ends = began + SHORT_S * number / len(names) if short else None
                everything += dragged(page, title, address, ends)
                page.close()
        browser.close()
    if everything:
        show("all", "", everything)
    print(machine.says())
    if not everything:
        print("so busy a machine that nothing was measured in time")
        return 2
    return int(percentile([one.frame for one in everything], 95) > TARGET_MS)


def dragged(page: Page, title: str, address: str, ends: float | None) -> list[Moved]:
    """Open a question and move its sliders; nothing is begun after `ends`.

    Without an end each slider is moved once all figures are there; with one, while they are still being worked.
    """
    start = time.perf_counter()
    urllib.request.urlopen(urljoin(address, "/favicon.ico"), timeout=60).close()
    print(f"{title:<20} {'server ready':<20} {1:>5} {(time.perf_counter() - start) * 1e3:>8.0f}")
    start = time.perf_counter()
    page.goto(address, wait_until="commit")
    page.wait_for_selector(".picture svg", timeout=60_000)
    print(f"{title:<20} {'first picture':<20} {1:>5} {(time.perf_counter() - start) * 1e3:>8.0f}")
    still(page, ends)
    page.evaluate(WATCH)
    time.sleep(LOOK_S if ends is None else 1.0)
    bare = sorted(page.evaluate(NOTHING) for _ in range(20))
    print(f"{title:<20} {'nothing asked for':<20} {20:>5} {bare[10]:>8.1f} {bare[18]:>6.1f} {bare[-1]:>6.1f}")
    found: list[Moved] = []
    for name, places in DRAGS.items():
        for how, pause in ((name, APART_MS), (f"{name}, rested", REST_MS)):
            moves: list[Moved] = []
            for place in places if pause == APART_MS else list(places)[1::3]:
                if ends is not None and time.monotonic() > ends:
                    return found + moves
                moves.append(Moved(*page.evaluate(STEP, [name, str(place)])))
                page.wait_for_timeout(pause)
            show(title, how, moves)
            found += moves
            still(page, ends)
    return found


def still(page: Page, ends: float | None) -> None:
    """Wait for all figures, where there is time."""
    if ends is None:
        page.wait_for_selector(STILL, timeout=240_000)


def show(title: str, how: str, moves: Sequence[Moved]) -> None:
    """One line of the table."""
    frames, works = [one.frame for one in moves], [one.work for one in moves]
    drawings = [one.drawing for one in moves]
    print(
        f"{title:<20} {how:<20} {len(moves):>5} {percentile(frames, 50):>8.0f} {percentile(frames, 95):>6.0f}"
        f" {max(frames):>6.0f} | {percentile(works, 95):>17.0f}"
        f" | {percentile(drawings, 50):>14.0f} {percentile(drawings, 95):>5.0f}"
    )


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
