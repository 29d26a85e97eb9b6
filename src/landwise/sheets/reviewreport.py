"""The report of a review: one self-contained page, a PDF, data files and tables."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np

from landwise.evidence.sources import all_sources
from landwise.quantities import significant
from landwise.review.findings import KEYS
from landwise.review.foilchoice import FoilRow
from landwise.review.model import Finding
from landwise.review.reviewfile import changes_csv, findings_csv, review_schema, review_text
from landwise.review.reviews import Review, SideReview
from landwise.sheets.look import DARK, LIGHT, VERDICT_LOOKS, css
from landwise.sheets.pdf import svg_size_mm, typst_document
from landwise.sheets.report import _fonts, _put, ready_folder
from landwise.sheets.reportdata import CAUTIONS
from landwise.sheets.reviewboard import board_svg, details_svg, worst_findings
from landwise.sheets.reviewcharts import area_ratio_svg, volume_svg
from landwise.version import DATA_DATE, __version__

MOST_FINDINGS, MOST_CHANGES, MOST_PARTS = 60, 80, 40
HOW_COUNTED = (
    "Expected defects count prints with less than half of their land's paste and prints that run together with a"
    " neighbour, from this model's transfer band and measured slump alone. They rank foils and parts; they are no"
    " capability data of a line."
)


@dataclass(frozen=True)
class Drawings:
    """The pictures of one side."""

    board: str
    details: tuple[tuple[Finding, str], ...]
    charts: tuple[str, ...]


@dataclass(frozen=True)
class WrittenReview:
    """The folder and the names of what was written."""

    folder: Path
    names: tuple[str, ...]


def write_review(result: Review, folder: Path, layers: Mapping[str, bytes] | None = None) -> WrittenReview:
    """Make every file of a review, then put them into the folder together.

    Parameters
    ----------
    result : Review
    folder : Path
    layers : mapping of file name to content, optional
        Corrected paste and step layers.

    Raises
    ------
    FileError
        If the folder can't be made or written to; nothing is then changed.
    """
    ready_folder(folder)
    files = review_files(result, layers)
    _put(files, folder)
    return WrittenReview(folder, tuple(files))


def review_files(result: Review, layers: Mapping[str, bytes] | None = None) -> dict[str, bytes]:
    """Every file of a review's report, by name; `layers` are the corrected paste and step layers."""
    drawings = [_drawings(side, result, number) for number, side in enumerate(result.sides)]
    content = content_of(result, drawings)
    return {
        "report.html": _html(content, drawings).encode(),
        "report.pdf": _pdf(content, drawings),
        "review.json": review_text(result).encode(),
        "review.schema.json": (json.dumps(review_schema(), indent=1) + "\n").encode(),
        "changes.csv": changes_csv(result).encode(),
        "findings.csv": findings_csv(result).encode(),
        **(layers or {}),
    }


def _drawings(side: SideReview, result: Review, number: int) -> Drawings:
    worst = worst_findings(side)
    charts = (area_ratio_svg(side, f"ratio{number}"), volume_svg(side, f"volume{number}"))
    return Drawings(
        board_svg(side, result.board.outline, f"board{number}"),
        tuple(zip(worst, details_svg(side, worst, f"detail{number}-"), strict=True)),
        tuple(chart for chart in charts if chart),
    )


# --- what both forms say ---


def content_of(result: Review, drawings: list[Drawings]) -> dict[str, Any]:
    """Everything the report says, as plain data for the page's and the PDF's templates."""
    used = {key for finding in result.findings for key in finding.sources} | {"transfer-prior-memory", "slump-ipc-a-21"}
    sources = all_sources()
    return {
        "board": result.board.name,
        "headline": headline(result),
        "verdict": _look(result.verdict),
        "reading": list(result.board.reading),
        "notes": list(result.notes),
        "line": f"{result.line.name} ({result.line.says}), {result.line.technology} foils, {result.powder} powder",
        "sides": [_side(side, drawn) for side, drawn in zip(result.sides, drawings, strict=True)],
        "run": result.run,
        "cautions": list(CAUTIONS),
        "how": HOW_COUNTED,
        "sources": [
            {"title": sources[k].title, "where": sources[k].where, "mark": sources[k].mark}
            for k in sorted(used)
            if k in sources
        ],
        "version": __version__,
        "data_date": DATA_DATE,
    }


def headline(result: Review) -> str:
    """What to do, in a few sentences."""
    bits = []
    for side in result.sides:
        levels = [finding.level for finding in side.findings]
        fails, marginal = levels.count("fails"), levels.count("marginal")
        said = [_many(fails, "finding fails", "findings fail"), _many(marginal, "is marginal", "are marginal")]
        found = ", ".join(said) if fails or marginal else "nothing to mend"
        bits.append(
            f"{side.side.capitalize()}, {len(side.given.paste)} apertures: {found}. {_capital(side.choice.says)}."
        )
        if side.changes:
            row, after = side.given.under.defects[0], side.after_row.defects
            bits.append(
                f"The corrected layer changes {_many(len(side.changes), 'aperture', 'apertures')}; expected defects on"
                f" a board: {_small(row)} before, {_small(after)} after."
            )
    return " ".join(bits)


def _many(count: int, one: str, more: str) -> str:
    return f"{count} {one if count == 1 else more}"


def _small(value: float) -> str:
    return "< 0.0005" if value < 5e-4 else significant(value, 2)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _look(verdict: Any) -> dict[str, str]:
    look = VERDICT_LOOKS[verdict]
    return {"word": look.word, "sign": look.sign}


def _expected(value: float, low: float, high: float) -> str:
    if high < 5e-4:
        return "< 0.0005"
    return f"{significant(value, 2)} ({significant(low, 2)}…{significant(high, 2)})"


def _foil(row: FoilRow, best: float) -> dict[str, Any]:
    return {
        "um": f"{row.foil_um:g}",
        "best": row.foil_um == best,
        "holds": row.holds,
        "marginal": row.marginal,
        "fails": row.fails,
        "ratio": f"{row.least_ratio:.2f}",
        "defects": _expected(row.defects, row.defects_low, row.defects_high),
    }


def _side(side: SideReview, drawn: Drawings) -> dict[str, Any]:
    given = side.given
    step = side.choice.step
    return {
        "side": side.side,
        "apertures": len(given.paste),
        "parts_count": len(side.parts),
        "lands_from": given.lands.basis,
        "says": _capital(side.choice.says) + ".",
        "best": f"{side.choice.best_um:g}",
        "foils": [_foil(row, side.choice.best_um) for row in side.choice.rows],
        "after": _foil(side.after_row, side.choice.best_um),
        "step": (
            None
            if step is None
            else {
                "text": (
                    f"{len(step.zones)} zone{'s' if len(step.zones) > 1 else ''} of {step.thin_um:g} µm in a foil of"
                    f" {step.base_um:g} µm, {int(step.apertures.sum())} apertures in them. Kept clear:"
                    f" {step.keep_out_mm:.2f} mm from a step's edge to the first aperture inside (0.9 mm per 25 µm),"
                    f" {step.keep_out_thick_mm:.2f} mm to the first outside (from memory)."
                ),
                "row": _foil(step.row, side.choice.best_um),
                "money": (
                    f"{significant(step.saves, 2)} ({significant(step.saves_low, 2)}…{significant(step.saves_high, 2)})"
                ),
                "pays": step.pays,
            }
        ),
        "findings": [_finding(f) for f in side.findings[:MOST_FINDINGS]],
        "more_findings": max(0, len(side.findings) - MOST_FINDINGS),
        "parts": [_part(side, k) for k in range(min(len(side.parts), MOST_PARTS)) if side.parts[k].verdict != "holds"],
        "changes": [
            {
                "component": c.component or "–",
                "aperture": c.aperture,
                "what": c.what,
                "reason": c.reason,
                "effect": c.effect,
            }
            for c in side.changes[:MOST_CHANGES]
        ],
        "more_changes": max(0, len(side.changes) - MOST_CHANGES),
        "details": [
            {"title": f"{f.component or 'no part'}: {KEYS[f.key]}", "says": f.says, **_look(f.level)}
            for f, _ in drawn.details
        ],
        "film": _film(side),
    }


def _film(side: SideReview) -> str:
    film = side.given.registration
    if film is None:
        return ""
    shift = 1000 * float(np.hypot(film.shift_x_mm, film.shift_y_mm))
    return (
        f"Paste film against copper, from {film.count} lands: shifted {shift:.1f} µm, scale {film.scale_ppm:+.0f} ppm,"
        f" turn {film.turn_urad:+.0f} µrad."
    )


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        **_look(finding.level),
        "check": KEYS[finding.key],
        "component": finding.component or "–",
        "says": finding.says,
        "at": f"{finding.x_mm:.1f}, {finding.y_mm:.1f}",
        "apertures": len(finding.apertures),
    }


def _part(side: SideReview, number: int) -> dict[str, Any]:
    verdict = side.parts[number]
    part = side.given.parts[verdict.part]
    return {
        "name": part.name,
        "kind": part.kind + (f", {part.package}" if part.package else ""),
        "lands": len(part.lands),
        "pitch": "–" if part.pitch_mm is None else f"{part.pitch_mm:.2f}",
        "ratio": f"{verdict.least_ratio:.2f}",
        "defects": _small(verdict.defects),
        **_look(verdict.verdict),
    }


# --- the page and the PDF ---


def _html(content: dict[str, Any], drawings: list[Drawings]) -> str:
    from jinja2 import Environment, PackageLoader
    from markupsafe import Markup

    environment = Environment(
        loader=PackageLoader("landwise.sheets", "templates"), autoescape=True, trim_blocks=True, lstrip_blocks=True
    )
    # Our own drawings, whose texts are escaped when written.
    pictures = [
        {
            "board": Markup(d.board),
            "details": [Markup(svg) for _, svg in d.details],
            "charts": [Markup(c) for c in d.charts],
        }
        for d in drawings
    ]
    return environment.get_template("review.html.j2").render(
        **content,
        pictures=pictures,
        light=LIGHT.colours,
        dark=DARK.colours,
        drawing_css=Markup(css(DARK)),
        fonts=_fonts(),
    )


def _pdf(content: dict[str, Any], drawings: list[Drawings]) -> bytes:
    template = resources.files("landwise.sheets").joinpath("templates", "review.typ").read_text(encoding="utf-8")
    files: dict[str, bytes] = {}

    def placed(name: str, svg: str) -> dict[str, Any]:
        width, height = svg_size_mm(svg)
        files[name] = svg.encode()
        return {"file": name, "width": width, "height": height}

    sides = []
    for number, (side, drawn) in enumerate(zip(content["sides"], drawings, strict=True)):
        sides.append(
            {
                **side,
                "board": placed(f"board{number}.svg", drawn.board),
                "charts": [placed(f"chart{number}-{k}.svg", svg) for k, svg in enumerate(drawn.charts)],
                "details": [
                    {**told, **placed(f"detail{number}-{k}.svg", svg)}
                    for k, (told, (_, svg)) in enumerate(zip(side["details"], drawn.details, strict=True))
                ],
            }
        )
    return typst_document(template, data={**content, "sides": sides, "colours": dict(LIGHT.colours)}, files=files)
