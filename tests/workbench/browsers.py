"""What the tests in a real browser need: Debian's Chromium, or another one of that name."""

from __future__ import annotations

import re
import shutil

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
MARKS = [pytest.mark.browser, pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine")]


def unmarked(page: str) -> str:
    """A page's text without the buttons that open a trade word's definition in the middle of a sentence."""
    return re.sub(r'<button type="button" class="word"[^>]*>(.*?)</button>', r"\1", page)
