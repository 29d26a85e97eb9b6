"""The book: every formula with a form that works it, every source with what rests on it, every check from outside."""

from __future__ import annotations

from collections import defaultdict
from functools import cache
from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from landwise.errors import LandwiseError
from landwise.evidence import Formula, all_formulas, all_sources, evaluate, formula, source
from landwise.evidence.book import ROOMS, Answer, Input
from landwise.proving import Worked, all_cases, group, resting, work
from landwise.proving.told import computed_text, deviation_text, expected_text, inputs_text, mark_text, source_text
from landwise.quantities import DIMENSIONS, show
from landwise.untyped import Fields
from landwise.workbench.pages import Page, page, says, status_of

PAGE = Page("book", "Book", "/book")
ROOM_TITLES = {
    "lands": "Lands",
    "printing": "Printing",
    "joints": "Molten joints",
    "assembly": "Assembly",
    "service": "Service life",
    "access": "Access",
    "costs": "Costs",
}


async def book_page(request: Request) -> Response:
    """The list of formulas."""
    by_room: dict[str, list[Formula]] = defaultdict(list)
    for entry in all_formulas().values():
        by_room[room_of(entry)].append(entry)
    rooms = [(ROOM_TITLES[room], by_room[room]) for room in ROOMS if by_room[room]]
    return page(request, "book.html", PAGE.key, title="The book", rooms=rooms, count=len(all_formulas()))


async def formula_page(request: Request) -> Response:
    """One formula, worked where the address gives its inputs."""
    key = request.path_params["key"]
    entry = formula(key)
    names = {item.name for item in entry.inputs}
    given = {name: text.strip() for name, text in request.query_params.items() if text.strip()}
    errors: dict[str, str] = {}
    trouble, answer, status = "", None, 200
    if given or all(item.default is not None for item in entry.inputs):
        try:
            answer = evaluate(key, given)
        except LandwiseError as error:
            status = status_of(error)
            name = _input_of(error, names)
            if name:
                errors[name] = says(error)
            else:
                trouble = says(error)
    return page(
        request,
        "formula.html",
        PAGE.key,
        status,
        title=entry.title,
        entry=entry,
        given=given,
        errors=errors,
        trouble=trouble,
        inputs=[_input(item) for item in entry.inputs],
        outputs=_outputs(answer) if answer else [],
        sources=[source(name) for name in entry.sources],
        command=_command(entry, given),
        checks=_checks_of(key),
    )


async def sources_page(request: Request) -> Response:
    """Every source, and what rests on it."""
    rests = resting()
    rows = [
        (one, rests.get(key, {})) for key, one in sorted(all_sources().items(), key=lambda pair: pair[1].title.lower())
    ]
    marks: dict[str, int] = defaultdict(int)
    for one, _ in rows:
        marks[one.mark] += 1
    return page(request, "sources.html", PAGE.key, title="Sources", rows=rows, marks=sorted(marks.items()))


async def checks_page(request: Request) -> Response:
    """The checks against the outside: expected, computed, deviation; one group of them at a time."""
    groups = _groups()
    wanted = request.query_params.get("of", "book")
    if wanted not in groups:
        wanted = "book"
    rows = await run_in_threadpool(_checks, wanted)
    held = sum(row["verdict"] == "holds" for row in rows)
    outside = [case for case in all_cases() if case.kind == "outside"]
    counts = {
        name: (sum(case.sort == sort for case in outside), len({case.source for case in outside if case.sort == sort}))
        for name, sort in (("worked", "worked"), ("rows", "table row"), ("catalogue", "catalogue row"))
    }
    title = "Checks against the outside"
    shown = {"groups": groups, "wanted": wanted, "rows": rows, "held": held, "counts": counts}
    return page(request, "checks.html", PAGE.key, title=title, **shown)


@cache
def _groups() -> dict[str, int]:
    found: dict[str, int] = defaultdict(int)
    for case in all_cases():
        found[group(case)] += 1
    return dict(found)


@cache
def _checks(wanted: str) -> tuple[Fields, ...]:
    return tuple(_check(work(case)) for case in all_cases() if group(case) == wanted)


@cache
def _checks_of(formula_key: str) -> tuple[dict[str, object], ...]:
    return tuple(_check(work(case)) for case in all_cases() if case.formula == formula_key)


def _check(worked: Worked) -> Fields:
    case = worked.case
    return {
        "formula": case.formula,
        "title": case.title,
        "output": case.answers.rpartition(".")[2].replace("_", " "),
        "query": urlencode(dict(case.inputs)) if case.formula else "",
        "inputs": inputs_text(case),
        "expected": expected_text(worked),
        "computed": computed_text(worked),
        "deviation": deviation_text(worked),
        "kind": case.kind if case.kind != "outside" else f"outside, {case.sort}",
        "verdict": worked.verdict,
        "known": case.known,
        "says": f"{source_text(case)} ({mark_text(case)})",
    }


def room_of(entry: Formula) -> str:
    """The room whose list an entry stands in."""
    from importlib import import_module

    for room in ROOMS:
        try:
            module = import_module(f"landwise.{room}.formulas")
        except ModuleNotFoundError:
            continue
        if any(one is entry for one in module.BOOK):
            return room
    raise LookupError(entry.key)


def _input(item: Input) -> dict[str, object]:
    unit = DIMENSIONS[item.dimension].unit if item.dimension in DIMENSIONS else ""
    if item.choices:
        hint = ""
    elif item.dimension == "count":
        hint = "a whole number"
    elif not unit:
        hint = "a plain number or a percentage"
    else:
        hint = f"{item.dimension}, such as in {show(1, unit)[2:]}"
    return {
        "name": item.name,
        "says": item.says,
        "choices": item.choices,
        "default": item.default or "",
        "hint": hint,
        "optional": item.optional,
    }


def _outputs(answer: Answer) -> list[tuple[str, str, str]]:
    found = []
    for output in answer.formula.outputs:
        if output.name not in answer.outputs:
            continue
        value = answer.outputs[output.name]
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            text = "none" if value is None else str(value)
        else:
            text = show(value, output.unit, 4)
        found.append((output.name, text, output.says))
    return found


def _input_of(error: LandwiseError, names: set[str]) -> str:
    """The form's field that an error is about."""
    last = (error.place or "").rpartition(", ")[2]
    if last in names:
        return last
    return error.about if error.about in names else ""


def _command(entry: Formula, given: dict[str, str]) -> str:
    import shlex

    return " ".join(["landwise", "calc", entry.key, *(f"{name}={shlex.quote(text)}" for name, text in given.items())])


ROUTES = [
    Route("/book", book_page),
    Route("/book/sources", sources_page),
    Route("/book/checks", checks_page),
    Route("/book/formulas/{key}", formula_page),
]
