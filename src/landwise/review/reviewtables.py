"""The tables that go with a review: changes and findings as comma-separated values."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable

from landwise.review.reviewfile import Written
from landwise.review.reviews import Review

_NUMBER = re.compile(r"-?[\d.]+(e[+-]?\d+)?")


def _csv(head: Iterable[str], rows: Iterable[Iterable[object]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(head)
    writer.writerows([_safe(cell) for cell in row] for row in rows)
    return out.getvalue()


def _safe(cell: object) -> object:
    # A spreadsheet runs cells that begin like a formula; names come from files of unknown origin.
    if isinstance(cell, str) and cell[:1] in ("=", "+", "-", "@", "\t", "\r") and not _NUMBER.fullmatch(cell):
        return "'" + cell
    return cell


def changes_csv(result: Review) -> str:
    """The change table."""
    return _csv(
        (
            "side",
            "proposal",
            "rule",
            "package",
            "aperture",
            "component",
            "x_mm",
            "y_mm",
            "what",
            "reason",
            "effect",
            "asked",
            "decided",
            "written",
            "area_before_mm2",
            "area_after_mm2",
            "area_ratio_before",
            "area_ratio_after",
        ),
        (
            (
                side.side,
                change.proposal,
                side.proposals[change.proposal].rule,
                side.proposals[change.proposal].package,
                "new" if change.aperture < 0 else change.aperture,
                change.component,
                f"{change.x_mm:.4f}",
                f"{change.y_mm:.4f}",
                change.what,
                change.reason,
                change.effect,
                side.proposals[change.proposal].asked,
                change.decided,
                "yes" if change in written else "no",
                f"{change.area_before_mm2:.6f}",
                f"{change.area_after_mm2:.6f}",
                "" if change.ratio_before is None else f"{change.ratio_before:.4f}",
                "" if change.ratio_after is None else f"{change.ratio_after:.4f}",
            )
            for side in result.sides
            for written in (Written(side),)
            for change in side.changes
        ),
    )


def findings_csv(result: Review) -> str:
    """The findings as a table."""
    return _csv(
        ("side", "level", "check", "component", "apertures", "x_mm", "y_mm", "says", "value", "limit", "unit"),
        (
            (
                f.side,
                f.level,
                f.key,
                f.component,
                len(f.apertures),
                f"{f.x_mm:.4f}",
                f"{f.y_mm:.4f}",
                f.says,
                "" if f.value is None else f"{f.value:.6g}",
                "" if f.limit is None else f"{f.limit:.6g}",
                f.unit,
            )
            for f in result.findings
        ),
    )
