"""Text boxes of a study's report and annex that lie on each other or off the page, in the browser and in print.

`python benchmarks/overlaps.py` looks at the example and at every board whose bill lies beside the project in
`../shared/boards`; `python benchmarks/overlaps.py board.toml …` at those given. The exit code is 1 where a text lies on
another. Chromium measures the pages, `pdftotext` (poppler) the boxes of the words in the PDF; neither is part of the
package, and the test of the small board uses the same functions.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from html import unescape
from pathlib import Path
from typing import Any

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
WIDTHS_PX = (390, 820, 1280, 1920)
SLACK_PT = 1.0  # that word boxes may share each way: a word's box holds its side bearings
# Letters rise less than their line box: so much of the smaller box is left out above and below together.
LINE_SHARE = 0.34
WORD = re.compile(r'<word xMin="(\S+)" yMin="(\S+)" xMax="(\S+)" yMax="(\S+)">(.*?)</word>')
PAGE = re.compile(r'<page width="(\S+)" height="(\S+)">')
Box = tuple[str, float, float, float, float]

# Pairs of texts whose boxes share more than a pixel and a half each way, tested within each drawing and among the
# page's own lines and cells.
OVERLAPS = """() => {
  const found = [], groups = [...document.querySelectorAll('svg')].map(svg => [...svg.querySelectorAll('text')]);
  const own = [...document.querySelectorAll('h1, h2, h3, h4, p, dt, dd, li, figcaption, td, th, summary')];
  groups.push(own.filter(e => !e.closest('svg') && e.checkVisibility()));
  for (const group of groups) {
    const boxes = group.filter(e => e.textContent.trim()).map(e => [e, e.getBoundingClientRect()])
      .filter(([, box]) => box.width && box.height).sort((a, b) => a[1].top - b[1].top);
    for (let i = 0; i < boxes.length; i++) for (let j = i + 1; j < boxes.length; j++) {
      const [a, p] = boxes[i], [b, q] = boxes[j];
      if (q.top > p.bottom) break;
      if (a.contains(b) || b.contains(a)) continue;
      const cut = Math.min(p.height, q.height) / 3;
      const x = Math.min(p.right, q.right) - Math.max(p.left, q.left);
      const y = Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top) - cut;
      if (x > 1.5 && y > 1.5) found.push(a.textContent.trim().slice(0, 40) + ' | ' + b.textContent.trim().slice(0, 40));
    }
  }
  // Cut off: a drawing's text past the drawing's own edge, a text past the edge of the box it is in.
  for (const svg of document.querySelectorAll('svg')) {
    if (getComputedStyle(svg).overflow === 'visible') continue;
    const edge = svg.getBoundingClientRect();
    for (const text of svg.querySelectorAll('text')) {
      const box = text.getBoundingClientRect();
      const across = box.left < edge.left - 1 || box.right > edge.right + 1;
      if (box.width && (across || box.top < edge.top - 3 || box.bottom > edge.bottom + 3))
        found.push('cut off: ' + text.textContent.trim().slice(0, 40));
    }
  }
  for (const one of own) {
    if (one.closest('svg') || !one.checkVisibility() || !one.textContent.trim()) continue;
    if (one.scrollWidth > one.clientWidth + 1 && one.clientWidth && getComputedStyle(one).display !== 'inline')
      found.push('wider than its box: ' + one.textContent.trim().slice(0, 40));
  }
  return found;
}"""


def page_overlaps(browser: Any, path: Path, widths_px: tuple[int, ...]) -> list[str]:
    """What lies on something else, or makes the page wider than the screen, in one HTML page at each of the widths.

    The page is loaded once: it holds no script that asks for the width.
    """
    page = browser.new_page()
    page.goto(path.as_uri())
    found = []
    for width_px in widths_px:
        page.set_viewport_size({"width": width_px, "height": 900})
        seen, wide = page.evaluate(OVERLAPS), page.evaluate("document.documentElement.scrollWidth")
        found += [f"at {width_px} px: {one}" for one in (*seen, *([f"{wide} px wide"] if wide > width_px else []))]
    page.close()
    return found


def words_of(path: Path) -> list[tuple[float, float, list[Box]]]:
    """Every page of a PDF: width, height [pt], and its words with their boxes (left, top, right, bottom)."""
    told = subprocess.run(["pdftotext", "-bbox", str(path), "-"], capture_output=True, text=True, check=True).stdout
    pages = []
    marks = [*PAGE.finditer(told)]
    ends = [*(mark.start() for mark in marks[1:]), len(told)]
    for mark, end in zip(marks, ends, strict=True):
        words = [
            (unescape(one[5]), float(one[1]), float(one[2]), float(one[3]), float(one[4]))
            for one in WORD.finditer(told, mark.end(), end)
        ]
        pages.append((float(mark[1]), float(mark[2]), words))
    return pages


def print_overlaps(path: Path) -> list[str]:
    """Words of a PDF that lie on another or off their page."""
    found = []
    for number, (wide, high, words) in enumerate(words_of(path), start=1):
        for text, left, top, right, bottom in words:
            if left < -1 or top < -1 or right > wide + 1 or bottom > high + 1:
                found.append(f"page {number}: {text!r} off the page")
        words.sort(key=lambda word: word[2])
        for at, (one, left, top, right, bottom) in enumerate(words):
            for other, left_, top_, right_, bottom_ in words[at + 1 :]:
                if top_ > bottom:
                    break
                cut = LINE_SHARE * min(bottom - top, bottom_ - top_)
                across = min(right, right_) - max(left, left_)
                if across > SLACK_PT and min(bottom, bottom_) - max(top, top_) - cut > SLACK_PT:
                    found.append(f"page {number}: {one!r} on {other!r}")
    return found


def overlaps(folder: Path, browser: Any) -> list[str]:
    """Everything that overlaps in a report's folder."""
    found = []
    for name in ("report", "annex"):
        found += [f"{name}.pdf, {one}" for one in print_overlaps(folder / f"{name}.pdf")]
        found += [f"{name}.html {one}" for one in page_overlaps(browser, folder / f"{name}.html", WIDTHS_PX)]
    return found


def _boards(root: Path, made: Path) -> list[Path]:
    """The example, and a study of every bill that names a logic part."""
    found = [root / "examples" / "logger" / "board.toml"]
    for folder in sorted((root.parent / "shared" / "boards").glob("*/")):
        bills = [path for path in sorted(folder.glob("*.csv")) if "pos" not in path.name.lower()]
        for bill in bills[:1]:
            study = made / f"{folder.name}.toml"
            run = _landwise("start", "--bom", str(bill), "-o", str(study))
            if run.returncode == 0 and "[[part]]" in study.read_text(encoding="utf-8"):
                found.append(study)
            else:
                print(f"{folder.name}: no study, {run.stderr.strip().splitlines()[-1:] or 'no logic part in its bill'}")
    return found


def _landwise(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-m", "landwise", *words], capture_output=True, text=True, check=False)


def main(names: list[str]) -> int:
    """Look at every board; the number of boards with overlaps."""
    from playwright.sync_api import sync_playwright

    root = Path(__file__).resolve().parents[1]
    bad = 0
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        for board in [Path(name) for name in names] or _boards(root, Path(scratch)):
            folder = board if board.is_dir() else Path(scratch) / f"out-{board.stem}-{board.parent.name}"
            if folder is not board:
                run = _landwise("study", str(board), "-o", str(folder))
                if run.returncode:
                    print(f"{board}: {run.stderr.strip()}")
                    bad += 1
                    continue
            found = overlaps(folder, browser)
            pages = [len(words_of(folder / name)) for name in ("report.pdf", "annex.pdf")]
            print(f"{board.stem}: {pages[0]} and {pages[1]} pages, {len(found)} overlaps", *found[:20], sep="\n  ")
            bad += bool(found)
        browser.close()
    return int(bad > 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
