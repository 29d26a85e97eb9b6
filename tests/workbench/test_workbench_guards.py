"""Hostile requests: each is refused with the right status, and nothing is written."""

from __future__ import annotations

import asyncio
import socket
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest
import uvicorn

from landwise.workbench import guards, patience
from landwise.workbench.app import make_app

HOST = "127.0.0.1:8037"
OWN = "http://127.0.0.1:8037"
FORM = "application/x-www-form-urlencoded"
TOML = "application/toml"
STUDY = '[[part]]\nrefs = ["U1"]\nfunction = "gate"\nterminals = 5\npackage = "SOT-23-5"\n'

# What it tries, method, path, headers (None takes one away), body, status.
HOSTILE = [
    ("another host", "GET", "/part", {"host": "example.org"}, b"", 421),
    ("another host with our port", "GET", "/part", {"host": "example.org:8037"}, b"", 421),
    ("our host, another port", "GET", "/part", {"host": "127.0.0.1:80"}, b"", 421),
    ("our host as a prefix", "GET", "/part", {"host": "127.0.0.1:8037.example.org"}, b"", 421),
    ("a name that could be rebound", "GET", "/studies", {"host": "rebound.test:8037"}, b"", 421),
    ("all interfaces", "GET", "/studies", {"host": "0.0.0.0:8037"}, b"", 421),
    ("a user before the host", "GET", "/part", {"host": "a@127.0.0.1:8037"}, b"", 421),
    ("no host", "GET", "/part", {"host": ""}, b"", 421),
    ("a page elsewhere reads", "GET", "/part", {"origin": "https://example.org"}, b"", 403),
    (
        "a page elsewhere keeps",
        "POST",
        "/studies",
        {"origin": "https://example.org", "content-type": FORM},
        b"terminals=5",
        403,
    ),
    ("a sandboxed page keeps", "POST", "/studies", {"origin": "null", "content-type": FORM}, b"terminals=5", 403),
    (
        "our host over TLS",
        "POST",
        "/studies",
        {"origin": "https://127.0.0.1:8037", "content-type": FORM},
        b"terminals=5",
        403,
    ),
    (
        "our name, another port",
        "POST",
        "/studies",
        {"origin": "http://127.0.0.1:9000", "content-type": FORM},
        b"terminals=5",
        403,
    ),
    (
        "the other name of this machine",
        "POST",
        "/studies",
        {"origin": "http://localhost:8037", "content-type": FORM},
        b"terminals=5",
        403,
    ),
    ("no origin", "POST", "/studies", {"origin": None, "content-type": FORM}, b"terminals=5", 403),
    (
        "an image elsewhere",
        "GET",
        "/part/card.svg?terminals=5",
        {"origin": None, "sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors"},
        b"",
        403,
    ),
    (
        "a neighbour site's script",
        "GET",
        "/part/row?terminals=5",
        {"origin": None, "sec-fetch-site": "same-site", "sec-fetch-mode": "cors"},
        b"",
        403,
    ),
    ("delete", "DELETE", "/studies", {}, b"", 405),
    ("trace", "TRACE", "/part", {}, b"", 405),
    ("options", "OPTIONS", "/part", {}, b"", 405),
    ("patch", "PATCH", "/studies", {"content-type": FORM}, b"terminals=5", 405),
    ("a made-up method", "FROB", "/part", {}, b"", 405),
    ("post where only reading is", "POST", "/part", {"content-type": FORM}, b"terminals=5", 405),
    ("put on the list", "PUT", "/studies", {"content-type": TOML}, STUDY.encode(), 405),
    ("up and out", "GET", "/studies/../../etc/passwd", {}, b"", 400),
    ("up and out of the static files", "GET", "/static/../app.py", {}, b"", 400),
    ("escaped dots", "GET", "/static/%2e%2e/app.py", {}, b"", 400),
    ("escaped slash", "GET", "/static/..%2fapp.py", {}, b"", 400),
    ("twice escaped", "GET", "/static/%252e%252e%252fapp.py", {}, b"", 400),
    ("backslash", "GET", "/static/..%5capp.py", {}, b"", 400),
    ("double slash", "GET", "//etc/passwd", {}, b"", 400),
    ("null byte in the path", "GET", "/part/card%00.svg", {}, b"", 400),
    ("null byte in the query", "GET", "/part?function=gate%00", {}, b"", 400),
    ("overlong dot", "GET", "/static/%c0%ae%c0%ae/app.py", {}, b"", 400),
    ("line break in the path", "GET", "/part%0d%0aset-cookie:a=b", {}, b"", 400),
    ("a file of ours that is no page", "GET", "/static/app.py", {}, b"", 404),
    ("a font that is none", "GET", "/fonts/OFL.txt", {}, b"", 404),
    ("an id that is none", "GET", "/studies/head.json", {}, b"", 404),
    ("an id of dots", "GET", "/studies/...", {}, b"", 400),
    ("an id in the query that climbs", "GET", "/part?study=../../etc&ref=U1", {}, b"", 404),
    ("an absolute path as id", "GET", "/part?study=/etc/passwd&ref=U1", {}, b"", 404),
    ("a very long address", "GET", "/part?function=" + "a" * 9000, {}, b"", 414),
    ("a very long field", "GET", "/part?function=" + "a" * 900, {}, b"", 422),
    ("a field that is none", "GET", "/part?__class__=1", {}, b"", 422),
    ("a number without end", "GET", "/part?terminals=99999999999999999999", {}, b"", 422),
    ("a foil of nothing", "GET", "/part?terminals=5&foil=0%20um", {}, b"", 422),
    ("an infinite weight", "GET", "/part?terminals=5&weight.cost=inf", {}, b"", 422),
    ("a huge form", "POST", "/studies", {"content-type": FORM}, b"function=" + b"a" * 3_000_000, 413),
    ("a huge study", "POST", "/studies", {"content-type": TOML}, b"#" * 3_000_000, 413),
    (
        "a length that lies below zero",
        "POST",
        "/studies",
        {"content-type": FORM, "content-length": "-5"},
        b"terminals=5",
        400,
    ),
    (
        "a length that is no number",
        "POST",
        "/studies",
        {"content-type": FORM, "content-length": "1e9"},
        b"terminals=5",
        400,
    ),
    (
        "a stated length beyond all",
        "POST",
        "/studies",
        {"content-type": FORM, "content-length": "99999999999"},
        b"terminals=5",
        413,
    ),
    ("a packed body", "POST", "/studies", {"content-type": FORM, "content-encoding": "gzip"}, b"\x1f\x8b\x08\x00", 415),
    (
        "plain text, as a form elsewhere could send it",
        "POST",
        "/studies",
        {"content-type": "text/plain"},
        STUDY.encode(),
        415,
    ),
    ("no kind", "POST", "/studies", {}, STUDY.encode(), 415),
    ("JSON where a study is wanted", "POST", "/studies", {"content-type": "application/json"}, b"{}", 415),
    (
        "XML",
        "POST",
        "/studies",
        {"content-type": "application/xml"},
        b"<!DOCTYPE a [<!ENTITY b SYSTEM 'file:///etc/passwd'>]><a>&b;</a>",
        415,
    ),
    (
        "a study that reads a file",
        "POST",
        "/studies",
        {"content-type": TOML},
        ('outlines = ["../../etc/passwd"]\n' + STUDY).encode(),
        422,
    ),
    ("a study that is no TOML", "POST", "/studies", {"content-type": TOML}, b"[[part", 422),
    ("a study of no text", "POST", "/studies", {"content-type": TOML}, b"\xff\xfe\x00", 422),
    (
        "a study with a field of its own",
        "POST",
        "/studies",
        {"content-type": TOML},
        (STUDY + "exec = 1\n").encode(),
        422,
    ),
    (
        "a part without end of fields",
        "POST",
        "/studies",
        {"content-type": FORM},
        b"&".join(b"open=%d" % n for n in range(3000)),
        400,
    ),
    (
        "a broken multipart",
        "POST",
        "/studies",
        {"content-type": "multipart/form-data; boundary=x"},
        b"--x\r\nContent-Disp",
        422,
    ),
    ("a multipart without boundary", "POST", "/studies", {"content-type": "multipart/form-data"}, b"--x\r\n", 400),
    ("a change without its version", "PUT", "/studies/aaaaaaaaaaaaaaaa", {"content-type": TOML}, STUDY.encode(), 428),
    (
        "a change of what is not there",
        "PUT",
        "/studies/aaaaaaaaaaaaaaaa",
        {"content-type": TOML, "if-match": '"x"'},
        STUDY.encode(),
        404,
    ),
    ("headers without end", "GET", "/part", {"x-more": "a" * 30_000}, b"", 431),
]


@pytest.mark.parametrize(
    ("method", "path", "headers", "body", "status"), [row[1:] for row in HOSTILE], ids=[row[0] for row in HOSTILE]
)
def test_hostile_requests_are_refused_and_nothing_is_written(client, kept_files, method, path, headers, body, status):
    before = kept_files()
    sent = {"origin": OWN, "host": HOST} | headers
    answer = raw(client.app, method, path, {k: v for k, v in sent.items() if v is not None}, body)
    assert answer == status
    assert kept_files() == before


def apart(work):
    """Work in a thread of its own: a browser test before may have left an event loop running in this one."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(work).result()


def raw(app, method: str, target: str, headers: dict[str, str], body: bytes) -> int:
    """Speak ASGI as a server would, without a client that tidies paths and headers; gives the status."""
    import anyio

    path, _, query = target.partition("?")
    if body and "content-length" not in headers:
        headers = {**headers, "content-length": str(len(body))}
    from urllib.parse import unquote

    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": method,
        "scheme": "http",
        "path": unquote(path),
        "raw_path": path.encode(),
        "query_string": query.encode(),
        "root_path": "",
        "headers": [(name.encode(), value.encode()) for name, value in headers.items()],
        "client": ("127.0.0.1", 50_000),
        "server": ("127.0.0.1", 8037),
    }
    statuses: list[int] = []

    async def talk() -> None:
        pieces = [body[at : at + 65_536] for at in range(0, len(body), 65_536)] or [b""]

        async def receive():
            piece = pieces.pop(0) if pieces else b""
            return {"type": "http.request", "body": piece, "more_body": bool(pieces)}

        async def send(message):
            if message["type"] == "http.response.start":
                statuses.append(message["status"])
                told = {name.decode() for name, _ in message["headers"]}
                assert {"content-security-policy", "x-content-type-options"} <= told

        await app(scope, receive, send)

    apart(lambda: anyio.run(talk))
    assert len(statuses) == 1
    return statuses[0]


def test_another_machine_is_refused(client):
    scope_client = client.get("/part", headers={"host": HOST})
    assert scope_client.status_code == 200
    from starlette.testclient import TestClient

    with TestClient(client.app, base_url=OWN, client=("192.0.2.7", 5000)) as stranger:
        assert stranger.get("/part").status_code == 403


def test_a_body_that_grows_past_its_limit_is_cut_off(client, kept_files):
    def pieces():
        for _ in range(40):
            yield b"#" * 100_000

    before = kept_files()
    answer = client.post("/studies", content=pieces(), headers={"content-type": TOML})
    assert answer.status_code == 413
    assert kept_files() == before


def test_every_answer_forbids_what_no_page_needs(client):
    for path in ("/part", "/book", "/static/workbench.js", "/nothing", "/part/row?terminals=x"):
        headers = client.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cross-origin-resource-policy"] == "same-origin"


def test_what_is_typed_comes_back_as_text(client):
    nasty = '"><script>alert(1)</script>'
    for path in ("/part", "/book/formulas/area-ratio"):
        name = "function" if path == "/part" else "foil"
        text = client.get(path, params={name: nasty}).text
        assert "<script>alert" not in text
        assert "&lt;script&gt;" in text


def test_a_real_server_answers_the_same(workspace):
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        port = listener.getsockname()[1]
        server = uvicorn.Server(uvicorn.Config(make_app(workspace), log_level="error", ws="none"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.01)
        assert _status(port, f"GET /part HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\n\r\n") == 200
        assert _status(port, f"GET /part HTTP/1.1\r\nHost: example.org:{port}\r\nConnection: close\r\n\r\n") == 421
        assert (
            _status(port, f"GET /static/../app.py HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\n\r\n")
            == 400
        )
        assert _status(port, f"GET /part HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nHost: 127.0.0.1:{port}\r\n\r\n") == 400
        assert _status(port, "GET /part HTTP/1.1\r\nConnection: close\r\n\r\n") == 400
        assert _status(port, "nonsense\r\n\r\n") == 400
        server.should_exit = True
        thread.join(10)


def _status(port: int, text: str) -> int:
    with socket.create_connection(("127.0.0.1", port), timeout=10) as line:
        line.sendall(text.encode())
        return int(line.makefile("rb").readline().split()[1])


def test_half_a_request_gives_its_place_back(workspace, monkeypatch):
    """Half-open connections: none of them keeps who comes next waiting."""
    monkeypatch.setattr(patience, "HEAD_S", 0.3)
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP) as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen(16)
        config = uvicorn.Config(make_app(workspace), http=patience.Patient, log_level="error", ws="none")
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
        thread.start()
        try:
            for start in (b"", b"GET /part HT"):
                with socket.create_connection(listener.getsockname(), 5) as line:
                    line.sendall(start)
                    line.settimeout(5)
                    assert line.recv(100) == b""
        finally:
            server.should_exit = True
            thread.join(10)


def test_a_body_that_does_not_come_is_not_awaited_for_ever(monkeypatch):
    monkeypatch.setattr(guards, "BODY_S", 0.05)

    async def never():
        await asyncio.sleep(60)

    with pytest.raises(guards.RefusedError) as refused:
        apart(lambda: asyncio.run(guards.bounded({"headers": []}, never, 100)()))
    assert refused.value.status == 408


def test_an_answer_that_the_end_of_the_workbench_cuts_off_leaves_no_trace():
    """The server cancels what is under way once it has waited long enough: the asker is told, the terminal is not."""
    sent = []

    async def never(*_):
        await asyncio.sleep(60)

    async def nothing():
        return {"type": "http.request", "body": b"", "more_body": False}

    async def keep(message):
        sent.append(message)

    async def cut_off():
        scope = {
            "type": "http",
            "method": "GET",
            "path": "/part",
            "query_string": b"",
            "headers": [(b"host", b"127.0.0.1:80")],
            "server": ("127.0.0.1", 80),
        }
        task = asyncio.ensure_future(guards.Guards(never, {})(scope, nothing, keep))
        await asyncio.sleep(0.01)
        task.cancel()
        await task

    apart(lambda: asyncio.run(cut_off()))
    assert [one.get("status") for one in sent] == [503, None]
    assert b"ended" in sent[1]["body"]
