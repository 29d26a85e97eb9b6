"""Changes of a board's study: each names the version it started from, and is kept whole or not at all."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import replace

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from landwise.board.chosen import BoardChoice
from landwise.errors import InputError, LandwiseError
from landwise.workbench.boardfields import PART, shown_part
from landwise.workbench.boardmend import (
    Mended,
    held_to,
    mended,
    with_part,
    with_scenario,
    without_part,
    without_scenario,
)
from landwise.workbench.boardviews import answer, board_view, guess, parts_view, result_of, runs_of, saved_of, view_of
from landwise.workbench.pages import desk_of, says, status_of
from landwise.workbench.workspace import ConflictError, Saved

MOST_FIELDS = 22_000


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
    # The points of the board as it was say nothing of the new one.
    view = replace(view_of(request, saved), point=0)
    context = await run_in_threadpool(result_of, request, saved, view)
    return JSONResponse(answer(saved, context), headers={"etag": saved.tag})


def _row_told(saved: Saved, typed: Mapping[str, str]) -> dict[str, object]:
    """The changed fields of the parts as they now stand, and the guesses left in their rows."""
    parts = tomllib.loads(saved.text).get("part", [])
    values, guesses = {}, {}
    for name in typed:
        match = PART.fullmatch(name)
        if match:
            part = parts[int(match[1])]
            values[name] = shown_part(part, match[2])
            guesses[match[1]] = [guess(text)[0] for text in part.get("guesses", [])]
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
    saved = await saved_of(request)
    place = f"/boards/{saved.id}" + ("/parts" if where == "parts" else "")
    show = parts_view if where == "parts" else board_view
    try:
        if saved.tag != tag.strip():
            raise ConflictError(
                "it was changed elsewhere since",
                found=f"version {saved.version}",
                expected="look at it as it is now, and change it again",
            )
        if do == "add":
            text, did = await run_in_threadpool(with_part, saved.text, typed)
        elif do == "remove":
            text, did = await run_in_threadpool(without_part, saved.text, int(at) if at.isdigit() else -1)
        elif do == "add-scenario":
            text, did = await run_in_threadpool(with_scenario, saved.text, typed.get("name", ""))
        elif do == "drop-scenario":
            text, did = await run_in_threadpool(without_scenario, saved.text, at)
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
            return await parts_view(request, saved, 422, {f"new.{error.place}": says(error)}, new=typed)
        if do == "add-scenario" and error.place == "name":
            return await board_view(request, saved, 422, {"scenario.new": says(error)}, {"scenario.new": typed["name"]})
        return await show(request, saved, status_of(error), trouble=says(error))
    await _kept(request, saved, text, did)
    return RedirectResponse(f"{place}#scenarios-of" if do.endswith("-scenario") else place, 303)


def _hold(request: Request, saved: Saved, at: str) -> tuple[str, str]:
    """The study limited to what a point of the trade-off has."""
    run = runs_of(request).run(desk_of(request).jobs, saved)
    choice: BoardChoice | None = run.job.result.choice if run.job.result is not None else None
    if choice is None or not at.isdigit() or not 1 <= int(at) <= len(choice.points):
        raise InputError("no such point of the trade-off", found=at[:20])
    values = dict(zip(choice.axes, choice.points[int(at) - 1].values, strict=True))
    if not choice.complete:
        return held_to(saved.text, values["area"], values.get("risk"))
    at_axis = {axis: [point.values[n] for point in choice.points] for n, axis in enumerate(choice.axes)}

    def after(axis: str) -> float | None:
        larger = [one for one in at_axis.get(axis, ()) if one > values[axis] * (1 + 1e-6)]
        return min(larger, default=10 * values[axis]) if axis in values else None

    return held_to(saved.text, values["area"], values.get("risk"), next_area_mm2=after("area"), next_risk=after("risk"))


async def undone(request: Request) -> Response:
    """Back to the version before."""
    async with request.form(max_files=0, max_fields=10) as form:
        tag, where = str(form.get("tag", "")), str(form.get("where", ""))
    name = request.path_params["id"]
    try:
        await run_in_threadpool(lambda: desk_of(request).workspace.undo("studies", name, tag=tag))
    except ConflictError as error:
        show = parts_view if where == "parts" else board_view
        return await show(request, await saved_of(request), 412, trouble=says(error))
    return RedirectResponse(f"/boards/{name}" + ("/parts" if where == "parts" else ""), 303)
