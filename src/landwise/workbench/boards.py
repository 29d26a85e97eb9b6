"""The board page: a bill or a study comes in, is mended and limited; the whole board is chosen, shown, taken along."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from landwise.errors import InputError, LandwiseError
from landwise.workbench.boardbill import Begun, begin, bring, example
from landwise.workbench.boardchanges import changed, posted, undone
from landwise.workbench.boardruns import FILES, file_of
from landwise.workbench.boardsupply import offers_changed, offers_page
from landwise.workbench.boardversions import versions_changed, versions_page
from landwise.workbench.boardviews import HERE, answer, board_view, parts_view, result_of, runs_of, saved_of, view_of
from landwise.workbench.pages import Page, dated, desk_of, page, says, wants_json
from landwise.workbench.workspace import Saved

LARGEST_UPLOAD = 8_000_000  # bytes of all files of a form; the largest real bill is below 200 kB
MOST_PLACEMENTS = 4
PAGE = Page(HERE, "Board", "/boards", {"/boards": LARGEST_UPLOAD})
FILES_WAIT_S = 120
RUNNING = "The board is still being chosen for; its files follow when that is done."


async def listed(request: Request) -> Response:
    """The ways to begin, and the boards begun before."""
    return await _start(request)


async def _start(request: Request, status: int = 200, wrong: str = "", error: str = "", name: str = "") -> Response:
    entries = await run_in_threadpool(desk_of(request).workspace.listed, "studies")
    rows = dated(entries)
    return page(
        request,
        "boards.html",
        HERE,
        status,
        title="Choose for a whole board",
        rows=rows,
        wrong=wrong,
        error=error,
        called=name,
        gone=await _gone(request),
    )


async def _gone(request: Request) -> Saved | None:
    """The board that was just taken off the list, so that it can be put back."""
    name = request.query_params.get("gone", "")
    return await run_in_threadpool(desk_of(request).workspace.read, "studies", name) if name else None


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
    files = {
        field: [one for one in form.getlist(field) if isinstance(one, UploadFile) and one.filename]
        for field in ("bill", "placement", "study")
    }
    if files["study"]:
        return await run_in_threadpool(bring, await files["study"][0].read())
    if not files["bill"]:
        raise InputError("no file was chosen", place="study" if form.get("kind") == "study" else "bill")
    bill = files["bill"][0]
    content = await bill.read()
    placements = [(str(one.filename), await one.read()) for one in files["placement"]]
    return await run_in_threadpool(begin, (str(bill.filename), content), placements, name)


async def parts_page(request: Request) -> Response:
    """What was read, part by part, to be mended."""
    saved = await saved_of(request)
    return await parts_view(request, saved)


async def board_page(request: Request) -> Response:
    """The board's limits and weights, and what was chosen; while it is worked, how far that is."""
    saved = await saved_of(request)
    return await board_view(request, saved)


async def result_part(request: Request) -> Response:
    """The result as a fragment, with how far its run is: for the page's own script."""
    saved = await saved_of(request)
    context = await run_in_threadpool(result_of, request, saved, view_of(request, saved))
    return JSONResponse(answer(saved, context), headers={"etag": saved.tag})


async def stopped(request: Request) -> Response:
    """Stop the run; what was found by then stays."""
    saved = await saved_of(request)
    desk = desk_of(request)
    run = await run_in_threadpool(runs_of(request).run, desk.jobs, saved)
    desk.jobs.stop(run.job)
    await run_in_threadpool(run.job.over.wait, 5)
    if wants_json(request):
        context = await run_in_threadpool(result_of, request, saved, view_of(request, saved))
        return JSONResponse(answer(saved, context), headers={"etag": saved.tag})
    return RedirectResponse(f"/boards/{saved.id}", 303)


async def file(request: Request) -> Response:
    """One of the files that the command line writes, the same bytes; or the study itself."""
    name = request.path_params["name"]
    saved = await saved_of(request)
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


ROUTES = [
    Route("/boards", listed),
    Route("/boards", keep, methods=["POST"]),
    Route("/boards/{id}", board_page),
    Route("/boards/{id}", changed, methods=["PUT"]),
    Route("/boards/{id}", posted, methods=["POST"]),
    Route("/boards/{id}/parts", parts_page),
    Route("/boards/{id}/offers", offers_page),
    Route("/boards/{id}/offers", offers_changed, methods=["POST"]),
    Route("/boards/{id}/versions", versions_page),
    Route("/boards/{id}/versions", versions_changed, methods=["POST"]),
    Route("/boards/{id}/state.json", result_part),
    Route("/boards/{id}/undo", undone, methods=["POST"]),
    Route("/boards/{id}/stop", stopped, methods=["POST"]),
    Route("/boards/{id}/files/{name}", file),
]
