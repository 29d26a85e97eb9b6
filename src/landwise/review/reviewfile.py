"""review.json: all of a review as data."""

from __future__ import annotations

import json
from collections.abc import Mapping

import numpy as np

from landwise.evidence.sources import all_sources
from landwise.review.foilchoice import FoilRow, Step
from landwise.review.model import Change, Finding, Proposal
from landwise.review.reviews import Review, SideReview
from landwise.review.reviewschema import SCHEMA_VERSION
from landwise.review.verdicts import word
from landwise.untyped import Fields
from landwise.version import DATA_DATE, __version__


def review_text(result: Review) -> str:
    """review.json of a review."""
    return json.dumps(review_data(result), ensure_ascii=False, separators=(",", ":")) + "\n"


def review_data(result: Review) -> dict[str, object]:
    """The same as plain data."""
    used = {key for finding in result.findings for key in finding.sources}
    sources = all_sources()
    return {
        "schema_version": SCHEMA_VERSION,
        "landwise": __version__,
        "data_date": DATA_DATE,
        "board": result.board.name,
        "line": result.line.name,
        "technology": result.line.technology,
        "powder": result.powder,
        "foils_um": list(result.foils_um),
        "run": result.run,
        "verdict": result.verdict,
        "reading": list(result.board.reading),
        "notes": list(result.notes),
        "sides": [_side(side) for side in result.sides],
        "sources": {
            key: {"title": sources[key].title, "where": sources[key].where, "mark": sources[key].mark}
            for key in sorted(used)
        },
    }


def _side(side: SideReview) -> dict[str, object]:
    given, film = side.given, side.given.registration
    rows = {verdict.part: number for number, verdict in enumerate(side.parts)}
    written = Written(side)
    return {
        "side": side.side,
        "lands_from": given.lands.basis,
        "best_foil_um": side.choice.best_um,
        "equal_foils_um": list(side.choice.equal_um),
        "uncorrected_foil_um": side.choice.uncorrected_um,
        "says": side.choice.says,
        "foils": [_foil(row) for row in side.choice.rows],
        "step": None if side.choice.step is None else _step(side.choice.step),
        "registration": None
        if film is None
        else {
            "shift_x_mm": round(film.shift_x_mm, 6),
            "shift_y_mm": round(film.shift_y_mm, 6),
            "scale_ppm": round(film.scale_ppm, 2),
            "turn_urad": round(film.turn_urad, 2),
            "rest_mm": round(film.rest_mm, 6),
            "lands": float(film.count),
        },
        "findings": [_finding(finding) for finding in side.findings],
        "parts": [_part(side, number) for number in range(len(side.parts))],
        "proposals": [_proposal(one) for one in side.proposals],
        "changes": [_change(change, change in written) for change in side.changes],
        "expected": [_short(value) for value in side.expected],
        "apertures": _apertures(side, rows),
    }


def _foil(row: FoilRow) -> dict[str, object]:
    return {
        "foil_um": row.foil_um,
        "holds": row.holds,
        "marginal": row.marginal,
        "fails": row.fails,
        "least_area_ratio": round(row.least_ratio, 4),
        "defects": _short(row.defects),
        "defects_low": _short(row.defects_low),
        "defects_high": _short(row.defects_high),
        "after": _short(row.after),
        "after_low": _short(row.after_low),
        "after_high": _short(row.after_high),
        "parts_told": row.told,
        "parts": row.parts,
    }


def _short(value: float) -> float:
    return float(f"{value:.4g}")


def _step(step: Step) -> dict[str, object]:
    return {
        "base_um": step.base_um,
        "thin_um": step.thin_um,
        "keep_out_mm": step.keep_out_mm,
        "keep_out_thick_mm": step.keep_out_thick_mm,
        "zones": [[[round(x, 6), round(y, 6)] for x, y in zone.exterior.coords] for zone in step.zones],
        "apertures": int(step.apertures.sum()),
        "parts": list(step.parts),
        "defects": _short(step.defects),
        "saves": _short(step.saves),
        "saves_low": _short(step.saves_low),
        "saves_high": _short(step.saves_high),
    }


def _finding(finding: Finding) -> dict[str, object]:
    return {
        "key": finding.key,
        "level": finding.level,
        "component": finding.component,
        "apertures": list(finding.apertures),
        "x_mm": round(finding.x_mm, 4),
        "y_mm": round(finding.y_mm, 4),
        "says": finding.says,
        "value": finding.value,
        "limit": finding.limit,
        "unit": finding.unit,
        "sources": list(finding.sources),
    }


def _part(side: SideReview, number: int) -> Fields:
    verdict = side.parts[number]
    part = side.given.parts[verdict.part]
    return {
        "name": part.name,
        "kind": part.kind,
        "named_by": part.named_by,
        "package": part.package,
        "lands": len(part.lands),
        "apertures": verdict.apertures,
        "pitch_mm": None if part.pitch_mm is None else round(part.pitch_mm, 4),
        "x_mm": round(part.x_mm, 4),
        "y_mm": round(part.y_mm, 4),
        "verdict": verdict.verdict,
        "least_area_ratio": round(verdict.least_ratio, 4),
        "defects": _short(verdict.defects),
        "defects_counted": verdict.known,
    }


class Written:
    """Which changes of a side are in its corrected layer."""

    def __init__(self, side: SideReview) -> None:
        self._keys = {self._key(change) for change in side.written}

    @staticmethod
    def _key(change: Change) -> tuple[int, int, int]:
        return change.proposal, change.unit, change.aperture

    def __contains__(self, change: Change) -> bool:
        return self._key(change) in self._keys


def _proposal(one: Proposal) -> dict[str, object]:
    return {
        "number": one.number,
        "rule": one.rule,
        "package": one.package,
        "parts": list(one.parts),
        "what": one.what,
        "reason": one.reason,
        "asked": one.asked,
        "defects_before": None if one.defects_before is None else _short(one.defects_before),
        "defects_after": None if one.defects_after is None else _short(one.defects_after),
        "rejects_before": _short(one.rejects_before),
        "rejects_after": _short(one.rejects_after),
    }


def _change(change: Change, written: bool) -> dict[str, object]:
    return {
        "proposal": change.proposal,
        "x_mm": round(change.x_mm, 4),
        "y_mm": round(change.y_mm, 4),
        "decided": change.decided,
        "written": written,
        "aperture": change.aperture,
        "component": change.component,
        "what": change.what,
        "reason": change.reason,
        "effect": change.effect,
        "area_before_mm2": round(change.area_before_mm2, 6),
        "area_after_mm2": round(change.area_after_mm2, 6),
        "area_ratio_before": _or_none(change.ratio_before),
        "area_ratio_after": _or_none(change.ratio_after),
    }


def _or_none(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


def _apertures(side: SideReview, rows: Mapping[int, int]) -> Fields:
    paste, under, matched = side.given.paste, side.given.under, side.given.matched

    def column(values: object, digits: int = 4) -> list[float] | list[float | None]:
        array = np.asarray(values, dtype=float)
        listed: list[float] = np.round(array, digits).tolist()
        if np.isfinite(array).all():
            return listed
        return [value if np.isfinite(value) else None for value in listed]

    table = np.array([rows.get(k, -1) for k in range(len(side.given.parts))] + [-1])
    words = [word(k) for k in range(4)]
    return {
        "x_mm": column(paste.x_mm),
        "y_mm": column(paste.y_mm),
        "length_mm": column(paste.length_mm),
        "width_mm": column(paste.width_mm),
        "area_mm2": column(paste.area_mm2, 6),
        "area_ratio": column(under.area_ratio),
        "transfer": column(under.mean),
        "transfer_low": column(under.low),
        "transfer_high": column(under.high),
        "paste_mm3": column(under.paste_mm3, 6),
        "solder_mm3": column(under.solder_mm3, 6),
        "land_share": column(under.share),
        "gap_mm": column(under.gap_mm),
        "on_land": column(matched.on_land),
        "part": table[side.given.part_of].tolist(),
        "verdict": [words[k] for k in under.code.tolist()],
    }
