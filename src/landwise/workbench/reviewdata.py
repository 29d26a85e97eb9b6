"""A review as the page's columns: outlines once, figures for each foil. Numbers as base64 of little-endian arrays."""

from __future__ import annotations

import base64

import numpy as np

from landwise.review.causes import named
from landwise.review.checks import KEYS
from landwise.review.foilchoice import FoilRow
from landwise.review.mending import RULES
from landwise.review.reviews import Review, SideReview
from landwise.review.verdicts import word
from landwise.sheets.reviewboard import NARROW_MARGIN
from landwise.sheets.reviewcontent import expected, headline, small
from landwise.untyped import Fields

MOST_FINDINGS = 400
ROUND_MM = 0.004  # chords of round outlines stay this near; the figures use the true outlines


def overview(result: Review) -> Fields:
    """What the page says before anything is drawn."""
    return {
        "board": result.board.name,
        "headline": headline(result),
        "verdict": result.verdict,
        "line": f"{result.line.name}, {result.line.technology} foils, {result.powder} powder",
        "reading": list(result.board.reading),
        "notes": list(result.notes),
        "foils": list(result.foils_um),
        "narrow": NARROW_MARGIN,
        "sides": [_side(side) for side in result.sides],
    }


def _side(side: SideReview) -> dict[str, object]:
    given = side.given
    step = side.choice.step
    return {
        "side": side.side,
        "apertures": len(given.paste),
        "best": side.choice.best_um,
        "says": side.choice.says,
        "foils": [foil_row(row) for row in side.choice.rows],
        "step": None if step is None else f"{step.thin_um:g} µm in {step.base_um:g} µm, {len(step.zones)} zones",
        "changes": len(side.written),
        "expected": expected(*side.expected),
        "equal": list(side.choice.equal_um),
        "proposals": [
            {
                "number": one.number,
                "rule": RULES[one.rule],
                "package": one.package,
                "parts": named(one.parts) or "–",
                "what": one.what,
                "reason": one.reason,
                "asked": one.asked,
                "openings": sum(change.proposal == one.number for change in side.changes),
                "state": _state(side, one.number),
                "defects": "not known"
                if one.defects_before is None or one.defects_after is None
                else f"{small(one.defects_before)} → {small(one.defects_after)}",
            }
            for one in side.proposals
        ],
        "findings": [
            {
                "check": KEYS[f.key],
                "level": f.level,
                "component": f.component or "–",
                "says": f.says,
                "x": round(f.x_mm, 3),
                "y": round(f.y_mm, 3),
                "apertures": list(f.apertures[:200]),
            }
            for f in side.findings[:MOST_FINDINGS]
        ],
        "more": max(0, len(side.findings) - MOST_FINDINGS),
    }


def _state(side: SideReview, number: int) -> str:
    """What was decided on a proposal's openings, if one thing was."""
    said = {change.decided for change in side.changes if change.proposal == number}
    return said.pop() if len(said) == 1 else ""


def foil_row(row: FoilRow) -> dict[str, object]:
    """One foil of the comparison, worded as in the report."""
    return {
        "um": row.foil_um,
        "holds": row.holds,
        "marginal": row.marginal,
        "fails": row.fails,
        "ratio": f"{row.least_ratio:.2f}",
        "defects": expected(row.defects, row.defects_low, row.defects_high),
        "after": expected(row.after, row.after_low, row.after_high),
    }


def shapes(side: SideReview, outline: object) -> Fields:
    """What is drawn whatever the foil: openings, lands, board, zones, and what names them."""
    import shapely

    given, paste = side.given, side.given.paste
    edge = [] if outline is None else list(shapely.get_parts(outline))
    zones = [] if side.choice.step is None else list(side.choice.step.zones)
    names = [part.name for part in given.parts]
    after = [shape for change in side.changes for shape in change.after]
    return {
        "side": side.side,
        "openings": rings(paste.polygon),
        "lands": rings(given.lands.polygon) if given.lands.basis != "paste" else rings([]),
        "board": rings(edge),
        "zones": rings(zones),
        "after": rings(after),
        "x": floats(paste.x_mm),
        "y": floats(paste.y_mm),
        "length": floats(paste.length_mm),
        "width": floats(paste.width_mm),
        "area": floats(paste.area_mm2),
        "part": integers(given.part_of),
        "parts": names,
        "pins": [str(pin) for pin in paste.pin],
        "changes": {str(c.aperture): f"{c.what}: {c.reason}; {c.effect}" for c in side.changes if c.aperture >= 0},
    }


def under(side: SideReview, foil_um: float) -> Fields:
    """The figures of every aperture under one foil.

    Raises
    ------
    KeyError
        If the foil is not one that was compared.
    """
    found = side.unders[foil_um]
    return {
        "um": foil_um,
        "code": base64.b64encode(found.code.astype("<u1").tobytes()).decode(),
        "margin": floats(found.margin),
        "ratio": floats(found.area_ratio),
        "aspect": floats(found.aspect_ratio),
        "transfer": floats(found.mean),
        "low": floats(found.low),
        "high": floats(found.high),
        "paste": floats(1000 * found.paste_mm3),
        "solder": floats(1000 * found.solder_mm3),
        "share": floats(found.share),
        "gap": floats(found.gap_mm),
        "starved": floats(found.starved),
        "touching": floats(found.touching),
        "reasons": [
            {"name": name, "code": base64.b64encode(codes.astype("<u1").tobytes()).decode()}
            for name, codes in (
                ("release", found.release),
                ("powder", found.powder_code),
                ("contact", found.contact),
                ("volume", found.volume),
                ("bridging", found.bridge),
            )
        ],
        "words": [word(k) for k in range(4)],
    }


def rings(polygons: object) -> dict[str, object]:
    """Outlines as one run of points: `points` x, y in turn, `starts` of each ring in points, `owner` of each ring."""
    import shapely

    many = np.atleast_1d(np.asarray(polygons, dtype=object))
    if not many.size:
        return {"points": floats(np.zeros(0)), "starts": integers(np.zeros(0)), "owner": integers(np.zeros(0))}
    round_ones = shapely.get_num_coordinates(many) > 12
    if round_ones.any():
        many = many.copy()
        many[round_ones] = shapely.simplify(many[round_ones], ROUND_MM)
    found, owner = shapely.get_rings(many, return_index=True)
    counts = shapely.get_num_points(found)
    starts = np.concatenate([[0], np.cumsum(counts)[:-1]])
    return {
        "points": floats(shapely.get_coordinates(found).ravel()),
        "starts": integers(starts),
        "owner": integers(owner),
    }


def floats(values: object) -> str:
    """An array as base64 of 32-bit floats; what is not finite becomes NaN."""
    array = np.asarray(values, dtype=np.float64)
    return base64.b64encode(np.where(np.isfinite(array), array, np.nan).astype("<f4").tobytes()).decode()


def integers(values: object) -> str:
    """An array as base64 of 32-bit integers."""
    return base64.b64encode(np.asarray(values).astype("<i4").tobytes()).decode()
