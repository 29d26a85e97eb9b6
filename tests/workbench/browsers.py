"""What the tests in a real browser need: Debian's Chromium, or another one of that name."""

from __future__ import annotations

import re
import shutil
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Page

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
OF_COLOURS = "color-contrast", "link-in-text-block"  # axe-core's rules by name
ROWS_ALIKE = 8  # of a table or list are coloured by the same rules as all the others
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
        Only the rules that look at colours, at the first rows of each table and list: for a page that was looked at
        whole in the other of light and dark.
    """
    from axe_playwright_python.sync_playwright import Axe

    # What is in order is not listed: naming each of its elements took most of the time.
    asked: dict[str, object] = {"resultTypes": ["violations"]}
    if colours:
        page.locator(f":is(tr, li):nth-child(n+{ROWS_ALIKE + 1})").evaluate_all(
            "rows => { for (const row of rows) row.style.setProperty('display', 'none', 'important'); }"
        )
        asked["runOnly"] = {"type": "rule", "values": list(OF_COLOURS)}
    return [
        f"{page.url}: {rule['id']}: {rule['nodes'][0]['html'][:160]} ({rule['nodes'][0]['failureSummary'][:160]})"
        for rule in Axe().run(page, options=asked).response["violations"]
    ]
