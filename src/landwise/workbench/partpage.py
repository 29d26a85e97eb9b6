"""The part page: one function, its candidates in a row, and everything that follows when something moves.

Longer than other modules: every address of the page keeps one state and answers from one place.
"""

from __future__ import annotations

import time
import tomllib
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import replace
from functools import partial
from urllib.parse import parse_qsl

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from landwise.board.result import BoardResult
from landwise.choosing.values import CRITERIA
from landwise.errors import InputError, LandwiseError
from landwise.judging.results import OptionResult, PartResult, StudyResult
from landwise.quantities import show, significant
from landwise.results.answer import hangs_on, sure_line
from landwise.results.file import result_text
from landwise.results.notewords import notes_say
from landwise.results.told import wishes_asked
from landwise.sheets.cardlayout import MOST_SHOWN
from landwise.sheets.cards import candidate_of, card_of, title_of
from landwise.sheets.landsheet import land_drawing
from landwise.sheets.pdf import can_be_made
from landwise.sheets.pictures import window_svg
from landwise.sheets.reportdata import CAUTIONS
from landwise.study.file import FORMAT, Study
from landwise.untyped import Fields
from landwise.workbench.ahead import houses
from landwise.workbench.asked import (
    GROUPS,
    Asked,
    asked_from,
    contradicted,
    data_of,
    effective,
    field_of,
    fields,
    in_group,
    study_of,
)
from landwise.workbench.boardruns import Run
from landwise.workbench.boardviews import runs_of
from landwise.workbench.engine import MOST_HANGS, Answered, StaleError, Tell, Wanted, nobody
from landwise.workbench.opened import all_opened
from landwise.workbench.ownline import OwnLine
from landwise.workbench.pages import Desk, Page, desk_of, frame_of, html, page, says, status_of
from landwise.workbench.row import in_row, in_sketch, lay_out
from landwise.workbench.rowtable import table_of
from landwise.workbench.sketch import sketched
from landwise.workbench.solidview import solid_data
from landwise.workbench.tomltext import toml_text
from landwise.workbench.units import length_text

PAGE = Page("parts", "Part", "/part")
ROOM_PX = (600, 2600)  # the room for the row that a page may ask for
USUAL_ROOM_PX = 900
MOST_AHEAD = 16  # places of sliders worked out ahead
LOOK_S = 0.1  # how often who waits for a board looks whether it is still wanted
EXAMPLES = (
    ("a single AND gate", "number=74LVC1G08&present=SOT-23-5"),
    ("an octal transceiver", "number=74LVC245&present=SO-20W"),
    ("a quad NAND, drilled today", "number=74HC132&present=DIP-14&foil=80+um"),
    ("48 terminals of bus driver", "terminals=48&present=SSOP-48"),
)


async def part_page(request: Request) -> Response:
    """The whole page, for the state in the address.

    A browser gets the frame at once where the answer takes its time, and asks for the rest; without a script it
    comes back by itself for the whole.
    """
    hurried = request.headers.get("sec-fetch-mode") == "navigate" and request.query_params.get("quick") != "0"
    status, context = await run_in_threadpool(_framed if hurried else _context, request)
    return page(request, "part.html", PAGE.key, status, **context)


def _framed(request: Request) -> tuple[int, dict[str, object]]:
    """The page's frame without its result, if that is still to be worked; else everything."""
    try:
        asked = asked_from(request.query_params.multi_items())
        if asked.empty or _known(request, asked):
            return _context(request)
    except LandwiseError:
        return _context(request)
    return 200, _frame(asked, desk_of(request).own)


def _known(request: Request, asked: Asked) -> bool:
    """Whether the answer is there already."""
    desk = desk_of(request)
    if asked.plain:
        run = runs_of(request).known(desk.workspace.read("studies", asked.study))
        return run is not None and run.job.result is not None
    return desk.engine.knows(_study(desk, asked))


async def progress(request: Request) -> Response:
    """How far the work on a page's question is."""
    done, whole, what = desk_of(request).turns.told(request.query_params.get("tab", ""))
    return JSONResponse({"part": done, "whole": whole, "says": what})


async def part_row(request: Request) -> Response:
    """What changes when a control moves: the results as a fragment, the canonical address, the sliders' places."""
    return await run_in_threadpool(_row, request)


def _row(request: Request) -> Response:
    began = time.thread_time()
    query = request.query_params
    desk, tab, turn = desk_of(request), query.get("tab", ""), query.get("turn", "")
    # Before the picture: the figures of the place before would take turns with it for the processor.
    desk.turns.come(tab, turn)
    sketch = _sketch(request) if query.get("quick") == "1" else None
    if sketch is not None:
        return _timed(JSONResponse({"sketch": sketch}), began)
    try:
        status, context = _context(
            request, lambda: desk.turns.stands(tab, turn), lambda *told: desk.turns.tell(tab, *told)
        )
    except StaleError:
        return JSONResponse({"stale": True}, 409)
    asked: Asked = context["asked"]
    answer: Fields = {
        "address": f"{PAGE.path}?{asked.query()}",
        "errors": context["errors"],
        "trouble": context["trouble"],
    }
    if status == 200:
        answer |= {"html": html("part_result.html", context), "sliders": context["sliders"], "said": context["said"]}
        answer["contradicted"] = context["contradicted"]
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
        if asked.empty or _known(request, asked):
            return None
        bench = desk.engine.bench(_study(desk, asked))
        room = _room(request.query_params.get("room", ""))
        part = bench.content.part[0]
        outlines = sorted(houses(part, bench), key=lambda one: one.name != part.package)
        names = names or [one.name for one in in_sketch(outlines, room)]
        choice = request.query_params.get("choice", "")
        return sketched(names, choice, bench, room, desk.drawn, asked.units) if names else None
    except LandwiseError:
        return None  # the whole answer says what is wrong, and at which field


async def part_file(request: Request) -> Response:
    """The card or the result as the same file that the command line writes."""
    name = request.path_params["name"]
    if name not in _FILES:
        raise HTTPException(404)
    kind, make = _FILES[name]

    def made() -> bytes:
        return make(*_whole(request))

    content = await run_in_threadpool(made)
    return Response(content, media_type=kind, headers={"content-disposition": f'attachment; filename="{name}"'})


async def lands_file(request: Request) -> Response:
    """The dimensioned drawing of the one option that is open."""

    def made() -> tuple[str, bytes]:
        asked = asked_from(request.query_params.multi_items())
        result = _answer(request, asked).judged
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
        result = _answer(request, asked).judged
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


async def solid_file(request: Request) -> Response:
    """The one option that is open as solids, for the look in three dimensions."""

    def made() -> Fields:
        asked = asked_from(request.query_params.multi_items())
        result = _answer(request, asked).judged
        option = next((one for one in result.parts[0].options if one.name in asked.opened), None)
        if option is None:
            raise InputError("no such option", place="open", found=", ".join(asked.opened), expected="one of the row")
        return solid_data(option.geometry, asked.units)

    return JSONResponse(await run_in_threadpool(made))


def _whole(request: Request) -> tuple[PartResult, BoardResult]:
    """The command line's whole result for what the address asks, and the part in it."""
    desk, asked = desk_of(request), asked_from(request.query_params.multi_items())
    if asked.plain:
        result = _board(request, asked)
        return result.part(asked.ref), result
    result = desk.engine.whole(_study(desk, asked))
    return result.parts[0], result


def _card_svg(part: PartResult, result: BoardResult) -> bytes:
    return card_of(part, result.judged).encode()


def _card_pdf(part: PartResult, result: BoardResult) -> bytes:
    from landwise.sheets.pdf import svg_pdf_bytes

    return svg_pdf_bytes(_card_svg(part, result).decode())


def _card_png(part: PartResult, result: BoardResult) -> bytes:
    from landwise.sheets.pdf import svg_png_bytes

    return svg_png_bytes(_card_svg(part, result).decode())


def _result_json(part: PartResult, result: BoardResult) -> bytes:
    return result_text(result).encode()


_FILES = {
    "card.svg": ("image/svg+xml", _card_svg),
    "card.pdf": ("application/pdf", _card_pdf),
    "card.png": ("image/png", _card_png),
    "result.json": ("application/json", _result_json),
}


async def study_file(request: Request) -> Response:
    """The question as a study file of one part: what the command on the page reads."""

    def made() -> str:
        desk, asked = desk_of(request), asked_from(request.query_params.multi_items())
        return toml_text({"landwise": FORMAT, **data_of(asked, _kept_text(desk, asked), desk.own)})

    head = {"content-disposition": 'attachment; filename="part.toml"'}
    return Response(await run_in_threadpool(made), media_type="application/toml", headers=head)


def _study(desk: Desk, asked: Asked) -> Study:
    return study_of(asked, _kept_text(desk, asked), desk.own)


def _kept_text(desk: Desk, asked: Asked) -> str | None:
    return desk.workspace.read("studies", asked.study).text if asked.study else None


def _answer(request: Request, asked: Asked, wanted: Wanted = nobody, tell: Tell = lambda *_: None) -> Answered:
    """What the command line says of what the address asks.

    A part of a kept study is answered with its whole board, all parts chosen together; once something is laid over
    it, by itself.
    """
    desk = desk_of(request)
    if not asked.plain:
        return desk.engine.run(_study(desk, asked), wanted, tell)
    result = _board(request, asked, wanted, tell)
    part = result.part(asked.ref)
    answers = result.choice.answer.parts if result.choice and result.choice.answer else ()
    own = next((one for one in answers if one.part == part.part.refs[0]), None)
    return Answered(
        replace(result.judged, parts=(part,)),
        sure_line(own, part, result.content.costs.unit) if own else "",
        tuple(hangs_on(result)[:MOST_HANGS]),
    )


def _board(request: Request, asked: Asked, wanted: Wanted = nobody, tell: Tell = lambda *_: None) -> BoardResult:
    """The choice for the whole board of a kept study, begun if nobody began it."""
    desk = desk_of(request)
    run: Run = runs_of(request).run(desk.jobs, desk.workspace.read("studies", asked.study))
    while not run.job.over.wait(LOOK_S):
        if not wanted():
            raise StaleError("a newer question has come")
        tell(run.job.part, run.job.whole, run.job.says)
    if run.job.error is not None:
        raise run.job.error
    if run.job.result is None:
        raise InputError("the board's choice was stopped", place="study", expected="begin it again on the board's page")
    found: BoardResult = run.job.result
    return found


def _context(request: Request, wanted: Wanted = nobody, tell: Tell = lambda *_: None) -> tuple[int, Fields]:
    """Everything the page or its fragment says, and the status."""
    asked, errors, trouble, status = Asked(), {}, "", 200
    context: dict[str, object] = {}
    try:
        asked = asked_from(request.query_params.multi_items())
        if asked.empty:
            context = {"picture": _first_picture(desk_of(request))}
        else:
            context = _worked(request, asked, _room(request.query_params.get("room", "")), wanted, tell)
    except StaleError:
        raise
    except LandwiseError as error:
        status = status_of(error)
        name = field_of(error, asked)
        if name:
            errors[name] = says(error)
        else:
            trouble = says(error)
    return status, {
        **_frame(asked, desk_of(request).own),
        "errors": errors,
        "trouble": trouble,
        "waiting": False,
        **context,
    }


def _frame(asked: Asked, own: OwnLine | None) -> dict[str, object]:
    """What the page says of its question, whatever the answer."""
    return {
        "title": "One part",
        "asked": asked,
        "errors": {},
        "trouble": "",
        "waiting": True,
        "groups": [(key, title, in_group(key, own)) for key, title in GROUPS.items()],
        "criteria": {name: one for name, one in CRITERIA.items() if name != "cost"},
        "examples": EXAMPLES,
        "cautions": CAUTIONS,
        "picture": "",
        "sliders": {},
        "wishes": (),
        "sure": "",
        "hangs": (),
        "contradicted": "",
        "result": None,
        "said": "",
        "command": asked.command(own),
        "line_says": "",
        "files": can_be_made(_FILES),
        "units": asked.units,
        "units_query": asked.query(units="mil" if asked.units == "mm" else "mm"),
    }


def _line_says(asked: Asked, desk: Desk) -> str:
    own, chosen = desk.own, asked.values.get("line", "")
    if own is None:
        return ""
    if chosen:
        return own.instead(chosen)
    kept = _kept_text(desk, asked)
    return own.says(tomllib.loads(kept).get("line", {}) if kept else {})


def _room(text: str) -> float:
    if not text:
        return USUAL_ROOM_PX
    if not (text.isdigit() and len(text) < 6):
        raise InputError("not a width", place="room", found=repr(text[:20]), expected="a count of pixels")
    return float(min(max(int(text), ROOM_PX[0]), ROOM_PX[1]))


def _worked(request: Request, asked: Asked, room_px: float, wanted: Wanted, tell: Tell) -> dict[str, object]:
    desk = desk_of(request)
    known = _known(request, asked)
    answered = _answer(request, asked, wanted, tell)
    result = answered.judged
    if not known and not asked.plain:
        desk.engine.ahead(_plan(desk, asked, result))
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
        "wishes": wishes_asked([part], result.content),
        "sure": answered.sure,
        "hangs": answered.hangs,
        "contradicted": contradicted(asked),
        "line_says": _line_says(asked, desk),
    }


def drawn_after(result: StudyResult) -> Iterator[Callable[[], object]]:
    """The shapes of the joints that the row will show, one option at a time."""
    part = result.parts[0]
    for option in part.options[:MOST_SHOWN]:
        yield partial(candidate_of, option, part, result)


def _plan(desk: Desk, asked: Asked, result: StudyResult) -> list[Study]:
    """Where the sliders may go next: the places of foil and reduction nearest to where they stand."""
    kept = _kept_text(desk, asked)
    stands = effective(result.content, result.line)
    places = []
    for one in fields():
        if one.name in ("foil", "reduction"):
            count = round((one.high - one.low) / one.step)
            steps = (one.low + one.step * n for n in range(count + 1))
            places += [(abs(at - stands[one.name]) / one.step, one, at) for at in steps]
    found = []
    for _, one, at in sorted(places, key=lambda place: place[0])[:MOST_AHEAD]:
        moved = replace(asked, values={**asked.values, one.name: f"{at:g} {one.unit}"})
        with suppress(LandwiseError):  # who asks for it will be told
            found.append(study_of(moved, kept, desk.own))
    return found


def _opened(part: PartResult, asked: Asked) -> list[OptionResult]:
    by_name = {option.name: option for option in part.options}
    return [by_name[name] for name in asked.opened if name in by_name]


def _sliders(result: StudyResult, asked: Asked) -> Mapping[str, Mapping[str, object]]:
    """Where each slider stands, and what it says; a weight that nobody stated counts nothing."""
    found: dict[str, Mapping[str, object]] = {}
    for name, value in effective(result.content, result.line).items():
        text = show(value, "K") if name == "swing" else length_text(value, "um", asked.units)
        found[name] = {"value": value, "says": text}
    stated = result.weights if result.content.want.objective == "value" else result.content.want.weights
    for name in CRITERIA:
        weight = stated.get(name, 0.0)
        found[f"weight.{name}"] = {"value": weight, "says": significant(weight)}
    return found


def _said(part: PartResult, options: list[OptionResult]) -> str:
    """The news for who can't see the drawings."""
    fit = sum(option.feasible for option in part.options)
    choice = f"Choice: {part.chosen.name}." if part.chosen else "Nothing fits the limits."
    return f"{choice} {fit} of {len(part.options)} candidates fit, {len(options)} shown."


def _first_picture(desk: Desk) -> str:
    """What the empty page shows: the packages of its first example in a row."""
    asked = asked_from(parse_qsl(EXAMPLES[0][1]))
    bench = desk.engine.bench(study_of(asked, own=desk.own))
    part = bench.content.part[0]
    outlines = sorted(houses(part, bench), key=lambda one: one.name != part.package)
    names = [one.name for one in in_sketch(outlines, USUAL_ROOM_PX)]
    return sketched(names, "", bench, USUAL_ROOM_PX, desk.drawn, asked.units)


def warm(desk: Desk) -> None:
    """What the first question of a fresh workbench would else wait for: the catalogue, the templates, a drawing."""
    _first_picture(desk)
    html("part.html", {**frame_of(PAGE.key), **_frame(asked_from(parse_qsl(EXAMPLES[0][1])), desk.own)})


ROUTES = [
    Route("/part", part_page),
    Route("/part/row", part_row),
    Route("/part/progress", progress),
    Route("/part/part.toml", study_file),
    Route("/part/lands.svg", lands_file),
    Route("/part/solid", solid_file),
    Route("/part/window", window_file),
    Route("/part/window.svg", window_file),
    Route("/part/{name}", part_file),
]
