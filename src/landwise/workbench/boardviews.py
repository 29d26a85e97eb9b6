"""What the board page's addresses show: parts as read, limits and weights, the choice as far as it is made."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from landwise.errors import InputError
from landwise.outlines import catalogue
from landwise.sheets.pdf import can_be_made
from landwise.untyped import Fields, Table
from landwise.workbench.boardbill import account_from
from landwise.workbench.boardfields import GROUPS, PART_FIELDS, in_group, settings, shown, shown_part
from landwise.workbench.boardmend import field_of
from landwise.workbench.boardresult import View, told
from landwise.workbench.boardruns import FILES, SOON_S, Run, Runs
from landwise.workbench.boardscenarios import shown_scenarios
from landwise.workbench.jobs import OVER
from landwise.workbench.pages import desk_of, html, page, says
from landwise.workbench.units import UNITS, Units
from landwise.workbench.workspace import Saved

HERE = "boards"  # the page's key in the navigation
ROOM_PX = (560, 1700)
USUAL_ROOM_PX = 900


def runs_of(request: Request) -> Runs:
    """The runs of the application that got the request."""
    state = request.app.state
    if not hasattr(state, "runs"):
        state.runs = Runs(desk_of(request).own)
    found: Runs = state.runs
    return found


async def saved_of(request: Request) -> Saved:
    return await run_in_threadpool(desk_of(request).workspace.read, "studies", request.path_params["id"])


async def parts_view(
    request: Request,
    saved: Saved,
    status: int = 200,
    errors: Mapping[str, str] | None = None,
    typed: Mapping[str, str] | None = None,
    new: Mapping[str, str] | None = None,
    trouble: str = "",
) -> Response:
    aside = await run_in_threadpool(desk_of(request).workspace.aside, "studies", saved.id)
    data = tomllib.loads(saved.text)
    rows = []
    for at, part in enumerate(data.get("part", [])):
        fields = {name: (typed or {}).get(f"part.{at}.{name}", shown_part(part, name)) for name in PART_FIELDS}
        guesses = dict(guess(text) for text in part.get("guesses", []))
        rows.append({"at": at, "fields": fields, "guesses": guesses, "ref": (part.get("refs") or ["?"])[0]})
    made = page(
        request,
        "board_parts.html",
        HERE,
        status,
        title=saved.title,
        saved=saved,
        rows=rows,
        account=account_from(aside),
        errors=errors or {},
        new=new or {},
        trouble=trouble,
        tab="parts",
        outlines=tuple(catalogue()),
        guessed=sum(len(row["guesses"]) for row in rows),
    )
    made.headers["etag"] = saved.tag
    return made


def guess(text: str) -> tuple[str, str]:
    """The field that a guess is about, and the rest of it."""
    name, _, rest = text.partition(":")
    value, _, reason = rest.strip().partition(":")
    return name, f"{value.strip() or 'unknown'}: {reason.strip()}" if reason else rest.strip()


async def board_view(
    request: Request,
    saved: Saved,
    status: int = 200,
    errors: Mapping[str, str] | None = None,
    typed: Mapping[str, str] | None = None,
    trouble: str = "",
) -> Response:
    view = view_of(request, saved)
    context = await run_in_threadpool(result_of, request, saved, view, again="again" in request.query_params)
    wrong = {**context["errors"], **(errors or {})}
    made = page(
        request,
        "board.html",
        HERE,
        max(status, context["http"]),
        **{
            **context,
            "title": saved.title,
            "saved": saved,
            "errors": wrong,
            "trouble": trouble or context["trouble"],
            "tab": "choice",
            **_fields(saved, typed or {}),
            "units": view.units,
        },
    )
    made.headers["etag"] = saved.tag
    return made


def _fields(saved: Saved, typed: Mapping[str, str]) -> Fields:
    """The fields of the study's tables as they stand, or as typed where that was refused."""
    data = tomllib.loads(saved.text)
    values = {name: typed.get(name, shown(data, one)) for name, one in settings().items()}
    groups = [(key, title, in_group(key)) for key, title in GROUPS.items()]
    scenarios = shown_scenarios(data, typed)
    for one in scenarios:
        values.update({name: text for name, _, text in one.fields})
    return {"groups": groups, "values": values, "scenarios": scenarios, "new_scenario": typed.get("scenario.new", "")}


def view_of(request: Request, saved: Saved) -> View:
    query = request.query_params
    point, units, room = query.get("point", ""), query.get("units", "mm"), query.get("room", "")
    for name, text in (("point", point), ("room", room)):
        if text and not (text.isdigit() and len(text) < 6):
            raise InputError("not a number", place=name, found=repr(text[:20]))
    if units not in UNITS:
        raise InputError("no such unit", place="units", found=units[:20], expected=" | ".join(UNITS))
    shown_in: Units = "mil" if units == "mil" else "mm"
    pixels = float(min(max(int(room), ROOM_PX[0]), ROOM_PX[1])) if room else USUAL_ROOM_PX
    return View(saved.id, int(point) if point else 0, shown_in, pixels)


def result_of(request: Request, saved: Saved, view: View, *, again: bool = False) -> Fields:
    """The result's part of the page as it stands after a short wait."""
    runs = runs_of(request)
    run = runs.run(desk_of(request).jobs, saved, again=again)
    if not run.job.over.is_set():
        run.shown.wait(SOON_S)
    job, shows, result, own = run.job, run.shows, run.result, desk_of(request).own
    found: dict[str, object] = {
        "run": run,
        "job": job,
        "shows": shows,
        "over": job.state in OVER,
        "view": view,
        "http": 200,
        "errors": {},
        "trouble": "",
        "saved": saved,
        "files": can_be_made(FILES),
        "says": job.says,
        "own": own,
        "line_says": own.says(tomllib.loads(saved.text).get("line", {})) if own else "",
    }
    if job.state == "failed":
        return {**found, **_failed(run), "http": 422}
    if result is None or result.choice is None:
        return {**found, "shows": "nothing"}
    if view.point and shows != "all":
        # The points are not there yet; the page asks again when they are.
        view = View(view.id, 0, view.units, view.room_px)
    context = {**found, **told(result, view, runs.picture), "view": view}
    data = tomllib.loads(saved.text)
    context["asks"] = [(settings()[name], shown(data, settings()[name])) for name in context.get("asks", ())]
    context["html"] = html("board_result.html", context)
    run.seen.set()
    return context


def _failed(run: Run) -> dict[str, object]:
    error = run.job.error
    if error is None:
        return {"trouble": f"{run.job.says}.", "shows": "nothing"}
    name = field_of(error, run.text)
    place = f"{error.place}: " if error.place and not name else ""
    return {"errors": {name: says(error)} if name else {}, "trouble": place + says(error), "shows": "nothing"}


def answer(saved: Saved, context: Table, errors: Mapping[str, str] | None = None) -> Fields:
    """What the page's script needs: the version, the run, the errors, and what to show."""
    data = _fields(saved, {})
    return {
        "tag": saved.tag,
        "version": saved.version,
        "title": saved.title,
        "did": saved.did,
        "back": saved.back,
        "job": context["job"].told(),
        "shows": context["shows"],
        "over": context["over"],
        "errors": {**context["errors"], **(errors or {})},
        "trouble": context["trouble"],
        "html": context.get("html") or html("board_result.html", context),
        "said": context.get("said", "") if context["over"] else "",
        "values": data["values"],
    }
