"""The shelf: studies that were kept, and keeping, changing and undoing them without two browsers colliding."""

from __future__ import annotations

import tomllib

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from landwise.errors import InputError
from landwise.study.file import FORMAT, study_from
from landwise.study.question import study_data
from landwise.untyped import Fields
from landwise.workbench.asked import asked_from
from landwise.workbench.pages import Page, dated, desk_of, page, wants_json
from landwise.workbench.tomltext import read_toml, toml_text
from landwise.workbench.workspace import Saved

LARGEST_STUDY = 2_000_000  # bytes; a study of a thousand parts is below 500 kB
PAGE = Page("shelf", "Kept", "/studies", {"/studies": LARGEST_STUDY})


async def listed(request: Request) -> Response:
    """What lies on the shelf."""
    entries = await run_in_threadpool(desk_of(request).workspace.listed, "studies")
    rows = dated(entries)
    return page(request, "shelf.html", PAGE.key, title="Kept studies", rows=rows)


async def keep(request: Request) -> Response:
    """Keep a new study: a question from the part page, or a study file."""
    text, title = await _study_text(request)
    saved = await run_in_threadpool(desk_of(request).workspace.create, "studies", text.encode(), title)
    if wants_json(request):
        return JSONResponse(_told(saved), 201, headers={"etag": saved.tag, "location": f"/studies/{saved.id}"})
    return RedirectResponse(f"/studies/{saved.id}", 303)


async def shown(request: Request) -> Response:
    """One kept study: its parts, its versions; as a file for who asks for TOML."""
    saved = await run_in_threadpool(desk_of(request).workspace.read, "studies", request.path_params["id"])
    if request.url.path.endswith("/board.toml"):
        head = {"etag": saved.tag, "content-disposition": 'attachment; filename="board.toml"'}
        return Response(saved.content, media_type="application/toml", headers=head)
    if wants_json(request):
        return JSONResponse(_told(saved), headers={"etag": saved.tag})
    parts = tomllib.loads(saved.text).get("part", [])
    answer = page(request, "study.html", PAGE.key, title=saved.title, saved=saved, parts=parts)
    answer.headers["etag"] = saved.tag
    return answer


async def changed(request: Request) -> Response:
    """Keep a new version, if the one named by If-Match still stands."""
    tag = request.headers.get("if-match")
    if tag is None:
        raise HTTPException(428, "A change names the version it started from (If-Match).")
    text, title = await _study_text(request)
    saved = await run_in_threadpool(
        lambda: desk_of(request).workspace.save(
            "studies", request.path_params["id"], text.encode(), tag=tag, title=title
        )
    )
    return JSONResponse(_told(saved), headers={"etag": saved.tag})


async def undone(request: Request) -> Response:
    """Back to the version before."""
    form = await request.form()
    tag = request.headers.get("if-match") or str(form.get("tag", ""))
    if not tag:
        raise HTTPException(428, "Undo names the version it started from.")
    saved = await run_in_threadpool(
        lambda: desk_of(request).workspace.undo("studies", request.path_params["id"], tag=tag)
    )
    if wants_json(request):
        return JSONResponse(_told(saved), headers={"etag": saved.tag})
    return RedirectResponse(f"/studies/{saved.id}", 303)


async def _study_text(request: Request) -> tuple[str, str]:
    """The study that a request brings, checked as a file would be, and its title."""
    kind = request.headers.get("content-type", "").split(";")[0].strip()
    if kind == "application/toml":
        text = _decoded(await request.body())
    elif kind == "application/json":
        raise HTTPException(415, "A study comes as a form or as TOML.")
    else:
        form = await request.form(max_files=1, max_fields=60, max_part_size=LARGEST_STUDY)
        upload = form.get("file")
        if upload is not None and not isinstance(upload, str):
            text = _decoded(await upload.read())
        else:
            asked = asked_from([(name, str(value)) for name, value in form.multi_items()])
            values: Fields = {**asked.values, "weights": {k: float(v) for k, v in asked.weights.items()}}
            values["offered"] = values.pop("options", "")
            data = study_data(values)
            name = data["part"][0]["number"] if data["part"][0].get("number") else data["part"][0]["function"]
            data["board"]["name"] = f"{name or 'one part'}, {data['part'][0]['terminals']} terminals"
            data["part"][0]["refs"] = ["U1"]
            text = toml_text({"landwise": FORMAT, **data})
    return text, await run_in_threadpool(_checked, text)


def _checked(text: str) -> str:
    """The board's name, from a text that is a study."""
    try:
        data = read_toml(text)
    except ValueError as error:  # no TOML, or a number of too many digits
        raise InputError("not a TOML file", found=str(error), expected="a study file") from None
    if data.get("outlines"):
        raise InputError("own outlines are not read in the workbench", place="outlines", expected="the command line")
    return study_from(data, file="study").content.board.name


def _decoded(content: bytes) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError("not UTF-8 text", place=f"byte {error.start}", expected="a study file") from None


def _told(saved: Saved) -> dict[str, object]:
    return {
        "id": saved.id,
        "version": saved.version,
        "title": saved.title,
        "tag": saved.tag,
        "undo": saved.back is not None,
    }


ROUTES = [
    Route("/studies", listed),
    Route("/studies", keep, methods=["POST"]),
    Route("/studies/{id}", shown),
    Route("/studies/{id}", changed, methods=["PUT"]),
    Route("/studies/{id}/board.toml", shown),
    Route("/studies/{id}/undo", undone, methods=["POST"]),
]
