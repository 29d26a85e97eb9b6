"""The board page: a bill or a study comes in, is mended, limited and weighed; the whole board is chosen, shown and taken along."""

from __future__ import annotations

import time
import tomllib
from collections.abc import Mapping
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from landwise.boardchoice import BoardChoice
from landwise.choosing.values import CRITERIA
from landwise.errors import InputError, LandwiseError
from landwise.outlines import catalogue
from landwise.workbench.boardbill import Begun, account_from, begin, bring, example
from landwise.workbench.boardfields import GROUPS, PART, PART_FIELDS, in_group, settings, shown, shown_part, stands
from landwise.workbench.boardmend import Mended, field_of, held_to, mended, with_part, without_part
from landwise.workbench.boardresult import View, told
from landwise.workbench.boardruns import FILES, SOON_S, Run, Runs, file_of
from landwise.workbench.jobs import OVER
from landwise.workbench.pages import Page, desk_of, html, page, says, status_of
from landwise.workbench.units import UNITS, Units
from landwise.workbench.workspace import ConflictError, Saved

LARGEST_UPLOAD = 8_000_000  # bytes of all files of a form; the largest real bill is below 200 kB
MOST_PLACEMENTS = 4
MOST_FIELDS = 22_000
PAGE = Page("boards", "Board", "/boards", {"/boards": LARGEST_UPLOAD})
ROOM_PX = (560, 1700)
USUAL_ROOM_PX = 900
FILES_WAIT_S = 120
RUNNING = "The board is still being chosen for; its files follow when that is done."


def runs_of(request: Request) -> Runs:
    """The runs of the application that got the request."""
    state = request.app.state
    if not hasattr(state, "runs"):
        state.runs = Runs()
    found: Runs = state.runs
    return found


# Coming in.


async def listed(request: Request) -> Response:
    """The ways to begin, and the boards begun before."""
    return await _start(request)


async def _start(request: Request, status: int = 200, wrong: str = "", error: str = "", name: str = "") -> Response:
    entries = await run_in_threadpool(desk_of(request).workspace.listed, "studies")
    rows = [(one, time.strftime("%Y-%m-%d %H:%M", time.localtime(one.changed))) for one in entries]
    return page(
        request, "boards.html", PAGE.key, status, title="Choose for a whole board", rows=rows, wrong=wrong,
        error=error, called=name,
    )  # fmt: skip


async def keep(request: Request) -> Response:
    """Keep a board begun from a bill, a study or the example, and go to what was read."""
    async with request.form(max_files=MOST_PLACEMENTS + 1, max_fields=10, max_part_size=LARGEST_UPLOAD) as form:
        name = str(form.get("name", ""))[:80]
        try:
            begun = await _begun(form, name)
        except LandwiseError as error:
            return await _start(request, 422, error.place or "bill", says(error), name)
    saved = await run_in_threadpool(
        lambda: desk_of(request).workspace.create(
            "studies", begun.text.encode(), begun.title, begun.did, begun.account.text() if begun.account.bill else None
        )
    )
    return RedirectResponse(f"/boards/{saved.id}" + ("/parts" if begun.account.bill else ""), 303)


async def _begun(form: FormData, name: str) -> Begun:
    if form.get("example"):
        return await run_in_threadpool(example, str(form["example"]))
    files = {field: [one for one in form.getlist(field) if isinstance(one, UploadFile) and one.filename] for field in ("bill", "placement", "study")}  # fmt: skip
    if files["study"]:
        return await run_in_threadpool(bring, await files["study"][0].read())
    if not files["bill"]:
        raise InputError("no file was chosen", place="study" if form.get("kind") == "study" else "bill")
    bill = files["bill"][0]
    content = await bill.read()
    placements = [(str(one.filename), await one.read()) for one in files["placement"]]
    return await run_in_threadpool(begin, (str(bill.filename), content), placements, name)


# Seeing and mending.


async def parts_page(request: Request) -> Response:
    """What was read, part by part, to be mended."""
    saved = await _saved(request)
    return await _parts(request, saved)


async def _parts(
    request: Request, saved: Saved, status: int = 200, errors: Mapping[str, str] | None = None,
    typed: Mapping[str, str] | None = None, new: Mapping[str, str] | None = None, trouble: str = "",
) -> Response:  # fmt: skip
    aside = await run_in_threadpool(desk_of(request).workspace.aside, "studies", saved.id)
    data = tomllib.loads(saved.text)
    rows = []
    for at, part in enumerate(data.get("part", [])):
        fields = {
            name: (typed or {}).get(f"part.{at}.{name}", shown_part(part, name)) for name in PART_FIELDS
        }  # fmt: skip
        guesses = dict(_guess(text) for text in part.get("guesses", []))
        rows.append({"at": at, "fields": fields, "guesses": guesses, "ref": (part.get("refs") or ["?"])[0]})
    answer = page(
        request, "board_parts.html", PAGE.key, status, title=saved.title, saved=saved, rows=rows,
        account=account_from(aside), errors=errors or {}, new=new or {}, trouble=trouble, tab="parts",
        outlines=tuple(catalogue()), guessed=sum(len(row["guesses"]) for row in rows),
    )  # fmt: skip
    answer.headers["etag"] = saved.tag
    return answer


def _guess(text: str) -> tuple[str, str]:
    """The field that a guess is about, and the rest of it."""
    name, _, rest = text.partition(":")
    value, _, reason = rest.strip().partition(":")
    return name, f"{value.strip() or 'unknown'}: {reason.strip()}" if reason else rest.strip()


async def board_page(request: Request) -> Response:
    """The board's limits and weights, and what was chosen; while it is worked, how far that is."""
    saved = await _saved(request)
    return await _board(request, saved)


async def _board(
    request: Request, saved: Saved, status: int = 200, errors: Mapping[str, str] | None = None,
    typed: Mapping[str, str] | None = None, trouble: str = "",
) -> Response:  # fmt: skip
    view = _view(request, saved)
    context = await run_in_threadpool(_result, request, saved, view, again="again" in request.query_params)
    wrong = {**context["errors"], **(errors or {})}
    answer = page(
        request, "board.html", PAGE.key, max(status, context["http"]), **{
            **context, "title": saved.title, "saved": saved, "errors": wrong, "trouble": trouble or context["trouble"],
            "tab": "choice", **_fields(saved, typed or {}), "units": view.units,
        },
    )  # fmt: skip
    answer.headers["etag"] = saved.tag
    return answer


def _fields(saved: Saved, typed: Mapping[str, str]) -> dict[str, Any]:
    """The fields of the study's tables as they stand, or as typed where that was refused."""
    data = tomllib.loads(saved.text)
    values = {name: typed.get(name, shown(data, one)) for name, one in settings().items()}
    weights = {}
    for name, criterion in CRITERIA.items():
        said = stands(data, ("want", "weights", name))
        weights[f"want.weights.{name}"] = criterion.weight if said is None else said
    total = sum(value for value in weights.values() if isinstance(value, int | float)) or 1.0
    groups = [(key, title, in_group(key)) for key, title in GROUPS.items()]
    shares = {name: f"{value / total:.0%}" for name, value in weights.items() if isinstance(value, int | float)}
    return {"groups": groups, "values": values, "weights": weights, "shares": shares}


def _view(request: Request, saved: Saved) -> View:
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


def _result(request: Request, saved: Saved, view: View, *, again: bool = False) -> dict[str, Any]:
    """The result's part of the page as it stands after a short wait."""
    runs = runs_of(request)
    run = runs.run(desk_of(request).jobs, saved, again=again)
    if not run.job.over.is_set():
        run.shown.wait(SOON_S)
    job, shows, result = run.job, run.shows, run.result
    found: dict[str, Any] = {
        "run": run, "job": job, "shows": shows, "over": job.state in OVER, "view": view, "http": 200, "errors": {},
        "trouble": "", "saved": saved, "files": tuple(FILES), "says": job.says,
    }  # fmt: skip
    if job.state == "failed":
        return {**found, **_failed(run), "http": 422}
    if result is None or result.choice is None:
        return {**found, "shows": "nothing"}
    if view.point and shows != "all":
        # The points are not there yet; the page asks again when they are.
        view = View(view.id, 0, view.units, view.room_px)
    return {**found, **told(result, view, runs.picture), "view": view}


def _failed(run: Run) -> dict[str, Any]:
    error = run.job.error
    if error is None:
        return {"trouble": f"{run.job.says}.", "shows": "nothing"}
    name = field_of(error, run.text)
    place = f"{error.place}: " if error.place and not name else ""
    return {"errors": {name: says(error)} if name else {}, "trouble": place + says(error), "shows": "nothing"}


async def result_part(request: Request) -> Response:
    """The result as a fragment, with how far its run is: for the page's own script."""
    saved = await _saved(request)
    context = await run_in_threadpool(_result, request, saved, _view(request, saved))
    return JSONResponse(_answer(saved, context), headers={"etag": saved.tag})


def _answer(saved: Saved, context: Mapping[str, Any], errors: Mapping[str, str] | None = None) -> dict[str, Any]:
    """What the page's script needs: the version, the run, the errors, and what to show."""
    data = _fields(saved, {})
    return {
        "tag": saved.tag, "version": saved.version, "title": saved.title, "did": saved.did, "back": saved.back,
        "job": context["job"].told(), "shows": context["shows"], "over": context["over"],
        "errors": {**context["errors"], **(errors or {})}, "trouble": context["trouble"],
        "html": html("board_result.html", context), "said": context.get("said", "") if context["over"] else "",
        "shares": data["shares"], "values": data["values"], "weights": data["weights"],
    }  # fmt: skip


async def changed(request: Request) -> Response:
    """Change fields, if the version named by If-Match still stands; the answer holds the new choice."""
    tag = request.headers.get("if-match")
    if tag is None:
        raise HTTPException(428, "A change names the version it started from (If-Match).")
    async with request.form(max_files=0, max_fields=MOST_FIELDS) as form:
        typed = {name: str(value) for name, value in form.multi_items()}
    try:
        saved, made = await _mend(request, tag, typed)
    except ConflictError as error:
        return JSONResponse({"trouble": says(error), "conflict": True}, 412)
    errors = {name: says(error) for name, error in made.errors.items()}
    if errors:
        return JSONResponse({"errors": errors, "trouble": "", "tag": saved.tag}, 422, headers={"etag": saved.tag})
    if all(PART.fullmatch(name) for name in typed):
        row = {"tag": saved.tag, "version": saved.version, "did": saved.did, "back": saved.back, "title": saved.title}
        return JSONResponse(
            {**row, "errors": {}, "trouble": "", **_row_told(saved, typed)}, headers={"etag": saved.tag}
        )
    context = await run_in_threadpool(_result, request, saved, _view(request, saved))
    return JSONResponse(_answer(saved, context), headers={"etag": saved.tag})


def _row_told(saved: Saved, typed: Mapping[str, str]) -> dict[str, Any]:
    """The changed fields of the parts as they now stand, and the guesses left in their rows."""
    parts = tomllib.loads(saved.text).get("part", [])
    values, guesses = {}, {}
    for name in typed:
        match = PART.fullmatch(name)
        if match:
            part = parts[int(match[1])]
            values[name] = shown_part(part, match[2])
            guesses[match[1]] = [_guess(text)[0] for text in part.get("guesses", [])]
    return {"values": values, "guesses": guesses}


async def _mend(request: Request, tag: str, typed: Mapping[str, str]) -> tuple[Saved, Mended]:
    """Put fields into the study and keep it as a new version; nothing is kept where one of them is wrong."""
    workspace, name = desk_of(request).workspace, request.path_params["id"]
    saved = await run_in_threadpool(workspace.read, "studies", name)
    if saved.tag != tag.strip():
        raise ConflictError(
            "it was changed elsewhere since", found=f"version {saved.version}", expected="load it again, then change it"
        )
    made = await run_in_threadpool(mended, saved.text, typed)
    if made.errors or made.text == saved.text:
        return saved, made
    return await _kept(request, saved, made.text, "; ".join(made.did)), made


async def _kept(request: Request, saved: Saved, text: str, did: str) -> Saved:
    title = str(tomllib.loads(text).get("board", {}).get("name", saved.title))[:200]
    return await run_in_threadpool(
        lambda: desk_of(request).workspace.save(
            "studies", saved.id, text.encode(), tag=saved.tag, title=title, did=did[:300]
        )
    )


async def posted(request: Request) -> Response:
    """The same from a form without a script: fields of either page, or one of its buttons."""
    async with request.form(max_files=0, max_fields=MOST_FIELDS) as form:
        typed = {name: str(value) for name, value in form.multi_items()}
    tag, do, where = typed.pop("tag", ""), typed.pop("do", ""), typed.pop("where", "")
    at = typed.pop("at", "")
    saved = await _saved(request)
    place = f"/boards/{saved.id}" + ("/parts" if where == "parts" else "")
    show = _parts if where == "parts" else _board
    try:
        if saved.tag != tag.strip():
            raise ConflictError("it was changed elsewhere since", found=f"version {saved.version}", expected="look at it as it is now, and change it again")  # fmt: skip
        if do == "add":
            text, did = await run_in_threadpool(with_part, saved.text, typed)
        elif do == "remove":
            text, did = await run_in_threadpool(without_part, saved.text, int(at) if at.isdigit() else -1)
        elif do == "hold":
            text, did = await run_in_threadpool(_hold, request, saved, at)
        else:
            _, made = await _mend(request, tag, typed)
            if made.errors:
                errors = {name: says(error) for name, error in made.errors.items()}
                return await show(request, saved, 422, errors, typed)
            return RedirectResponse(place, 303)
    except ConflictError as error:
        return await show(request, saved, 412, trouble=says(error))
    except LandwiseError as error:
        if do == "add" and error.place:
            return await _parts(request, saved, 422, {f"new.{error.place}": says(error)}, new=typed)
        return await show(request, saved, status_of(error), trouble=says(error))
    await _kept(request, saved, text, did)
    return RedirectResponse(place, 303)


def _hold(request: Request, saved: Saved, at: str) -> tuple[str, str]:
    """The study limited to what a point of the trade-off has."""
    run = runs_of(request).run(desk_of(request).jobs, saved)
    choice: BoardChoice | None = run.job.result.choice if run.job.result is not None else None
    if choice is None or not at.isdigit() or not 1 <= int(at) <= len(choice.points):
        raise InputError("no such point of the trade-off", found=at[:20])
    values = dict(zip(choice.axes, choice.points[int(at) - 1].values, strict=True))
    return held_to(saved.text, values["area"], values.get("risk"))


async def undone(request: Request) -> Response:
    """Back to the version before."""
    async with request.form(max_files=0, max_fields=10) as form:
        tag, where = str(form.get("tag", "")), str(form.get("where", ""))
    name = request.path_params["id"]
    try:
        await run_in_threadpool(lambda: desk_of(request).workspace.undo("studies", name, tag=tag))
    except ConflictError as error:
        show = _parts if where == "parts" else _board
        return await show(request, await _saved(request), 412, trouble=says(error))
    return RedirectResponse(f"/boards/{name}" + ("/parts" if where == "parts" else ""), 303)


async def stopped(request: Request) -> Response:
    """Stop the run; what was found by then stays."""
    saved = await _saved(request)
    desk = desk_of(request)
    run = await run_in_threadpool(runs_of(request).run, desk.jobs, saved)
    desk.jobs.stop(run.job)
    await run_in_threadpool(run.job.over.wait, 5)
    if "application/json" in request.headers.get("accept", ""):
        context = await run_in_threadpool(_result, request, saved, _view(request, saved))
        return JSONResponse(_answer(saved, context), headers={"etag": saved.tag})
    return RedirectResponse(f"/boards/{saved.id}", 303)


async def file(request: Request) -> Response:
    """One of the files that the command line writes, the same bytes; or the study itself."""
    name = request.path_params["name"]
    saved = await _saved(request)
    if name == "board.toml":
        content, kind = saved.content, "application/toml"
    elif name in FILES:
        run = await run_in_threadpool(runs_of(request).run, desk_of(request).jobs, saved)
        await run_in_threadpool(run.job.over.wait, FILES_WAIT_S)
        if run.job.error is not None:
            raise run.job.error
        if run.job.result is None:
            raise HTTPException(503, RUNNING)
        content, kind = await run_in_threadpool(file_of, run, name), FILES[name]
    else:
        raise HTTPException(404)
    head = {"content-disposition": f'attachment; filename="{name}"', "etag": saved.tag}
    return Response(content, media_type=kind, headers=head)


async def _saved(request: Request) -> Saved:
    return await run_in_threadpool(desk_of(request).workspace.read, "studies", request.path_params["id"])


ROUTES = [
    Route("/boards", listed),
    Route("/boards", keep, methods=["POST"]),
    Route("/boards/{id}", board_page),
    Route("/boards/{id}", changed, methods=["PUT"]),
    Route("/boards/{id}", posted, methods=["POST"]),
    Route("/boards/{id}/parts", parts_page),
    Route("/boards/{id}/state.json", result_part),
    Route("/boards/{id}/undo", undone, methods=["POST"]),
    Route("/boards/{id}/stop", stopped, methods=["POST"]),
    Route("/boards/{id}/files/{name}", file),
]
