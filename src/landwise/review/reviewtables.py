"""The tables that go with a review: changes and findings as comma-separated values."""

from __future__ import annotations

from landwise.fabdata.tabletext import csv_text
from landwise.review.reviewfile import Written
from landwise.review.reviews import Review


def changes_csv(result: Review) -> str:
    """The change table."""
    return csv_text(
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
    return csv_text(
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
