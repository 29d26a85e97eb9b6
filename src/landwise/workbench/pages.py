"""The pages of the workbench and what they share: navigation, templates, the way errors are shown.

A page is a module of this package with `PAGE` and `ROUTES`. The navigation shows the pages that are there,
in the order of `PAGES`, so a page is added by adding its module.
"""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib import import_module
from importlib.util import find_spec
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse
from starlette.routing import BaseRoute

from landwise.errors import ExtraError, FileError, InputError, LandwiseError, UnknownNameError
from landwise.extras import PDF
from landwise.quantities import significant
from landwise.sheets.glossary import definitions, marked, words
from landwise.sheets.look import VERDICT_LOOKS
from landwise.untyped import Table
from landwise.version import DATA_DATE, __version__
from landwise.workbench.engine import Engine, kept
from landwise.workbench.jobs import Jobs
from landwise.workbench.ownline import OwnLine
from landwise.workbench.row import Drawn
from landwise.workbench.tidying import Tidying
from landwise.workbench.workspace import ConflictError, Entry, Workspace

PAGES = ("partpage", "boards", "reviews", "book", "shelf")
LOOKS = ("light", "dark")
MOST_TABS = 200


@dataclass(frozen=True)
class Page:
    """One page of the navigation. `bodies` says which paths take a larger body than usual. [bytes]"""

    key: str
    title: str
    path: str
    bodies: Mapping[str, int] = field(default_factory=dict)


class Turns:
    """The newest question of each open page, so that work on older ones can stop."""

    def __init__(self) -> None:
        self._newest: OrderedDict[str, int] = OrderedDict()
        self._told: OrderedDict[str, tuple[int, int, str]] = OrderedDict()
        self._turn = threading.Lock()
        self._over = False

    def end(self) -> None:
        """The workbench ends: no answer is wanted any longer."""
        self._over = True

    def come(self, tab: str, turn: str) -> None:
        """A question has come; pages that number none are left alone."""
        if tab and turn.isdigit() and len(tab) <= 40 and len(turn) < 12:
            with self._turn:
                newest = max(int(turn), self._newest.get(tab, 0))
                kept(self._newest, tab, newest, MOST_TABS)

    def stands(self, tab: str, turn: str) -> bool:
        """Whether no newer one has come."""
        return not self._over and (not turn.isdigit() or self._newest.get(tab, 0) <= int(turn))

    def tell(self, tab: str, done: int, whole: int, what: str) -> None:
        """How far the work on a page's question is."""
        if 0 < len(tab) <= 40:
            with self._turn:
                kept(self._told, tab, (done, whole, what), MOST_TABS)

    def told(self, tab: str) -> tuple[int, int, str]:
        """Done, in all, what; nothing for a page that asked nothing."""
        return self._told.get(tab, (0, 0, ""))


@dataclass
class Desk:
    """What all pages work with; hangs on the application's state as `desk`. `own` is the line file it began with."""

    workspace: Workspace
    engine: Engine = field(default_factory=Engine)
    drawn: Drawn = field(default_factory=Drawn)
    turns: Turns = field(default_factory=Turns)
    jobs: Jobs = field(default_factory=Jobs)
    tidying: Tidying = field(default_factory=Tidying)
    own: OwnLine | None = None


@cache
def pages() -> tuple[tuple[Page, list[BaseRoute]], ...]:
    """Every page that is there, with its routes."""
    found = []
    for name in PAGES:
        if find_spec(f"landwise.workbench.{name}") is not None:
            module = import_module(f"landwise.workbench.{name}")
            found.append((module.PAGE, module.ROUTES))
    return tuple(found)


def desk_of(request: Request) -> Desk:
    """The desk of the application that got the request."""
    desk: Desk = request.app.state.desk
    desk.tidying.asked()
    return desk


@cache
def templates() -> Environment:
    """The templates; what is put into them is escaped unless it is a drawing of ours."""
    found = Environment(
        loader=PackageLoader("landwise.workbench", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    found.globals.update(verdicts=VERDICT_LOOKS, version=__version__, data_date=DATA_DATE, pdf=PDF)
    found.globals["definitions"] = Markup(definitions(words()))
    found.filters["sig"] = significant
    found.filters["drawing"] = Markup
    found.filters["capital"] = lambda text: text[:1].upper() + text[1:]
    return found


def html(name: str, context: Table) -> str:
    """A template filled in, the first of each trade word opening its definition."""
    return marked(templates().get_template(name).render(context))


# whatever a template looks up by name
def page(request: Request, name: str, here: str, status: int = 200, **context: Any) -> HTMLResponse:
    """A whole page with its frame. `here` is the key of the page in the navigation."""
    look = request.cookies.get("look", "")
    return HTMLResponse(html(name, {**frame_of(here, look if look in LOOKS else ""), **context}), status)


def frame_of(here: str, look: str = "") -> dict[str, object]:
    """What every page's frame says."""
    return {"nav": [one for one, _ in pages()], "here": here, "look": look, "units": "mm", "units_query": None}


def status_of(error: LandwiseError) -> int:
    """The status that answers an error."""
    if isinstance(error, ConflictError):
        return 412
    if isinstance(error, FileError):
        return 507
    if isinstance(error, ExtraError):
        return 501
    if isinstance(error, UnknownNameError) and error.about != "outline":
        return 404
    return 422


def wants_json(request: Request) -> bool:
    """Whether the request asks for data rather than a page."""
    return "application/json" in request.headers.get("accept", "")


def dated(entries: Iterable[Entry]) -> list[tuple[Entry, str]]:
    """Kept documents, each with the local time of its last change."""
    return [(one, time.strftime("%Y-%m-%d %H:%M", time.localtime(one.changed))) for one in entries]


def says(error: LandwiseError) -> str:
    """An error as the page words it: what is wrong, what was found, what was expected."""
    bits = [error.message]
    if error.found is not None:
        bits.append(f"found {error.found}")
    if error.expected is not None:
        bits.append(f"expected {error.expected}")
    text = "; ".join(bits)
    return text[:1].upper() + text[1:] + "."


async def on_error(request: Request, error: Exception) -> HTMLResponse:
    """The page of an error that no page has put beside its field."""
    assert isinstance(error, LandwiseError)
    place = f"{error.place}: " if error.place else ""
    return page(request, "error.html", "", status_of(error), title="That can't be done", text=place + says(error))


async def on_absent(request: Request, error: Exception) -> HTMLResponse:
    """The page of an address that leads nowhere, or of a method that it does not take."""
    status = getattr(error, "status_code", 404)
    title = "No such page" if status == 404 else "Not this way"
    text = "The address leads nowhere in the workbench." if status == 404 else str(getattr(error, "detail", ""))
    return page(request, "error.html", "", status, title=title, text=text)


async def on_fault(request: Request, error: Exception) -> HTMLResponse:
    """The page of a fault of ours: one sentence, no trace."""
    text = f"{type(error).__name__}. Nothing was kept; the terminal in which the workbench runs says more."
    return page(request, "error.html", "", 500, title="A fault of the workbench", text=text)


__all__ = [
    "Desk",
    "InputError",
    "Page",
    "dated",
    "desk_of",
    "frame_of",
    "html",
    "on_absent",
    "on_error",
    "on_fault",
    "page",
    "pages",
    "says",
    "status_of",
    "templates",
    "wants_json",
]
