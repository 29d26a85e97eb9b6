"""What the tests in a real browser need: Debian's Chromium, or another one of that name."""

from __future__ import annotations

import re
import shutil
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Page

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
OF_COLOURS = "color-contrast", "link-in-text-block"  # axe-core's rules by name: four fifths of its time
# Rows are coloured by their elements' names and classes: those kept hold each of them twice, and begin every list.
ALIKE = 2
ONE_OF_EACH = """(rows, alike) => {
  const seen = {};
  for (const row of rows) {
    const looks = [row, ...row.querySelectorAll("*")].map((one) =>
      [row.parentElement.className, one.localName, one.getAttribute("class"), one.getAttribute("fill")].join(" "));
    const first = [...row.parentElement.children].indexOf(row) < alike;
    if (first || looks.some((look) => (seen[look] || 0) < alike))
      for (const look of new Set(looks)) seen[look] = (seen[look] || 0) + 1;
    else row.style.setProperty("display", "none", "important");
  }
}"""
SHOW_AGAIN = "rows => { for (const row of rows) row.style.removeProperty('display'); }"
MARKS = [pytest.mark.browser, pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine")]


def unmarked(page: str) -> str:
    """A page's text without the buttons that open a trade word's definition in the middle of a sentence."""
    return re.sub(r'<button type="button" class="word"[^>]*>(.*?)</button>', r"\1", page)


def broken_rules(page: Page, *, colours: bool = False) -> list[str]:
    """What axe-core finds on a page: its rules for WCAG 2 A and AA and its best practices.

    Parameters
    ----------
    page : Page
    colours : bool
        Only the rules that look at colours: for a page that was looked at whole in the other of light and dark.

    The rules of colours look at rows of each kind, not at every row; all other rules at the whole page.
    """
    from axe_playwright_python.sync_playwright import Axe

    def broken(**asked: object) -> list[str]:
        # What is in order is not listed: naming each of its elements took most of the time.
        found = Axe().run(page, options={"resultTypes": ["violations"], **asked}).response["violations"]
        return [
            f"{page.url}: {rule['id']}: {rule['nodes'][0]['html'][:160]} ({rule['nodes'][0]['failureSummary'][:160]})"
            for rule in found
        ]

    others = [] if colours else broken(rules={name: {"enabled": False} for name in OF_COLOURS})
    rows = page.locator("tr, li")
    rows.evaluate_all(ONE_OF_EACH, ALIKE)
    found = broken(runOnly={"type": "rule", "values": list(OF_COLOURS)})
    rows.evaluate_all(SHOW_AGAIN)
    return others + found
