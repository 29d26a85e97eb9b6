"""The review page: drop a zip of fabrication files, see every opening by its margin, take the corrected layer."""

from __future__ import annotations

import re
import shlex
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path, PurePosixPath, PureWindowsPath
from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from landwise.assembly.lines import Line, preset, presets
from landwise.errors import InputError, LandwiseError
from landwise.printing.model import POWDERS
from landwise.quantities import parse
from landwise.review.decisions import APPLY
from landwise.review.filmsout import films, writable
from landwise.review.jobs import read_board
from landwise.review.reviews import Asked, Review, SideReview, review
from landwise.sheets.look import DARK, LIGHT
from landwise.sheets.pdf import can_be_made
from landwise.sheets.reviewreport import review_files
from landwise.untyped import Fields
from landwise.workbench.jobs import Job
from landwise.workbench.ownline import OwnLine
from landwise.workbench.pages import Page, dated, desk_of, page, says, wants_json
from landwise.workbench.reviewanswers import by_proposal, decisions_of, from_form, kept, offered
from landwise.workbench.reviewdata import overview, shapes, under

LARGEST_UPLOAD = 60_000_000  # bytes; the largest real board's layers are 7 MB packed
PAGE = Page("reviews", "Review", "/reviews", {"/reviews": LARGEST_UPLOAD})
SOON_S = 0.4  # a review that is done this soon is shown at once
OPTIONS = ("line", "foils", "powder", "run", "apply", "answers")
USUAL_LINE = "ordinary"
MOST_RUN = 100_000_000
KINDS = {
    ".html": "text/html",
    ".pdf": "application/pdf",
    ".json": "application/json",
    ".csv": "text/csv",
    ".gbr": "application/vnd.gerber",
    ".toml": "application/toml",
    ".txt": "text/plain",
}


@dataclass
class Reviewed:
    """What a run leaves: the review, the files it makes on demand."""

    result: Review
    layers: Mapping[str, bytes]
    files: dict[str, bytes] = field(default_factory=dict)


@dataclass(frozen=True)
class Options:
    """How a board is to be reviewed, as typed: the command line's `--line`, `--foils`, `--powder` and `--run`.

    `line` names a shipped line; empty, it is the line file that the workbench began with, or without one the ordinary.
    """

    line: str = ""
    foils: str = ""
    powder: str = ""
    run: str = "500"
    apply: str = "none"
    answers: str = ""

    @classmethod
    def of(cls, pairs: Mapping[str, str], own: OwnLine | None = None) -> Options:
        """From an address or a form of a workbench that began with a line file, or with none."""
        stated = {name: str(pairs[name]).strip() for name in OPTIONS if str(pairs.get(name, "")).strip()}
        if own is None and stated.get("line") == USUAL_LINE:
            del stated["line"]
        answers = from_form({name: str(value) for name, value in pairs.items()})
        if answers:
            stated["answers"] = answers
        if any(len(text) > (20_000 if name == "answers" else 200) for name, text in stated.items()):
            raise InputError("too long", place="review", expected="200 characters a field")
        return cls(**stated)

    @property
    def query(self) -> str:
        """As an address holds them; what is usual is left out."""
        usual = Options()
        return urlencode({n: getattr(self, n) for n in OPTIONS if getattr(self, n) != getattr(usual, n)})

    def command(self, file: str, own: OwnLine | None = None) -> str:
        """The same on the command line."""
        usual, words = Options(), ["landwise", "review", file, "-o", "out/"]
        if own is not None and not self.line:
            words += ["--line", own.path]
        for name in OPTIONS:
            if name != "answers" and getattr(self, name) != getattr(usual, name):
                words += [f"--{name}", getattr(self, name)]
        if self.answers:
            words += ["--decisions", "decisions.toml"]
        return shlex.join(words)

    def says(self, own: OwnLine | None) -> str:
        """Which line it is worked with, where the workbench began with a line file."""
        if own is None:
            return ""
        return own.instead(self.line) if self.line else own.says({})

    def read(self, own: OwnLine | None = None) -> tuple[Line, Asked]:
        """As the engine takes them.

        Raises
        ------
        InputError
            With the field's name as its place.
        """
        try:
            line = own.line if own is not None and not self.line else preset(self.line or USUAL_LINE)
        except LandwiseError as error:
            raise error.within(place="line") from None
        foils = tuple(
            parse(text.strip(), "thin length", place="foils") for text in self.foils.split(",") if text.strip()
        )
        powder = self.powder.upper() or None
        if powder is not None and powder not in POWDERS:
            raise InputError("unknown powder", place="powder", found=self.powder, expected=" | ".join(POWDERS))
        if not re.fullmatch(r"[0-9]{1,9}", self.run) or not 1 <= int(self.run) <= MOST_RUN:
            raise InputError("not a number of boards", place="run", found=self.run, expected=f"1 to {MOST_RUN}")
        if self.apply not in APPLY:
            raise InputError("no such choice", place="apply", found=self.apply, expected=" | ".join(APPLY))
        return line, Asked(foils, powder, int(self.run), None, decisions_of(self.answers), self.apply)


async def listed(request: Request) -> Response:
    """The form, and the boards reviewed before."""
    return await _form(request, Options())


async def _form(request: Request, options: Options, status: int = 200, wrong: str = "", error: str = "") -> Response:
    entries = await run_in_threadpool(desk_of(request).workspace.listed, "reviews")
    rows = dated(entries)
    return page(
        request,
        "reviews.html",
        PAGE.key,
        status,
        title="Review a board's stencil",
        rows=rows,
        options=options,
        lines=presets(),
        own=desk_of(request).own,
        powders=POWDERS,
        wrong=wrong,
        error=error,
    )


async def keep(request: Request) -> Response:
    """Keep an uploaded zip and go to its review."""
    async with request.form(max_files=1, max_fields=10, max_part_size=LARGEST_UPLOAD) as form:
        upload = form.get("file")
        stated = {name: str(value) for name, value in form.items() if isinstance(value, str)}
        options = Options.of(stated, desk_of(request).own)
        named = "" if upload is None or isinstance(upload, str) else _title(upload.filename or "")
        content = b"" if upload is None or isinstance(upload, str) else await upload.read()
    try:
        options.read(desk_of(request).own)
        if not named or not content:
            raise InputError("no file was chosen", place="file", expected="a zip of Gerber layers")
        if not content.startswith(b"PK"):
            raise InputError("not a zip", place="file", found=named, expected="a zip of Gerber layers")
    except LandwiseError as error:
        return await _form(request, options, 422, error.place or "file", says(error))
    saved = await run_in_threadpool(desk_of(request).workspace.create, "reviews", content, named)
    return RedirectResponse(_address(saved.id, options), 303)


def _title(name: str) -> str:
    """A name to show and to name files by: the upload's last part, plain letters only."""
    last = PurePosixPath(PureWindowsPath(name).name).name
    plain = re.sub(r"[^\w. ()+-]", "_", last).strip(". ")[:80]
    return re.sub(r"\.zip$", "", plain, flags=re.I) or "board"


def _address(name: str, options: Options) -> str:
    query = options.query
    return f"/reviews/{name}" + (f"?{query}" if query else "")


async def shown(request: Request) -> Response:
    """A review; while it is worked, how far it is."""
    name, own = request.path_params["id"], desk_of(request).own
    saved = await run_in_threadpool(desk_of(request).workspace.read, "reviews", name)
    try:
        options = Options.of(dict(request.query_params), own)
        options.read(own)
        job = await _job(request, options)
    except LandwiseError as error:
        return await _form(request, Options(), 422, error.place or "file", says(error))
    await run_in_threadpool(job.over.wait, SOON_S)
    head: Fields = {
        "title": saved.title,
        "saved": saved,
        "options": options,
        "address": _address(name, options),
    }
    if job.state != "done":
        status = 422 if job.state == "failed" else 200
        text = says(job.error) if job.error is not None else job.says
        return page(request, "work.html", PAGE.key, status, job=job, text=text, back="/reviews", **head)
    made: Reviewed = job.result
    told = overview(made.result)
    told["colours"] = {"light": dict(LIGHT.colours), "dark": dict(DARK.colours)}
    return page(
        request,
        "review.html",
        PAGE.key,
        told=told,
        base=f"/reviews/{name}",
        lines=presets(),
        own=own,
        worked=options.says(own),
        powders=POWDERS,
        command=options.command(f"{saved.title}.zip", own),
        files=_names(made),
        kept=kept(options.answers),
        chosen=by_proposal(options.answers),
        offered=offered(made.result),
        wrong="",
        error="",
        **head,
    )


def _names(made: Reviewed) -> list[str]:
    fixed = [
        "report.html",
        "report.pdf",
        "review.json",
        "findings.csv",
        "changes.csv",
        "decisions.toml",
        "order.pdf",
        "order.txt",
    ]
    return [*made.layers, *can_be_made(fixed)]


async def _job(request: Request, options: Options) -> Job:
    desk, name = desk_of(request), request.path_params["id"]
    saved = await run_in_threadpool(desk.workspace.read, "reviews", name)
    key = f"review {name} {saved.version} {options.query}"
    last = desk.jobs.of(key)
    if last is not None and last.state in ("failed", "stopped") and "again" not in request.query_params:
        return last  # loading the page again is no wish to begin again
    return desk.jobs.start(key, partial(_work, saved.content, saved.title, options.read(desk.own)))


def _work(content: bytes, title: str, asked: tuple[Line, Asked], job: Job) -> Reviewed:
    job.progress(0, 3, "reading the layers")
    with tempfile.TemporaryDirectory() as folder:
        # The board is named by its file, as on the command line.
        path = Path(folder) / f"{title}.zip"
        path.write_bytes(content)
        read = read_board(path, {})
    job.progress(1, 3, "judging every opening under every foil")
    result = review(read.board, *asked)
    job.progress(2, 3, "making the corrected layers")
    result = writable(result, read)
    return Reviewed(result, films(result, read))


async def _made(request: Request) -> Reviewed:
    job = await _job(request, Options.of(dict(request.query_params), desk_of(request).own))
    await run_in_threadpool(job.over.wait, 120)
    if job.error is not None:
        raise job.error
    if job.state != "done":
        raise HTTPException(503, "The review is not ready.")
    made: Reviewed = job.result
    return made


def _side(made: Reviewed, request: Request) -> SideReview:
    wanted = request.query_params.get("side", "")
    for side in made.result.sides:
        if side.side == wanted:
            return side
    raise HTTPException(404, "The board has no such side.")


async def shapes_told(request: Request) -> Response:
    """Outlines of one side."""
    made = await _made(request)
    return JSONResponse(await run_in_threadpool(shapes, _side(made, request), made.result.board.outline))


async def under_told(request: Request) -> Response:
    """Figures of one side under one foil."""
    made = await _made(request)
    side = _side(made, request)
    text = request.query_params.get("foil", "")
    foil = next((um for um in side.unders if f"{um:g}" == text), None)
    if foil is None:
        raise HTTPException(404, "That foil is not one that was compared.")
    return JSONResponse(await run_in_threadpool(under, side, foil))


async def file(request: Request) -> Response:
    """One of the files that the command line writes, the same bytes."""
    made, name = await _made(request), request.path_params["name"]
    if name not in _names(made):
        raise HTTPException(404)
    if name in made.layers:
        content = made.layers[name]
    else:
        if not made.files:
            made.files = await run_in_threadpool(review_files, made.result, made.layers)
        content = made.files[name]
    head = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(content, media_type=KINDS[Path(name).suffix], headers=head)


async def job_told(request: Request) -> Response:
    """How far a piece of work is."""
    return JSONResponse(_known(request).told())


async def job_stopped(request: Request) -> Response:
    """Stop a piece of work."""
    job = _known(request)
    desk_of(request).jobs.stop(job)
    if wants_json(request):
        return JSONResponse(job.told())
    async with request.form(max_files=0, max_fields=2) as form:
        back = str(form.get("back", ""))
    return RedirectResponse(back if back in ("/reviews", "/boards") else "/", 303)


def _known(request: Request) -> Job:
    job = desk_of(request).jobs.find(request.path_params["id"])
    if job is None:
        raise HTTPException(404, "No such piece of work; it may have been let go.")
    return job


async def again(request: Request) -> Response:
    """The same board under other options, from the form on its page."""
    async with request.form(max_files=0, max_fields=5000) as form:
        options = Options.of({name: str(value) for name, value in form.items()}, desk_of(request).own)
    return RedirectResponse(_address(request.path_params["id"], options), 303)


ROUTES = [
    Route("/reviews", listed),
    Route("/reviews", keep, methods=["POST"]),
    Route("/reviews/{id}", shown),
    Route("/reviews/{id}/again", again, methods=["POST"]),
    Route("/reviews/{id}/shapes.json", shapes_told),
    Route("/reviews/{id}/under.json", under_told),
    Route("/reviews/{id}/files/{name}", file),
    Route("/jobs/{id}", job_told),
    Route("/jobs/{id}/stop", job_stopped, methods=["POST"]),
]
