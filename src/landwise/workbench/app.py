"""The application: the pages' routes behind the guards, and the static files with the look's own colours."""

from __future__ import annotations

import threading
from functools import cache
from importlib import resources

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from landwise.errors import LandwiseError
from landwise.sheets.look import DARK, LIGHT, Theme
from landwise.version import __version__
from landwise.workbench.ahead import Neighbour
from landwise.workbench.engine import Engine
from landwise.workbench.guards import Guards
from landwise.workbench.ownline import OwnLine
from landwise.workbench.pages import Desk, on_absent, on_error, on_fault, pages
from landwise.workbench.partpage import drawn_after, warm
from landwise.workbench.workspace import Workspace

FONTS = ("landwise-sans-regular", "landwise-sans-semibold", "landwise-mono-regular")
STATIC = {
    "workbench.css": "text/css",
    "workbench.js": "text/javascript",
    "review.css": "text/css",
    "review.js": "text/javascript",
    "drop.js": "text/javascript",
    "work.js": "text/javascript",
    "boards.css": "text/css",
    "board.js": "text/javascript",
    "solid.js": "text/javascript",
}
# The one library of others that a page loads, and only for the look in three dimensions: see its ORIGIN.md.
THREE = "three-0.184.0"
THREE_FILES = ("three.module.min.js", "three.core.min.js")


def make_app(workspace: Workspace, *, neighbour: Neighbour | None = None, own: OwnLine | None = None) -> Starlette:
    """The workbench as an ASGI application that keeps what it keeps in one workspace.

    Parameters
    ----------
    workspace : Workspace
    neighbour : Neighbour, optional
        Who works out, while nobody asks, where the sliders may go next.
    own : OwnLine, optional
        The line file that pages work with unless another line is asked for.
    """
    routes: list[BaseRoute] = [
        Route("/", home),
        Route("/static/{name}", static),
        Route(f"/static/{THREE}/{{name}}", three),
        Route("/fonts/{name}", font),
        Route("/favicon.ico", favicon),
    ]
    bodies: dict[str, int] = {}
    for one, more in pages():
        routes += more
        bodies |= one.bodies
    app = Starlette(
        routes=routes,
        middleware=[Middleware(Guards, bodies=bodies)],
        exception_handlers={LandwiseError: on_error, HTTPException: on_absent, Exception: on_fault},
    )
    app.state.desk = Desk(workspace, Engine(neighbour=neighbour, after=drawn_after), own=own)
    return app


def warm_up(app: Starlette) -> None:
    """Make the first page of a fresh workbench as quick as the next, and its moves without a stop."""

    def made() -> None:
        warm(app.state.desk)
        app.state.desk.tidying.begin()

    threading.Thread(target=made, daemon=True).start()


async def home(request: Request) -> Response:
    """The first page."""
    return RedirectResponse(pages()[0][0].path, 303)


async def static(request: Request) -> Response:
    """One of the workbench's own files; names are looked up in a list, never on the disk."""
    name = request.path_params["name"]
    if name == "look.css":
        return _file(look_css().encode(), "text/css")
    if name not in STATIC:
        raise HTTPException(404)
    return _file(_bytes("landwise.workbench", "static", name), STATIC[name])


async def three(request: Request) -> Response:
    """One of the two files of the library that draws solids."""
    name = request.path_params["name"]
    if name not in THREE_FILES:
        raise HTTPException(404)
    answer = _file(_bytes("landwise.workbench", f"static/{THREE}", f"{name}.gz"), "text/javascript")
    answer.headers["content-encoding"] = "gzip"  # as they lie: a fifth of their size, and every browser unpacks it
    return answer


async def font(request: Request) -> Response:
    """One of the shipped fonts."""
    name = request.path_params["name"]
    if name.removesuffix(".woff2") not in FONTS or not name.endswith(".woff2"):
        raise HTTPException(404)
    return _file(_bytes("landwise.sheets", "fonts", name), "font/woff2")


async def favicon(request: Request) -> Response:
    """A land with its part, as small as it gets."""
    mark = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 16 16"><rect x="1" y="3" width="14" height="4"'
        ' fill="#c98a2b"/><rect x="1" y="9" width="14" height="4" fill="#c98a2b"/><rect x="4" y="1" width="8"'
        ' height="14" fill="#fff" stroke="#4a5160" stroke-width="1.5"/></svg>'
    )
    return _file(mark.encode(), "image/svg+xml")


def _file(content: bytes, kind: str) -> Response:
    # Addresses carry the version, so what was fetched once can stay.
    return Response(content, media_type=kind, headers={"cache-control": "private, max-age=86400"})


@cache
def _bytes(package: str, folder: str, name: str) -> bytes:
    return resources.files(package).joinpath(folder, name).read_bytes()


@cache
def look_css() -> str:
    """The look's colours as custom properties, light and dark, and the drawings' classes that use them.

    >>> "--ink:#1f2430" in look_css() and ".f-ink{fill:var(--ink)}" in look_css()
    True
    """

    def rules(theme: Theme) -> str:
        return "".join(f"--{name}:{value};" for name, value in theme.colours.items()) + f"color-scheme:{theme.name};"

    faces = "".join(
        f'@font-face{{font-family:"Landwise {kind}";font-weight:{weight};font-display:block;'
        f'src:url(/fonts/{name}.woff2?v={__version__}) format("woff2")}}\n'
        for name, kind, weight in zip(FONTS, ("Sans", "Sans", "Mono"), (400, 600, 400), strict=True)
    )
    classes = "".join(f".k-{name}{{stroke:var(--{name})}}.f-{name}{{fill:var(--{name})}}\n" for name in LIGHT.colours)
    return (
        f"{faces}:root{{{rules(LIGHT)}}}\n"
        f"@media screen and (prefers-color-scheme:dark){{:root:not([data-look=light]){{{rules(DARK)}}}}}\n"
        f"@media screen{{:root[data-look=dark]{{{rules(DARK)}}}}}\n{classes}"
    )
