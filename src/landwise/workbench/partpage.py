"""The part page: one function, its candidates in a row, and everything that follows when something moves."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from functools import partial
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from landwise.assembly.lines import Line
from landwise.board.choice import choose_board
from landwise.board.result import BoardResult
from landwise.choosing.values import CRITERIA
from landwise.errors import InputError, LandwiseError
from landwise.judging.results import OptionResult, PartResult, StudyResult
from landwise.judging.study import run_study
from landwise.quantities import show
from landwise.results.file import result_text
from landwise.results.notewords import notes_say
from landwise.sheets.cardlayout import MOST_SHOWN
from landwise.sheets.cards import candidate_of, card_of, title_of
from landwise.sheets.landsheet import land_drawing
from landwise.sheets.pictures import window_svg
from landwise.sheets.reportdata import CAUTIONS
from landwise.study.file import Study, StudyFile
from landwise.workbench.asked import GROUPS, Asked, asked_from, effective, field_of, fields, in_group, study_of
from landwise.workbench.engine import StaleError
from landwise.workbench.opened import all_opened
from landwise.workbench.pages import Desk, Page, desk_of, html, page, says, status_of
from landwise.workbench.row import in_row, lay_out
from landwise.workbench.rowtable import table_of
from landwise.workbench.sketch import sketched
from landwise.workbench.units import length_text

PAGE = Page("parts", "Part", "/part")
ROOM_PX = (600, 2600)  # the room for the row that a page may ask for
USUAL_ROOM_PX = 900
MOST_AHEAD = 60  # places of sliders worked out ahead
EXAMPLES = (
    ("a single AND gate", "number=74LVC1G08&present=SOT-23-5"),
    ("an octal transceiver", "number=74LVC245&present=SO-20W"),
    ("a quad NAND, drilled today", "number=74HC132&present=DIP-14&foil=80+um"),
    ("48 terminals of bus driver", "terminals=48&present=SSOP-48"),
)


async def part_page(request: Request) -> Response:
    """The whole page, for the state in the address.

    A browser in which the script runs gets the frame at once where the answer takes its time, and asks for the rest.
    """
    hurried = request.cookies.get("script") == "1" and request.query_params.get("quick") != "0"
    status, context = await run_in_threadpool(_framed if hurried else _context, request)
    return page(request, "part.html", PAGE.key, status, **context)


def _framed(request: Request) -> tuple[int, dict[str, Any]]:
    """The page's frame without its result, if that is still to be worked; else everything."""
    desk = desk_of(request)
    try:
        asked = asked_from(request.query_params.multi_items())
        if asked.empty or desk.engine.knows(study_of(asked, _kept_text(desk, asked))):
            return _context(request)
    except LandwiseError:
        return _context(request)
    return 200, _frame(asked)


async def part_row(request: Request) -> Response:
    """What changes when a control moves: the results as a fragment, the canonical address, the sliders' places."""
    return await run_in_threadpool(_row, request)


def _row(request: Request) -> Response:
    began = time.thread_time()
    query = request.query_params
    sketch = _sketch(request) if query.get("quick") == "1" else None
    if sketch is not None:
        return _timed(JSONResponse({"sketch": sketch}), began)
    desk, tab, turn = desk_of(request), query.get("tab", ""), query.get("turn", "")
    desk.turns.come(tab, turn)
    try:
        status, context = _context(request, lambda: desk.turns.stands(tab, turn))
    except StaleError:
        return JSONResponse({"stale": True}, 409)
    asked: Asked = context["asked"]
    answer: dict[str, Any] = {
        "address": f"{PAGE.path}?{asked.query()}",
        "errors": context["errors"],
        "trouble": context["trouble"],
    }
    if status == 200:
        answer |= {"html": html("part_result.html", context), "sliders": context["sliders"], "said": context["said"]}
    return _timed(JSONResponse(answer, status), began)


def _timed(answer: Response, began: float) -> Response:
    """Says the processor time of this answer alone: what the benchmark reads on a machine that does other things."""
    answer.headers["server-timing"] = f"work;dur={(time.thread_time() - began) * 1e3:.1f}"
    return answer


def _sketch(request: Request) -> str | None:
    """The picture at once, where the rest of the answer would take its time; None where all is there, or wrong."""
    desk = desk_of(request)
    names = request.query_params.getlist("row")
    try:
        asked = asked_from(request.query_params.multi_items())
        study = study_of(asked, _kept_text(desk, asked))
        if not names or asked.empty or desk.engine.knows(study):
            return None
        room = _room(request.query_params.get("room", ""))
        choice = request.query_params.get("choice", "")
        return sketched(names, choice, desk.engine.bench(study), room, desk.drawn, asked.units)
    except LandwiseError:
        return None  # the whole answer says what is wrong, and at which field


async def part_file(request: Request) -> Response:
    """The card or the result as the same file that the command line writes."""
    name = request.path_params["name"]
    if name not in _FILES:
        raise HTTPException(404)
    kind, make = _FILES[name]

    def made() -> bytes:
        asked = asked_from(request.query_params.multi_items())
        result = _run(desk_of(request), asked)
        return make(result.parts[0], result)

    content = await run_in_threadpool(made)
    return Response(content, media_type=kind, headers={"content-disposition": f'attachment; filename="{name}"'})


async def lands_file(request: Request) -> Response:
    """The dimensioned drawing of the one option that is open."""

    def made() -> tuple[str, bytes]:
        asked = asked_from(request.query_params.multi_items())
        result = _run(desk_of(request), asked)
        part = result.parts[0]
        option = next((one for one in part.options if one.name in asked.opened), None)
        if option is None:
            raise InputError("no such option", place="open", found=", ".join(asked.opened), expected="one of the row")
        one = candidate_of(option, part, result)
        return option.name, land_drawing(one.outline, one.pattern, one.print_, solder=one.solder).encode()

    name, content = await run_in_threadpool(made)
    head = {"content-disposition": f'attachment; filename="{name}.svg"'}
    return Response(content, media_type="image/svg+xml", headers=head)


async def window_file(request: Request) -> Response:
    """The process window of the one option that is open: as a drawing for the page, or as a file."""

    def made() -> tuple[str, str]:
        asked = asked_from(request.query_params.multi_items())
        result = _run(desk_of(request), asked)
        option = next((one for one in result.parts[0].options if one.name in asked.opened), None)
        if option is None:
            raise InputError("no such option", place="open", found=", ".join(asked.opened), expected="one of the row")
        return option.name, window_svg(option, result, f"process-{option.name}") or ""

    name, svg = await run_in_threadpool(made)
    if request.url.path.endswith("/window"):
        return JSONResponse({"svg": svg})
    if not svg:
        raise HTTPException(404)
    head = {"content-disposition": f'attachment; filename="{name}-window.svg"'}
    return Response(svg, media_type="image/svg+xml", headers=head)


def _chosen(result: StudyResult) -> BoardResult:
    """The answer of the command line to the same question, for the files that are taken along."""
    return choose_board(run_study(result.study))


def _card_svg(part: PartResult, result: StudyResult) -> bytes:
    whole = _chosen(result)
    return card_of(whole.parts[0], whole.judged).encode()


def _card_pdf(part: PartResult, result: StudyResult) -> bytes:
    from landwise.sheets.pdf import svg_pdf_bytes

    return svg_pdf_bytes(_card_svg(part, result).decode())


def _card_png(part: PartResult, result: StudyResult) -> bytes:
    from landwise.sheets.pdf import svg_png_bytes

    return svg_png_bytes(_card_svg(part, result).decode())


def _result_json(part: PartResult, result: StudyResult) -> bytes:
    return result_text(_chosen(result)).encode()


_FILES = {
    "card.svg": ("image/svg+xml", _card_svg),
    "card.pdf": ("application/pdf", _card_pdf),
    "card.png": ("image/png", _card_png),
    "result.json": ("application/json", _result_json),
}


def _kept_text(desk: Desk, asked: Asked) -> str | None:
    return desk.workspace.read("studies", asked.study).text if asked.study else None


def _run(desk: Desk, asked: Asked, wanted: Callable[[], bool] = lambda: True) -> StudyResult:
    return desk.engine.run(study_of(asked, _kept_text(desk, asked)), wanted)


def _context(request: Request, wanted: Callable[[], bool] = lambda: True) -> tuple[int, dict[str, Any]]:
    """Everything the page or its fragment says, and the status."""
    desk, asked, errors, trouble, status = desk_of(request), Asked(), {}, "", 200
    context: dict[str, Any] = {}
    try:
        asked = asked_from(request.query_params.multi_items())
        if not asked.empty:
            context = _worked(desk, asked, _room(request.query_params.get("room", "")), wanted)
    except StaleError:
        raise
    except LandwiseError as error:
        status = status_of(error)
        name = field_of(error, asked)
        if name:
            errors[name] = says(error)
        else:
            trouble = says(error)
    return status, {**_frame(asked), "errors": errors, "trouble": trouble, "waiting": False, **context}


def _frame(asked: Asked) -> dict[str, Any]:
    """What the page says of its question, whatever the answer."""
    weights = {f"weight.{name}": {"value": one.weight} for name, one in CRITERIA.items()}
    return {
        "title": "One part",
        "asked": asked,
        "errors": {},
        "trouble": "",
        "waiting": True,
        "groups": [(key, title, in_group(key)) for key, title in GROUPS.items()],
        "criteria": CRITERIA,
        "examples": EXAMPLES,
        "cautions": CAUTIONS,
        "sliders": weights,
        "result": None,
        "said": "",
        "command": asked.command(),
        "files": tuple(_FILES),
        "units": asked.units,
        "units_query": asked.query(units="mil" if asked.units == "mm" else "mm"),
    }


def _room(text: str) -> float:
    if not text:
        return USUAL_ROOM_PX
    if not (text.isdigit() and len(text) < 6):
        raise InputError("not a width", place="room", found=repr(text[:20]), expected="a count of pixels")
    return float(min(max(int(text), ROOM_PX[0]), ROOM_PX[1]))


def _worked(desk: Desk, asked: Asked, room_px: float, wanted: Callable[[], bool] = lambda: True) -> dict[str, Any]:
    result = _run(desk, asked, wanted)
    desk.engine.ahead(_plan(desk, asked))
    part = result.parts[0]
    candidates = [candidate_of(option, part, result) for option in part.options]
    shown = in_row(candidates, room_px, asked.everything)
    row = lay_out(shown, room_px, desk.drawn, asked.units)
    names = [one.outline.name for one in shown]
    options = [option for option in part.options if option.name in names]
    return {
        "result": result,
        "part": part,
        "title": title_of(part),
        "heading": title_of(part),
        "row": row,
        "svg": row.svg(),
        "columns": table_of(options, part, result, asked),
        "left_out": len(candidates) - len(shown),
        "opened": all_opened(_opened(part, asked), part, result, asked, room_px),
        "sliders": _sliders(result, asked),
        "said": _said(part, options),
        "notes": notes_say((*result.notes, *part.notes)),
    }


def drawn_after(result: StudyResult) -> Iterator[Callable[[], object]]:
    """The shapes of the joints that the row will show, one option at a time."""
    part = result.parts[0]
    for option in part.options[:MOST_SHOWN]:
        yield partial(candidate_of, option, part, result)


def _plan(desk: Desk, asked: Asked) -> Iterator[Callable[[], Study]]:
    """Where the sliders may go next: each slider's places, the nearest to where it stands first."""
    kept = _kept_text(desk, asked)
    stands = effective(*_standing(desk, asked, kept))
    places = []
    for one in fields():
        if one.kind == "slider" and one.unit == "um":  # the others leave geometry as it is and are quick enough
            count = round((one.high - one.low) / one.step)
            steps = (one.low + one.step * n for n in range(count + 1))
            places += [(abs(at - stands[one.name]) / one.step, one, at) for at in steps]
    for _, one, at in sorted(places, key=lambda place: place[0])[:MOST_AHEAD]:
        moved = replace(asked, values={**asked.values, one.name: f"{at:g} {one.unit}"})
        yield partial(study_of, moved, kept)


def _standing(desk: Desk, asked: Asked, kept: str | None) -> tuple[StudyFile, Line, Mapping[str, float]]:
    result = desk.engine.run(study_of(asked, kept))
    return result.content, result.line, result.weights


def _opened(part: PartResult, asked: Asked) -> list[OptionResult]:
    by_name = {option.name: option for option in part.options}
    return [by_name[name] for name in asked.opened if name in by_name]


def _sliders(result: StudyResult, asked: Asked) -> Mapping[str, Mapping[str, Any]]:
    """Where each slider stands, and what it says."""
    found: dict[str, Mapping[str, Any]] = {}
    for name, value in effective(result.content, result.line, result.weights).items():
        if name.startswith("weight."):
            stated = asked.weights.get(name[7:])
            place = float(stated) if stated else CRITERIA[name[7:]].weight
            found[name] = {"value": place, "says": f"{value:.0%}"}
        elif name == "swing":
            found[name] = {"value": value, "says": show(value, "K")}
        else:
            found[name] = {"value": value, "says": length_text(value, "um", asked.units)}
    return found


def _said(part: PartResult, options: list[OptionResult]) -> str:
    """The news for who can't see the drawings."""
    fit = sum(option.feasible for option in part.options)
    choice = f"Choice: {part.chosen.name}." if part.chosen else "Nothing fits the limits."
    return f"{choice} {fit} of {len(part.options)} candidates fit, {len(options)} shown."


ROUTES = [
    Route("/part", part_page),
    Route("/part/row", part_row),
    Route("/part/lands.svg", lands_file),
    Route("/part/window", window_file),
    Route("/part/window.svg", window_file),
    Route("/part/{name}", part_file),
]
