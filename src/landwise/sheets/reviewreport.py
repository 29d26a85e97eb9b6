"""The report of a review: one self-contained page, a PDF, data files and tables."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from importlib import resources
from pathlib import Path

from landwise.heap import give_back
from landwise.review.comparing import SideCompared, compared_csv
from landwise.review.decisions import decisions_text
from landwise.review.model import Array, Finding
from landwise.review.reviewfile import review_text
from landwise.review.reviews import Review, SideReview
from landwise.review.reviewschema import review_schema
from landwise.review.reviewtables import changes_csv, findings_csv
from landwise.sheets.files import ready_folder, write_together
from landwise.sheets.htmlpage import drawing, html_page
from landwise.sheets.look import LIGHT
from landwise.sheets.pdf import if_installed, svg_size_mm, typst_document
from landwise.sheets.reviewboard import board_svg, details_svg, worst_findings
from landwise.sheets.reviewcharts import area_ratio_svg, volume_svg
from landwise.sheets.reviewcontent import compared, content_of, pictured
from landwise.sheets.revieworder import order_of, order_pdf, order_text
from landwise.untyped import Fields


@dataclass(frozen=True)
class Drawings:
    """The pictures of one side."""

    board: str
    details: tuple[tuple[Finding, str], ...]
    charts: tuple[str, ...]


@dataclass(frozen=True)
class More:
    """What a review's files hold beside it: an older revision held against, a panel that was built, the day."""

    compared: tuple[SideCompared, ...] = ()
    array: Array | None = None
    places: tuple[tuple[float, float], ...] = ()
    day: date | None = None


@dataclass(frozen=True)
class WrittenReview:
    """The folder and the names of what was written."""

    folder: Path
    names: tuple[str, ...]


def write_review(
    result: Review, folder: Path, layers: Mapping[str, bytes] | None = None, more: More | None = None
) -> WrittenReview:
    """Make every file of a review, then put them into the folder together.

    Parameters
    ----------
    result : Review
    folder : Path
    layers : mapping of file name to content, optional
        Corrected paste and step layers.
    more : More, optional

    Raises
    ------
    FileError
        If the folder can't be made or written to; nothing is then changed.
    """
    ready_folder(folder)
    files = review_files(result, layers, more)
    write_together(folder, files)
    return WrittenReview(folder, tuple(files))


def review_files(
    result: Review, layers: Mapping[str, bytes] | None = None, more: More | None = None
) -> dict[str, bytes]:
    """Every file of a review's report, by name; `layers` are the corrected paste and step layers."""
    drawings = [_drawings(side, result, number) for number, side in enumerate(result.sides)]
    content = content_of(result, [[finding for finding, _ in drawn.details] for drawn in drawings])
    shown = _causes_svg(result)
    more = more or More()
    content["compared"] = [compared(side) for side in more.compared]
    order = order_of(result, layers or {}, more.day or date.today(), more.array, more.places)

    def pdf() -> bytes:
        # The largest piece of work of all, and what drawings and tables have freed lies scattered.
        give_back(sum(len(side.given.paste) for side in result.sides))
        return _pdf(content, drawings, shown)

    return {
        "report.html": _html(content, drawings, shown).encode(),
        "review.json": review_text(result).encode(),
        "review.schema.json": (json.dumps(review_schema(), indent=1) + "\n").encode(),
        "changes.csv": changes_csv(result).encode(),
        "findings.csv": findings_csv(result).encode(),
        **if_installed({"report.pdf": pdf, "order.pdf": lambda: order_pdf(order)}),
        "order.txt": order_text(order).encode(),
        **({"compared.csv": compared_csv(more.compared).encode()} if more.compared else {}),
        "decisions.toml": decisions_text(
            [one for side in result.sides for one in side.proposals],
            result.asked.decisions,
            [change for side in result.sides for change in side.changes],
        ).encode(),
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


def _causes_svg(result: Review) -> list[str]:
    """The first page's pictures: the worst place of each of the first causes, enlarged."""
    sides = {side.side: side for side in result.sides}
    found = []
    for number, cause in enumerate(pictured(result)):
        found += details_svg(sides[cause.worst.side], [cause.worst], f"cause{number}-")
    return found


# --- the page and the PDF ---


def _html(content: Fields, drawings: list[Drawings], shown: list[str]) -> str:
    pictures = [
        {
            "board": drawing(d.board),
            "details": [drawing(svg) for _, svg in d.details],
            "charts": [drawing(c) for c in d.charts],
        }
        for d in drawings
    ]
    told = {**content, "pictures": pictures, "cause_pictures": [drawing(svg) for svg in shown]}
    return html_page("review.html.j2", told)


def _pdf(content: Fields, drawings: list[Drawings], shown: list[str]) -> bytes:
    template = resources.files("landwise.sheets").joinpath("templates", "review.typ").read_text(encoding="utf-8")
    files: dict[str, bytes] = {}

    def placed(name: str, svg: str) -> Fields:
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
    data = {**content, "sides": sides, "colours": dict(LIGHT.colours)}
    data["pictured"] = [
        {**told, **placed(f"cause{k}.svg", svg)}
        for k, (told, svg) in enumerate(zip(content["pictured"], shown, strict=True))
    ]
    return typst_document(template, data=data, files=files)
