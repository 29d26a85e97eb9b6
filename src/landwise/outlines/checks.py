"""What makes an outline possible: every finding names the fields, what was found and what would do."""

from __future__ import annotations

import math

from landwise.errors import InputError
from landwise.outlines.model import GRIDS, LEADED, LEADLESS, Outline, Range
from landwise.outlines.patterns import occupancy, side_pitch, terminals, tip_to_tip

OVERLAP_MM = 1e-6


def problems(outline: Outline) -> tuple[InputError, ...]:
    """Everything that is impossible about an outline, in reading order. Empty when it can exist."""
    found = _sizes(outline)
    if found:
        return tuple(found)  # positions mean nothing while a basic dimension is wrong
    for check in (_span, _feet, _count, _row_fits, _spacing, _exposed_clear, _balls_fit, _heights, _drawings):
        try:
            finding = check(outline)
        except InputError as error:
            finding = error  # of the pattern itself: every check that asks for places meets it
        if finding is not None and str(finding) not in map(str, found):
            found.append(finding)
    return tuple(found)


def require_possible(outline: Outline) -> None:
    """Raise the first of `problems`.

    Raises
    ------
    InputError
    """
    for problem in problems(outline):
        raise problem


def _finding(outline: Outline, message: str, found: str, expected: str) -> InputError:
    return InputError(message, place=f"outline {outline.name}", found=found, expected=expected)


def _sizes(outline: Outline) -> list[InputError]:
    """All basic dimensions that no body has."""
    found: list[InputError] = []
    positive = {
        "pitch_mm": outline.pitch_mm,
        "body_length_mm": outline.body_length_mm.min,
        "body_width_mm": outline.body_width_mm.min,
        "height_mm": outline.height_mm.max,
        "terminal_width_mm": outline.terminal_width_mm.min,
        "terminals": outline.terminals,
    }
    for name, value in positive.items():
        if not (math.isfinite(value) and value > 0):
            found.append(_finding(outline, f"{name} must be positive", f"{value:g}", "> 0"))
    for name in ("coplanarity_mm", "warpage_mm"):
        value = getattr(outline, name)
        if value is not None and not (math.isfinite(value) and value >= 0):
            found.append(_finding(outline, f"{name} must not be negative", f"{value:g}", "0 or more"))
    return found


def _span(outline: Outline) -> InputError | None:
    if outline.family in LEADED:
        for side, body in (("left", outline.body_width_mm), ("top", outline.body_length_mm)):
            if side not in occupancy(outline):
                continue
            span = tip_to_tip(outline, side)
            if span.nom + OVERLAP_MM < body.nom:
                return _finding(
                    outline,
                    "the span is smaller than the body",
                    f"span {span.nom:g}, body {body.nom:g} mm",
                    "span ≥ body",
                )
    return None


def _feet(outline: Outline) -> InputError | None:
    if outline.family not in LEADED | LEADLESS or outline.foot_mm is None:
        return None
    for side in occupancy(outline):
        span = tip_to_tip(outline, side)
        if 2 * outline.foot_mm.nom >= span.nom:
            return _finding(
                outline,
                "opposite terminals meet",
                f"2 × {outline.foot_mm.nom:g} mm within {span.nom:g} mm",
                "less",
            )
    return None


def _count(outline: Outline) -> InputError | None:
    numbered = [terminal for terminal in terminals(outline) if terminal.number != "EP"]
    if len(numbered) != outline.terminals:
        return _finding(
            outline,
            "the pattern does not give the stated number of terminals",
            str(len(numbered)),
            str(outline.terminals),
        )
    return None


def _row_fits(outline: Outline) -> InputError | None:
    if outline.family in GRIDS:
        return None
    for side, places in occupancy(outline).items():
        body = outline.body_length_mm if side in ("left", "right") else outline.body_width_mm
        row = (len(places) - 1) * side_pitch(outline, side) + outline.terminal_width_mm.nom
        # A lead of the smallest parts may stand flush with the body's end, within its own tolerance.
        if row > body.max + outline.terminal_width_mm.tolerance / 2 + OVERLAP_MM:
            return _finding(
                outline,
                f"the {side} row is longer than the body",
                f"{row:g} mm on {body.max:g} mm",
                "shorter",
            )
    return None


def _spacing(outline: Outline) -> InputError | None:
    if outline.terminal_width_mm.max >= min(outline.pitch_mm, outline.pitch_across_mm or math.inf):
        return _finding(
            outline,
            "neighbouring terminals overlap",
            f"width up to {outline.terminal_width_mm.max:g} mm",
            f"less than the pitch {outline.pitch_mm:g} mm",
        )
    return None


def _exposed_clear(outline: Outline) -> InputError | None:
    if outline.exposed_length_mm is None or outline.exposed_width_mm is None:
        return None
    half_x, half_y = outline.exposed_width_mm.nom / 2, outline.exposed_length_mm.nom / 2
    if outline.centre_terminal:
        return None  # a small centre terminal may be turned between its neighbours
    for terminal in terminals(outline):
        if terminal.side in ("centre", "grid"):
            continue
        inner = terminal.length_mm / 2
        reach = abs(terminal.x_mm) if terminal.side in ("left", "right") else abs(terminal.y_mm)
        half = half_x if terminal.side in ("left", "right") else half_y
        if outline.family in LEADLESS and reach - inner < half - OVERLAP_MM:
            return _finding(
                outline,
                f"the exposed pad touches terminal {terminal.number}",
                f"pad reaches {half:g} mm from the middle",
                f"less than {reach - inner:g} mm",
            )
    return None


def _balls_fit(outline: Outline) -> InputError | None:
    if outline.family not in GRIDS:
        return None
    across = outline.pitch_across_mm or outline.pitch_mm
    wide = (outline.columns - 1) * across
    long = (outline.rows - 1) * outline.pitch_mm
    if wide >= outline.body_width_mm.max or long >= outline.body_length_mm.max:
        return _finding(
            outline,
            "the grid is larger than the body",
            f"{wide:g} × {long:g} mm between outer balls",
            f"within {outline.body_width_mm.max:g} × {outline.body_length_mm.max:g} mm",
        )
    return None


def _drawings(outline: Outline) -> InputError | None:
    """Limits must span what each drawing says, no more and no less: a land must serve every maker's part."""
    for name, drawn in outline.drawn.items():
        limits = getattr(outline, name)
        lowest, highest = min(r.min for r in drawn.values()), max(r.max for r in drawn.values())
        if not isinstance(limits, Range) or (limits.min, limits.max) != (lowest, highest):
            found = limits.text() if isinstance(limits, Range) else "not given"
            return _finding(outline, f"{name} does not span its drawings", found, f"{lowest:g}…{highest:g}")
    return None


def _heights(outline: Outline) -> InputError | None:
    if outline.standoff_mm.min < 0 or outline.standoff_mm.max >= outline.height_mm.max:
        return _finding(
            outline,
            "the standoff does not fit under the height",
            outline.standoff_mm.text() + " mm",
            f"0 to less than {outline.height_mm.max:g} mm",
        )
    return None
