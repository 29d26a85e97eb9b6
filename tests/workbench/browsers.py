"""What the tests in a real browser need: Debian's Chromium, or another one of that name."""

from __future__ import annotations

import shutil

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
MARKS = [pytest.mark.browser, pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine")]
