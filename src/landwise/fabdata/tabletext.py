"""Comma-separated values that are safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
# A cell that begins so is run by a spreadsheet; full-width forms are read as their plain ones by some.
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def safe_cell(cell: object) -> object:
    """A cell as it may be written: a text that a spreadsheet would run gets an apostrophe before it.

    Names come from files of unknown origin. Numbers stay numbers (OWASP, "CSV Injection").

    >>> safe_cell("=1+1"), safe_cell("-3.5e2"), safe_cell("U1"), safe_cell(-2.0), safe_cell(" =1+1")
    ("'=1+1", '-3.5e2', 'U1', -2.0, "' =1+1")
    """
    if isinstance(cell, str) and cell.lstrip(" \u00a0")[:1] in FORMULA and cell.strip() and not _NUMBER.fullmatch(cell):
        return "'" + cell
    return cell


def csv_text(head: Iterable[str], rows: Iterable[Iterable[object]]) -> str:
    """A table as text.

    >>> print(csv_text(["ref", "count"], [["@U1", -2]]), end="")
    ref,count
    '@U1,-2
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([safe_cell(cell) for cell in head])
    writer.writerows([safe_cell(cell) for cell in row] for row in rows)
    return out.getvalue()
