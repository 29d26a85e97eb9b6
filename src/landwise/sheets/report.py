"""The report of a study: the answer on one page and a card for each open decision, an annex, tables, drawings."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from concurrent.futures import Future
from dataclasses import dataclass
from functools import cached_property
from importlib import resources
from importlib.metadata import version
from pathlib import Path
from typing import TypedDict

from landwise.board.result import BoardResult, board_result
from landwise.judging.bench import Geometry
from landwise.judging.results import OptionResult, PartResult, StudyResult
from landwise.memory import known
from landwise.results.answer import reply
from landwise.results.file import options_csv, result_schema, result_text
from landwise.sheets.beside import beside
from landwise.sheets.boardpage import placing_picture_svg, tradeoff_svg
from landwise.sheets.cards import card_of
from landwise.sheets.files import ready_folder, write_together
from landwise.sheets.frontpage import NARROW_MM, before_after_svg, front_data, gain_svg
from landwise.sheets.glossary import used_in
from landwise.sheets.htmlpage import drawing, html_page
from landwise.sheets.landsheet import land_drawing
from landwise.sheets.lifepage import life_svg
from landwise.sheets.look import LIGHT
from landwise.sheets.pdf import can_be_made, if_installed, svg_size_mm, typst_document
from landwise.sheets.pictures import area_against_cost, cost_parts, section_svg, window_svg
from landwise.sheets.reportdata import Content, content_of
from landwise.sheets.servicepage import heat_svg, vibration_svg
from landwise.sheets.slides import Pack, slide_files
from landwise.sheets.solder import part_solder
from landwise.sheets.workbook import workbook
from landwise.study.file import schema as study_schema


@dataclass(frozen=True)
class Written:
    """The files of a report; PDF and tables only where the extras that make them are installed."""

    html: Path
    pdf: Path | None
    json: Path
    options: Path
    annex: Path
    tables: Path | None
    drawings: tuple[Path, ...]


def write_report(
    result: StudyResult | BoardResult,
    folder: Path,
    *,
    drawings: bool = True,
    pack: Pack | None = None,
) -> Written:
    """Make every file of a study's report, then put them into the folder together.

    Parameters
    ----------
    result : StudyResult or BoardResult
    folder : Path
    drawings : bool
        Whether land drawings and films of the chosen and the present outlines are among them.
    pack : Pack, optional
        Slides as well.

    Raises
    ------
    FileError
        If the folder can't be made or written to; nothing is then changed.

    Notes
    -----
    Everything is made first and written under temporary names, so that a failed run leaves an older report as it was.
    """
    ready_folder(folder)
    result = board_result(result)
    cards = [card_of(part, result.judged, prefix=f"card{number}") for number, part in enumerate(result.parts)]
    once = Once(result)
    papers = _papers_begun(result, cards, once)
    files: dict[str, bytes] = {
        "report.html": html_text(result, cards, once).encode(),
        "annex.html": annex_html(result, cards, once).encode(),
        "result.json": result_text(result).encode(),
        "options.csv": options_csv(result).encode(),
        "reply.txt": reply(result).encode(),
        "result.schema.json": _schema_text("result", result_schema),
        "landwise.schema.json": _schema_text("study", study_schema),
        **if_installed({"tables.xlsx": lambda: workbook(result)}),
    }
    drawn = (
        {option.name: option for part in result.parts for option in (part.chosen, part.present) if option}
        if drawings
        else {}
    )
    for name, option in drawn.items():
        geometry = option.geometry
        files[f"lands/{name}.svg"] = _land_svg(option).encode()
        files |= {f"lands/{name}{ending}": text.encode() for ending, text in _land_files(geometry)}
    if pack is not None:
        files |= slide_files(_shown(result, cards), pack)
    files |= papers.result()
    write_together(folder, files)
    return Written(
        folder / "report.html",
        folder / "report.pdf" if "report.pdf" in files else None,
        folder / "result.json",
        folder / "options.csv",
        folder / "annex.html",
        folder / "tables.xlsx" if "tables.xlsx" in files else None,
        tuple(folder / name for name in files if name.endswith(".svg")),
    )


def _papers_begun(result: BoardResult, cards: list[str], once: Once) -> Future[dict[str, bytes]]:
    """The report's PDF files, begun: their compiler needs no interpreter while the other files are made."""
    makes = {"report.pdf": _printed, "annex.pdf": _annex_printed}
    printed = {name: makes[name](result, cards, once) for name in can_be_made(makes)}
    return beside(lambda: {name: typst_document(**one) for name, one in printed.items()})


def _schema_text(name: str, make: Callable[[], object]) -> bytes:
    """A schema as a file, made once for a version of ours and of the library that makes it."""
    return known(lambda: json.dumps(make(), indent=1) + "\n", "schema", name, version("pydantic")).encode()


def _land_svg(option: OptionResult) -> str:
    """The drawing of an option's lands, made once for the same lands, print and solder."""
    geometry = option.geometry
    printed = geometry.printed if geometry.printed.apertures else None
    solder = part_solder(geometry.outline, geometry.stand, geometry.mounted)
    return known(
        lambda: land_drawing(geometry.outline, geometry.pattern, printed, solder=solder), "land drawing", geometry.mark
    )


def _land_files(geometry: Geometry) -> tuple[tuple[str, str], ...]:
    """Films and footprint of an option's lands, each with the end of its name; made once, as the drawing."""

    def made() -> tuple[tuple[str, str], ...]:
        # Loaded here: a board that finds its films kept needs nothing that writes them.
        from landwise.fabdata.footprints import ENDING, footprint
        from landwise.fabdata.partfilms import part_films

        films = part_films(geometry.pattern, geometry.printed)
        return (
            *((f"-{kind}.gbr", film.decode()) for kind, film in films.items()),
            (ENDING, footprint(geometry.outline, geometry.pattern, geometry.printed)),
        )

    return known(made, "land files", geometry.mark)


def write_data(result: BoardResult, folder: Path) -> None:
    """What takes no drawing: `result.json`, `options.csv`, `reply.txt`, where a report was stopped.

    Raises
    ------
    FileError
        If the folder can't be made or written to.
    """
    ready_folder(folder)
    files = {
        "result.json": result_text(result).encode(),
        "options.csv": options_csv(result).encode(),
        "reply.txt": reply(result).encode(),
    }
    write_together(folder, files)


def _shown(result: BoardResult, cards: list[str]) -> dict[str, str]:
    """The pictures for a speaker: before and after, the gain, the trade-off, and every part's card."""
    trays = before_after_svg(result)
    found = {
        "slides/before-after": trays[0] if trays else None,
        "slides/gain": gain_svg(result),
        "slides/trade-off": tradeoff_svg(result),
        **{f"slides/card-{_plain(part.part.refs[0])}": card for part, card in zip(result.parts, cards, strict=True)},
    }
    return {name: svg for name, svg in found.items() if svg}


def _plain(reference: str) -> str:
    """A reference as a file name: whatever a bill wrote, it names no folder."""
    return "".join(letter if letter.isalnum() else "_" for letter in reference)


# --- the page ---


class Once:
    """What several files of one report show, each made when first asked for."""

    def __init__(self, result: BoardResult) -> None:
        self._result = result

    @cached_property
    def content(self) -> Content:
        """Everything that is said, as plain data."""
        return content_of(self._result)

    @cached_property
    def trays(self) -> tuple[str, str] | None:
        """Before and after, with the scale it is drawn at."""
        return before_after_svg(self._result)

    @cached_property
    def gain(self) -> str | None:
        """What the change gains."""
        return gain_svg(self._result)

    @cached_property
    def tradeoff(self) -> str | None:
        """The curve of trade-offs."""
        return tradeoff_svg(self._result)

    @cached_property
    def life(self) -> str | None:
        """Boards that have failed, over the years."""
        return life_svg(self._result.judged)

    @cached_property
    def shake(self) -> str | None:
        """How the board moves."""
        return vibration_svg(self._result.judged)

    @cached_property
    def warm(self) -> str | None:
        """How warm the board is."""
        return heat_svg(self._result.judged)

    @cached_property
    def placing(self) -> str | None:
        """The parts on the board."""
        return placing_picture_svg(self._result)

    @cached_property
    def windows(self) -> tuple[str | None, ...]:
        """The process window of every part's choice."""
        judged, parts = self._result.judged, self._result.parts
        return tuple(
            window_svg(part.chosen, judged, f"window{number}") if part.chosen else None
            for number, part in enumerate(parts)
        )


# `once` of all four is of the same result, where some of it is made already.


def html_text(result: StudyResult | BoardResult, cards: list[str], once: Once | None = None) -> str:
    """The answer and the open decisions as one self-contained page: drawings and fonts inside, nothing from outside."""
    result = board_result(result)
    once = once or Once(result)
    trays, small = once.trays, before_after_svg(result, "small", NARROW_MM)
    return _html(
        "report.html.j2",
        once.content,
        cards,
        front=front_data(result),
        trays=drawing(trays[0] if trays else None),
        scale=trays[1] if trays else "",
        gain=drawing(once.gain),
        small_trays=drawing(small[0] if small else None),
        small_scale=small[1] if small else "",
        small_gain=drawing(gain_svg(result, "less", NARROW_MM)),
    )


def annex_html(result: StudyResult | BoardResult, cards: list[str], once: Once | None = None) -> str:
    """Everything behind the answer, as one self-contained page with its contents first."""
    result = board_result(result)
    once = once or Once(result)
    return _html(
        "annex.html.j2",
        once.content,
        cards,
        pictures=[
            [drawing(svg) for svg in _pictures(part, number, result.judged, once)]
            for number, part in enumerate(result.parts)
        ],
        tradeoff=drawing(once.tradeoff),
        life_curve=drawing(once.life),
        shake_map=drawing(once.shake),
        warm_map=drawing(once.warm),
        placing=drawing(once.placing),
    )


def _html(template: str, content: Content, cards: list[str], **more: object) -> str:
    return html_page(template, {**content, **more, "cards": [drawing(card) for card in cards]})


def _pictures(part: PartResult, number: int, result: StudyResult, once: Once) -> list[str]:
    unit = result.content.costs.unit
    made = [
        section_svg(part.chosen, f"section{number}") if part.chosen else None,
        once.windows[number],
        area_against_cost(part, unit, f"plane{number}"),
        cost_parts(part, unit, f"parts{number}"),
    ]
    return [svg for svg in made if svg]


def pdf_bytes(result: StudyResult | BoardResult, cards: list[str], once: Once | None = None) -> bytes:
    """The report as PDF: page one, then for each open decision its card at its stated scale, then the other parts."""
    return typst_document(**_printed(board_result(result), cards, once))


def front_png(result: StudyResult | BoardResult, *, dpi: float) -> bytes:
    """Page one of the printed report as a picture."""
    result = board_result(result)
    cards = [card_of(part, result.judged, prefix=f"card{number}") for number, part in enumerate(result.parts)]
    return typst_document(**_printed(result, cards), form="png", dpi=dpi)


class _Printed(TypedDict):
    main: str
    data: object
    files: Mapping[str, bytes]


def _printed(result: BoardResult, cards: list[str], once: Once | None = None) -> _Printed:
    template = resources.files("landwise.sheets").joinpath("templates", "report.typ").read_text(encoding="utf-8")
    once = once or Once(result)
    data = dict(once.content)
    front = front_data(result)
    files: dict[str, bytes] = {}
    drawn = {}
    for one in front["decisions"]:
        card, name = cards[one["number"]], f"card{one['number']}.svg"
        width, height = svg_size_mm(card)
        drawn[str(one["number"])] = {"file": name, "width": width, "height": height}
        files[name] = card.encode()
    trays, gain = once.trays, once.gain
    if trays is not None:
        files["trays.svg"] = trays[0].encode()
    if gain is not None:
        files["gain.svg"] = gain.encode()
    data |= {
        "front": front,
        "drawn": drawn,
        "trays": trays[1] if trays else None,
        "gain": gain is not None,
        "colours": dict(LIGHT.colours),
    }
    return {"main": template, "data": data, "files": files}


def annex_pdf(result: StudyResult | BoardResult, cards: list[str], once: Once | None = None) -> bytes:
    """The annex as PDF: contents, text pages, and the cards that the report has no page for, true to their scale.

    What people sort stands in `tables.xlsx`; trade words are told at its end, those that it uses.
    """
    return typst_document(**_annex_printed(board_result(result), cards, once))


def _annex_printed(result: BoardResult, cards: list[str], once: Once | None = None) -> _Printed:
    template = resources.files("landwise.sheets").joinpath("templates", "annex.typ").read_text(encoding="utf-8")
    once = once or Once(result)
    data = dict(once.content)
    data["parts"] = [dict(part) for part in data["parts"]]
    files: dict[str, bytes] = {}
    shown = {one["number"] for one in front_data(result)["decisions"]}
    for number, card in enumerate(cards):
        width, height = svg_size_mm(card)
        here = number not in shown
        data["parts"][number]["card"] = (
            {"file": f"card{number}.svg", "width": width, "height": height} if here else None
        )
        files |= {f"card{number}.svg": card.encode()} if here else {}
    for number, mapped in enumerate(once.windows):
        data["parts"][number]["window"] = f"window{number}.svg" if mapped else None
        if mapped:
            files[f"window{number}.svg"] = mapped.encode()
    plot = once.tradeoff
    data["tradeoff"] = plot is not None
    if plot is not None:
        files["tradeoff.svg"] = plot.encode()
    curve = once.life
    if curve is not None:
        files["life.svg"] = curve.encode()
    maps = {"shake.svg": once.shake, "warm.svg": once.warm}
    drawn = {name: svg for name, svg in maps.items() if svg is not None}
    data["maps"] = {name: svg_size_mm(svg)[0] for name, svg in drawn.items()}
    files |= {name: svg.encode() for name, svg in drawn.items()}
    placed = once.placing
    data["placing"] = None
    if placed is not None:
        data["placing"] = {"width": svg_size_mm(placed)[0]}
        files["placing.svg"] = placed.encode()
    data["colours"] = dict(LIGHT.colours)
    data["words"] = [[one.name, one.says] for one in used_in(json.dumps(data, ensure_ascii=False))]
    return {"main": template, "data": data, "files": files}
