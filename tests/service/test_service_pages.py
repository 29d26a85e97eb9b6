"""The generated pages of the room are those of the code."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest

DOCS = Path(__file__).parents[2] / "docs"


@pytest.mark.parametrize("script", ["make_fatigue_validation.py", "make_strength_table.py"])
def test_the_page_is_up_to_date(script):
    assert runpy.run_path(str(DOCS / script))["main"](["--check"]) == 0
