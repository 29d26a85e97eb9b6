"""What the tests in a real browser need: Debian's Chromium, or another one of that name."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Page

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
OF_COLOURS = "color-contrast", "link-in-text-block"  # axe-core's rules by name: four fifths of its time
# Rows are coloured by their elements' names and classes: those kept hold each of them twice, and begin every list.
ALIKE = 2
# The others are taken out while colours are looked at, not hidden: axe-core weighs every element that the page has.
ONE_OF_EACH = """(rows, alike) => {
  const seen = {}, others = [];
  for (const row of rows) {
    const looks = [row, ...row.querySelectorAll("*")].map((one) =>
      [row.parentElement.className, one.localName, one.getAttribute("class"), one.getAttribute("fill")].join(" "));
    const first = [...row.parentElement.children].indexOf(row) < alike;
    if (first || looks.some((look) => (seen[look] || 0) < alike))
      for (const look of new Set(looks)) seen[look] = (seen[look] || 0) + 1;
    else others.push(row);
  }
  // The innermost first: a row in a row goes back to where it stood.
  window.aside = others.reverse().map((row) => {
    const place = document.createComment("");
    row.replaceWith(place);
    return [place, row];
  });
}"""
PUT_BACK = "() => { for (const [place, row] of window.aside.reverse()) place.replaceWith(row); delete window.aside; }"
MARKS = [pytest.mark.browser, pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine")]


def unmarked(page: str) -> str:
    """A page's text without the buttons that open a trade word's definition in the middle of a sentence."""
    return re.sub(r'<button type="button" class="word"[^>]*>(.*?)</button>', r"\1", page)


def broken_rules(page: Page, *, dark: Callable[[], object] | None = None) -> list[str]:
    """What axe-core finds on a page: its rules for WCAG 2 A and AA and its best practices.

    Parameters
    ----------
    page : Page
    dark : callable, optional
        Makes the page dark: then the rules that look at colours are asked a second time; nothing else differs.

    The rules of colours look at rows of each kind, not at every row; all other rules at the whole page.
    """
    from axe_playwright_python.sync_playwright import Axe

    def broken(**asked: object) -> list[str]:
        # What is in order is not listed: naming each of its elements took most of the time.
        found = page.evaluate("asked => axe.run(asked)", {"resultTypes": ["violations"], **asked})["violations"]
        return [
            f"{page.url}: {rule['id']}: {rule['nodes'][0]['html'][:160]} ({rule['nodes'][0]['failureSummary'][:160]})"
            for rule in found
        ]

    page.evaluate(Axe().axe_script)
    found = broken(rules={name: {"enabled": False} for name in OF_COLOURS})
    colours = {"runOnly": {"type": "rule", "values": list(OF_COLOURS)}}
    page.locator("tr, li").evaluate_all(ONE_OF_EACH, ALIKE)
    found += broken(**colours)
    if dark:
        dark()
        found += broken(**colours)
    page.evaluate(PUT_BACK)
    return found
