"""The board page's tab of offers: a table comes in, its columns are mended, what it gives is looked at and taken."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from landwise.errors import InputError, LandwiseError
from landwise.workbench.boardbill import plain_name
from landwise.workbench.boardoffers import LARGEST_TABLE, Table, read_table, sources, table_text, taken, without_source
from landwise.workbench.boardviews import HERE, saved_of
from landwise.workbench.pages import desk_of, page, says
from landwise.workbench.workspace import ConflictError, Saved

LARGEST_UPLOAD = 8_000_000  # bytes, as of a bill
MOST_FIELDS = 80
PASTED = "pasted.csv"


async def offers_page(request: Request) -> Response:
    """What the study holds of offers, and a field for a table."""
    return _shown(request, await saved_of(request), Table("", ""))


def _shown(request: Request, saved: Saved, table: Table, status: int = 200, trouble: str = "") -> Response:
    made = page(
        request,
        "board_offers.html",
        HERE,
        status,
        title=saved.title,
        saved=saved,
        tab="offers",
        trouble=trouble,
        table=table,
        sources=sources(saved.text),
    )
    made.headers["etag"] = saved.tag
    return made


async def offers_changed(request: Request) -> Response:
    """One of the page's buttons: read a table, take it, or take a source's offers out."""
    async with request.form(max_files=1, max_fields=MOST_FIELDS, max_part_size=LARGEST_UPLOAD) as form:
        tag, do, by = (str(form.get(name, "")) for name in ("tag", "do", "by"))
        own = {name[7:]: str(form[name]) for name in form if name.startswith("column.")}
        source = str(form.get("source", ""))
        saved = await saved_of(request)
        try:
            text, called = await _given(form)
        except LandwiseError as error:
            return _shown(request, saved, Table("", "", errors={"table": says(error)}), 422)
    place = f"/boards/{saved.id}/offers"
    try:
        if do != "look" and tag.strip() != saved.tag:
            raise ConflictError(
                "it was changed elsewhere since", found=f"version {saved.version}", expected="look at it as it is now"
            )
        if do == "drop":
            made, did = await run_in_threadpool(without_source, saved.text, source)
            return await _keep(request, saved, made, did, place)
        table = await run_in_threadpool(lambda: read_table(saved.text, text, called, own, by=by))
        if do != "take":
            return _shown(request, saved, table, 422 if table.errors else 200)
        made, did = await run_in_threadpool(taken, saved.text, table)
    except ConflictError as error:
        return _shown(request, saved, Table(text, called), 412, says(error))
    except LandwiseError as error:
        return _shown(request, saved, Table(text, called, errors={"table": says(error)}), 422)
    return await _keep(request, saved, made, did, place)


async def _given(form: FormData) -> tuple[str, str]:
    """The table's text and its name, from the file where there is one, else from the field."""
    file = form.get("file")
    if isinstance(file, UploadFile) and file.filename:
        name = plain_name(file.filename, PASTED)
        return await run_in_threadpool(table_text, name, await file.read()), f"{name.rsplit('.', 1)[0]}.csv"
    text = str(form.get("table", ""))
    if len(text) > 2 * LARGEST_TABLE:
        raise InputError("too long for this page", place="table", expected="at most 1 MB")
    return text.replace("\r\n", "\n"), plain_name(str(form.get("called", "")), PASTED)


async def _keep(request: Request, saved: Saved, text: str, did: str, place: str) -> Response:
    await run_in_threadpool(
        lambda: desk_of(request).workspace.save("studies", saved.id, text.encode(), tag=saved.tag, did=did[:300])
    )
    return RedirectResponse(place, 303)
