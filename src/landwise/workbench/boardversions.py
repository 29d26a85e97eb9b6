"""The versions of a board: listed, compared, taken up again; a board copied, taken off the list, put back."""

from __future__ import annotations

import difflib
import time
import tomllib

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from landwise.errors import InputError
from landwise.untyped import Fields
from landwise.workbench.boardmend import mended
from landwise.workbench.boardresult import View, told
from landwise.workbench.boardviews import HERE, runs_of, saved_of
from landwise.workbench.pages import desk_of, page
from landwise.workbench.workspace import Saved

KIND = "studies"
LONGEST_NAME = 80
MOST_LINES = 400  # of a comparison
TRAYS_PX = 640.0


async def versions_page(request: Request) -> Response:
    """Every version with what was done; two of them side by side where the address names them."""
    saved = await saved_of(request)
    asked = [request.query_params.get(name, "") for name in ("one", "two")]
    for text in asked:
        if text and not (text.isdigit() and len(text) < 6):
            raise InputError("not a version", place="version", found=repr(text[:20]), expected="its number")
    rows = await run_in_threadpool(desk_of(request).workspace.versions, KIND, saved.id)
    pair = await run_in_threadpool(_compared, request, saved, [int(text) for text in asked]) if all(asked) else None
    listed = [(row, time.strftime("%Y-%m-%d %H:%M", time.localtime(row.made))) for row in rows]
    one = int(asked[0]) if asked[0] else saved.back or 1
    two = int(asked[1]) if asked[1] else saved.version
    context: Fields = {"saved": saved, "rows": listed, "pair": pair, "one": one, "two": two}
    return page(request, "board_versions.html", HERE, title=saved.title, tab="versions", trouble="", **context)


def _compared(request: Request, saved: Saved, numbers: list[int]) -> Fields:
    """What differs in two versions' studies, and what was chosen for each, where that was worked."""
    workspace, runs = desk_of(request).workspace, runs_of(request)
    both = [workspace.read(KIND, saved.id, number) for number in numbers]
    before, after = (one.text.splitlines() for one in both)
    lines = [
        line for line in difflib.unified_diff(before, after, n=0, lineterm="") if line[:2] not in ("--", "++", "@@")
    ]
    answers: list[Fields] = []
    for number, one in zip(numbers, both, strict=True):
        run = runs.known(one)
        result = run.job.result if run is not None else None
        shown = told(result, View(saved.id, room_px=TRAYS_PX), runs.picture) if result is not None else {}
        trays = shown.get("trays", "").replace("trays", f"trays{len(answers)}")
        answers.append({"number": number, "headline": shown.get("headline", ""), "trays": trays})
    return {
        "lines": [(line[0], line[1:]) for line in lines[:MOST_LINES]],
        "more": max(0, len(lines) - MOST_LINES),
        "answers": answers,
    }


def _renamed(saved: Saved, name: str) -> tuple[str, str]:
    """The study under another name, and what was done; its address and its versions stay."""
    if not name.strip():
        raise InputError("a board needs a name", place="name")
    made = mended(saved.text, {"board.name": name[:LONGEST_NAME]})
    for error in made.errors.values():
        raise error
    return made.text, "; ".join(made.did)


async def versions_changed(request: Request) -> Response:
    """One of the page's buttons: take a version up again, copy the board, take it off the list or put it back."""
    async with request.form(max_files=0, max_fields=6) as form:
        do, at, tag, name = (str(form.get(field, "")) for field in ("do", "at", "tag", "name"))
    saved = await saved_of(request)
    workspace = desk_of(request).workspace
    if do == "restore":
        number = int(at) if at.isdigit() and len(at) < 6 else 0
        await run_in_threadpool(lambda: workspace.restore(KIND, saved.id, number, tag=tag))
        return RedirectResponse(f"/boards/{saved.id}", 303)
    if do == "rename":
        text, did = await run_in_threadpool(_renamed, saved, name)
        title = tomllib.loads(text)["board"]["name"]
        if text != saved.text:
            await run_in_threadpool(
                lambda: workspace.save(KIND, saved.id, text.encode(), tag=tag, title=title, did=did[:300])
            )
        return RedirectResponse(f"/boards/{saved.id}/versions", 303)
    if do == "copy":
        aside = await run_in_threadpool(workspace.aside, KIND, saved.id)
        made = await run_in_threadpool(
            workspace.create,
            KIND,
            saved.content,
            f"{saved.title}, copy"[:200],
            f"copied from {saved.title}"[:300],
            aside,
        )
        return RedirectResponse(f"/boards/{made.id}", 303)
    if do not in ("remove", "back"):
        raise InputError("no such button", place="do", found=repr(do[:20]))
    await run_in_threadpool(lambda: workspace.set_gone(KIND, saved.id, gone=do == "remove"))
    return RedirectResponse(f"/boards?gone={saved.id}" if do == "remove" else "/boards", 303)
