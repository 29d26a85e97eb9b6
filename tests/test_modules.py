"""A module stays under about 400 lines, or says at its top why it does not."""

from __future__ import annotations

import ast
from pathlib import Path

SRC = Path(__file__).resolve().parents[1] / "src" / "landwise"
MOST_LINES = 400


def test_a_long_module_says_why():
    silent = []
    for path in sorted(SRC.rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        if text.count("\n") > MOST_LINES and "Longer than other modules" not in (
            ast.get_docstring(ast.parse(text)) or ""
        ):
            silent.append(f"{path.relative_to(SRC)}: {text.count(chr(10))} lines")
    assert not silent, silent
