"""The report of a study: one self-contained page, a PDF with cards true to scale, data files and drawings."""

from __future__ import annotations

import base64
import json
import os
import shutil
import tempfile
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path

from landwise.board.result import BoardResult, board_result
from landwise.errors import FileError
from landwise.fabdata.footprints import ENDING, footprint
from landwise.fabdata.partfilms import part_films
from landwise.judging.results import PartResult, StudyResult
from landwise.results.answer import reply
from landwise.results.file import options_csv, result_schema, result_text
from landwise.sheets.boardpage import placing_picture_svg, tradeoff_svg
from landwise.sheets.cards import card_of
from landwise.sheets.landsheet import land_drawing
from landwise.sheets.lifepage import life_svg
from landwise.sheets.look import DARK, LIGHT, css
from landwise.sheets.pdf import svg_size_mm, typst_document
from landwise.sheets.pictures import area_against_cost, cost_parts, section_svg, window_svg
from landwise.sheets.reportdata import content_of
from landwise.sheets.servicepage import heat_svg, vibration_svg
from landwise.sheets.solder import part_solder
from landwise.study.file import schema as study_schema


@dataclass(frozen=True)
class Written:
    """The files of a report."""

    html: Path
    pdf: Path
    json: Path
    options: Path
    drawings: tuple[Path, ...]


def write_report(result: StudyResult | BoardResult, folder: Path, *, drawings: bool = True) -> Written:
    """Make every file of a study's report, then put them into the folder together.

    Raises
    ------
    FileError
        If the folder can't be made or written to; nothing is then changed.

    Notes
    -----
    All files are made in a temporary folder beside the target first, so that a failed run leaves an older
    report as it was.
    """
    ready_folder(folder)
    result = board_result(result)
    cards = [card_of(part, result.judged, prefix=f"card{number}") for number, part in enumerate(result.parts)]
    files: dict[str, bytes] = {
        "report.html": html_text(result, cards).encode(),
        "report.pdf": pdf_bytes(result, cards),
        "result.json": result_text(result).encode(),
        "options.csv": options_csv(result).encode(),
        "reply.txt": reply(result).encode(),
        "result.schema.json": (json.dumps(result_schema(), indent=1) + "\n").encode(),
        "landwise.schema.json": (json.dumps(study_schema(), indent=1) + "\n").encode(),
    }
    drawn = (
        {option.name: option for part in result.parts for option in (part.chosen, part.present) if option}
        if drawings
        else {}
    )
    for name, option in drawn.items():
        geometry = option.geometry
        files[f"lands/{name}.svg"] = land_drawing(
            geometry.outline,
            geometry.pattern,
            geometry.printed if geometry.printed.apertures else None,
            solder=part_solder(geometry.outline, geometry.stand, geometry.mounted),
        ).encode()
        for kind, film in part_films(geometry.pattern, geometry.printed).items():
            files[f"lands/{name}-{kind}.gbr"] = film
        files[f"lands/{name}{ENDING}"] = footprint(geometry.outline, geometry.pattern, geometry.printed).encode()
    _put(files, folder)
    return Written(
        folder / "report.html",
        folder / "report.pdf",
        folder / "result.json",
        folder / "options.csv",
        tuple(folder / name for name in files if name.endswith(".svg")),
    )


def ready_folder(folder: Path) -> None:
    """Make a folder, or say why it can't be."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FileError(
            "can't make the folder",
            file=str(folder),
            found=error.strerror or str(error),
            expected="a folder that can be written to",
        ) from None


def _put(files: dict[str, bytes], folder: Path) -> None:
    staging: str | None = None
    try:
        staging = tempfile.mkdtemp(prefix=".landwise-", dir=folder)
        os.chmod(staging, 0o755)
        for name, content in files.items():
            path = Path(staging, name)
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(content)
        for name in files:
            (folder / name).parent.mkdir(exist_ok=True)
            os.replace(Path(staging, name), folder / name)
    except OSError as error:
        raise FileError("can't write the report", file=str(folder), found=error.strerror or str(error)) from None
    finally:
        if staging:
            shutil.rmtree(staging, ignore_errors=True)


# --- the page ---


def html_text(result: StudyResult | BoardResult, cards: list[str]) -> str:
    """The report as one self-contained page: drawings and fonts inside, nothing loaded from outside."""
    result = board_result(result)
    from jinja2 import Environment, PackageLoader
    from markupsafe import Markup

    environment = Environment(
        loader=PackageLoader("landwise.sheets", "templates"), autoescape=True, trim_blocks=True, lstrip_blocks=True
    )
    return environment.get_template("report.html.j2").render(
        **content_of(result),
        pictures=[
            [Markup(svg) for svg in _pictures(part, number, result.judged)] for number, part in enumerate(result.parts)
        ],
        tradeoff=Markup(tradeoff_svg(result) or ""),
        life_curve=Markup(life_svg(result.judged) or ""),
        shake_map=Markup(vibration_svg(result.judged) or ""),
        warm_map=Markup(heat_svg(result.judged) or ""),
        placing=Markup(placing_picture_svg(result) or ""),
        cards=[Markup(card) for card in cards],  # our own drawings, whose texts are escaped when written
        light=LIGHT.colours,
        dark=DARK.colours,
        drawing_css=Markup(css(DARK)),
        fonts=_fonts(),
    )


def _pictures(part: PartResult, number: int, result: StudyResult) -> list[str]:
    unit = result.content.costs.unit
    made = [
        section_svg(part.chosen, f"section{number}") if part.chosen else None,
        window_svg(part.chosen, result, f"window{number}") if part.chosen else None,
        area_against_cost(part, unit, f"plane{number}"),
        cost_parts(part, unit, f"parts{number}"),
    ]
    return [svg for svg in made if svg]


@cache
def _fonts() -> dict[str, str]:
    folder = resources.files("landwise.sheets").joinpath("fonts")
    names = ("landwise-sans-regular", "landwise-sans-semibold", "landwise-mono-regular")
    return {name: base64.b64encode(folder.joinpath(f"{name}.woff2").read_bytes()).decode() for name in names}


def pdf_bytes(result: StudyResult | BoardResult, cards: list[str]) -> bytes:
    """The report as PDF: text pages, then each card on a page of its own size, true to its stated scale."""
    result = board_result(result)
    template = resources.files("landwise.sheets").joinpath("templates", "report.typ").read_text(encoding="utf-8")
    data = content_of(result)
    files: dict[str, bytes] = {}
    for number, card in enumerate(cards):
        width, height = svg_size_mm(card)
        data["parts"][number]["card"] = {"file": f"card{number}.svg", "width": width, "height": height}
        files[f"card{number}.svg"] = card.encode()
    for number, part in enumerate(result.parts):
        mapped = window_svg(part.chosen, result.judged, f"window{number}") if part.chosen else None
        data["parts"][number]["window"] = f"window{number}.svg" if mapped else None
        if mapped:
            files[f"window{number}.svg"] = mapped.encode()
    plot = tradeoff_svg(result)
    data["tradeoff"] = plot is not None
    if plot is not None:
        files["tradeoff.svg"] = plot.encode()
    curve = life_svg(result.judged)
    if curve is not None:
        files["life.svg"] = curve.encode()
    maps = {"shake.svg": vibration_svg(result.judged), "warm.svg": heat_svg(result.judged)}
    drawn = {name: svg for name, svg in maps.items() if svg is not None}
    data["maps"] = {name: svg_size_mm(svg)[0] for name, svg in drawn.items()}
    files |= {name: svg.encode() for name, svg in drawn.items()}
    placed = placing_picture_svg(result)
    data["placing"] = None
    if placed is not None:
        data["placing"] = {"width": svg_size_mm(placed)[0]}
        files["placing.svg"] = placed.encode()
    data["colours"] = dict(LIGHT.colours)
    return typst_document(template, data=data, files=files)
