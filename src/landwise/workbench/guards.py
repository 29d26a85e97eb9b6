"""What every request must pass before the workbench looks at it, and what every answer carries.

The workbench serves one person on one machine. A page elsewhere in the same browser must not be able to
drive it (wrong host by rebound names, cross-origin forms), nor may anything make it read or keep more than
it was built for. Each refusal has its status and one plain sentence; nothing is written before all checks.
"""

from __future__ import annotations

import asyncio
import re
from collections.abc import Mapping

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

READING = ("GET", "HEAD")
WRITING = ("POST", "PUT")
LONGEST_TARGET = 8_000  # bytes of path and query
LARGEST_HEADERS = 24_000
LARGEST_BODY = 64_000
BODY_S = 30.0  # between two pieces of a body
FORMS = ("application/x-www-form-urlencoded", "multipart/form-data", "application/json", "application/toml")
PATH = re.compile(rb"(/[A-Za-z0-9._~-]*)+")  # plain letters only: no escapes, no backslash, nothing to decode
LOOPBACK = ("127.0.0.1", "::1", "testclient")

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
ANSWERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    # "no-referrer" would turn the Origin of our own forms into "null".
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), usb=(), payment=()",
}


class RefusedError(Exception):
    """Why a request is not looked at: a status, and a sentence for the person."""

    def __init__(self, status: int, says: str, headers: Mapping[str, str] | None = None) -> None:
        super().__init__(says)
        self.status, self.says, self.headers = status, says, headers or {}


class Guards:
    """Middleware that refuses what does not come from the workbench's own pages.

    Parameters
    ----------
    app : ASGI application
    bodies : mapping of str to int
        Path prefix to the largest body it takes; `LARGEST_BODY` elsewhere. [bytes]
    """

    def __init__(self, app: ASGIApp, bodies: Mapping[str, int]) -> None:
        self.app = app
        self.bodies = dict(bodies)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        started = False

        async def answer(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                headers = MutableHeaders(scope=message)
                for name, value in ANSWERS.items():
                    headers.setdefault(name, value)
                headers.setdefault("cache-control", "no-store")
            await send(message)

        try:
            check(scope)
            most = max((size for at, size in self.bodies.items() if scope["path"].startswith(at)), default=LARGEST_BODY)
            await self.app(scope, bounded(scope, receive, most), answer)
        except asyncio.CancelledError:
            # The workbench is ended meanwhile: no fault, and no trace of one in the terminal.
            if not started:
                await PlainTextResponse("the workbench was ended\n", 503)(scope, receive, answer)
        except RefusedError as refusal:
            if started:  # too late for a status: the connection ends, which the server sees to
                return
            response = PlainTextResponse(f"{refusal.says}\n", refusal.status, headers=dict(refusal.headers))
            await response(scope, receive, answer)


def check(scope: Scope) -> None:
    """Everything that can be told from the request's head.

    Raises
    ------
    RefusedError
    """
    _check_target(scope)
    raw: list[tuple[bytes, bytes]] = scope["headers"]
    if sum(len(name) + len(value) for name, value in raw) > LARGEST_HEADERS:
        raise RefusedError(431, "the request's headers are too large")
    headers = Headers(raw=raw)
    client = scope.get("client")
    if client is not None and client[0] not in LOOPBACK:
        raise RefusedError(403, "only this machine may use the workbench")
    host = _host(scope, headers)
    method = scope["method"]
    if method not in READING + WRITING:
        raise RefusedError(405, "the workbench does not know this method", {"allow": "GET, HEAD, POST, PUT"})
    _check_origin(method, host, headers)
    _check_body(method, headers)


def _check_target(scope: Scope) -> None:
    path, query = scope.get("raw_path") or scope["path"].encode(), scope["query_string"]
    if len(path) + len(query) > LONGEST_TARGET:
        raise RefusedError(414, "the address is too long")
    if not PATH.fullmatch(path) or b"//" in path or any(set(step) == {46} for step in path.split(b"/")):
        raise RefusedError(400, "the address has parts that no page of the workbench has")
    if b"%00" in query:
        raise RefusedError(400, "the address holds a null byte")


def _host(scope: Scope, headers: Headers) -> str:
    hosts = headers.getlist("host")
    if len(hosts) != 1:
        raise RefusedError(400, "the request names no host, or more than one")
    port = (scope.get("server") or ("", None))[1]
    own = {f"{name}:{port}" for name in ("127.0.0.1", "localhost", "[::1]")}
    if port in (80, None):
        own |= {"127.0.0.1", "localhost", "[::1]"}
    host = hosts[0].lower()
    if host not in own:
        raise RefusedError(421, "the workbench answers to its own address only")
    return host


def _check_origin(method: str, host: str, headers: Headers) -> None:
    origins, sites = headers.getlist("origin"), headers.getlist("sec-fetch-site")
    if len(origins) > 1 or len(sites) > 1:
        raise RefusedError(400, "the request names more than one origin")
    if origins and origins[0] != f"http://{host}":
        raise RefusedError(403, "a page elsewhere may not use the workbench")
    if method in WRITING and not origins:
        raise RefusedError(403, "a change must come from the workbench's own page")
    if sites and sites[0] not in ("same-origin", "none") and headers.get("sec-fetch-mode") != "navigate":
        raise RefusedError(403, "a page elsewhere may not use the workbench")


def _check_body(method: str, headers: Headers) -> None:
    lengths = headers.getlist("content-length")
    if len(lengths) > 1 or (lengths and not re.fullmatch(r"[0-9]{1,12}", lengths[0])):
        raise RefusedError(400, "the length of the body can't be read")
    if method in READING and lengths and int(lengths[0]):
        raise RefusedError(400, "a reading request carries no body")
    if headers.get("content-encoding", "identity") != "identity":
        raise RefusedError(415, "a packed body is not taken")
    kind = headers.get("content-type", "").split(";")[0].strip().lower()
    if method in WRITING and kind not in FORMS:
        raise RefusedError(415, "the body is of a kind that is not taken")


def bounded(scope: Scope, receive: Receive, most: int) -> Receive:
    """The request's body, cut off with a refusal where it passes its limit."""
    stated = Headers(raw=scope["headers"]).get("content-length")
    if stated and int(stated) > most:
        raise RefusedError(413, f"the body is too large; at most {most / 1e6:g} MB is taken here")
    seen, whole = 0, False

    async def next_message() -> Message:
        nonlocal seen, whole
        try:
            # Once the body is whole only the end of the connection is awaited, for as long as the answer takes.
            message = await asyncio.wait_for(receive(), None if whole else BODY_S)
        except TimeoutError:
            raise RefusedError(408, "the body does not come", {"connection": "close"}) from None
        if message["type"] == "http.request":
            seen += len(message.get("body", b""))
            whole = not message.get("more_body", False)
            if seen > most:
                raise RefusedError(413, f"the body is too large; at most {most / 1e6:g} MB is taken here")
        return message

    return next_message
