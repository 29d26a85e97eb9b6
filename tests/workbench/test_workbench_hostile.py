"""More hostile requests, in families: numbers, nesting, encodings, forms, paths and methods, on every kind of page.

Together with those of the guards there are more than 150. Each is refused with a status of 4xx, writes no file, leaves
no traceback in the answer or the terminal; a fault of the server's own would be raised by the client.
"""

from __future__ import annotations

import logging

import pytest

from .test_workbench_guards import FORM, HOSTILE, STUDY, TOML

NUMBERS = {
    "no number": "nan",
    "beyond all": "1e999",
    "below zero": "-5",
    "a hundred thousand digits": "9" * 2000,
    "another script's digits": "%D9%A3%D9%A3",
    "a formula": "%3D1%2B1",
    "a sum": "1+1",
    "hexadecimal": "0x10",
    "underscored": "1_000_000",
    "an object": "%7B%22a%22%3A1%7D",
}
FIELDS = ("terminals", "foil", "weight.area", "swing")
DEEP = 4000


def numbers():
    for said, text in NUMBERS.items():
        for field in FIELDS:
            # Underscores and sums are numbers where a length is read; each must still carry a unit.
            base = "" if field == "terminals" else "terminals=5&"
            yield f"{field}: {said}", "GET", f"/part?{base}{field}={text}", {}, b""


def studies():
    nested = {
        "arrays in arrays": "x = " + "[" * DEEP + "]" * DEEP,
        "tables in tables": "x = " + "{a = " * DEEP + "1" + "}" * DEEP,
        "a key of many dots": ".".join("a" for _ in range(DEEP)) + " = 1",
        "a head of many dots": "[" + ".".join("a" for _ in range(DEEP)) + "]",
        "a number of many digits": "x = " + "9" * 100_000,
        "a date that is none": "x = 2026-13-45",
        "two tables of one name": "[board]\n[board]\n",
        "a part that is a number": "part = 1",
        "parts that are numbers": "part = [1, 2]",
        "a part without references": "[[part]]\nterminals = 5\n",
        "references that are numbers": "[[part]]\nrefs = [1]\nterminals = 5\n",
        "ten thousand references": f"[[part]]\nrefs = {[f'U{n}' for n in range(10_000)]}\nterminals = 0\n",
        "one reference twice": STUDY + STUDY,
        "terminals below zero": STUDY.replace("terminals = 5", "terminals = -5"),
        "terminals beyond all": STUDY.replace("terminals = 5", "terminals = 10000000000000000000000"),
        "terminals that are no number": STUDY.replace("terminals = 5", "terminals = nan"),
        "a run of nothing": STUDY + "[costs]\nrun = 0\n",
        "a board of infinite size": STUDY + "[board]\nlength = inf\n",
        "a null byte": STUDY + "# \x00\n",
        "an escape": STUDY + "# \x1b[2J\n",
        "a lone surrogate": STUDY + '[board]\nname = "\\ud800"\n',
        "a text never closed": STUDY + '[board]\nname = """' + "a" * 1000,
    }
    for said, text in nested.items():
        yield said, "POST", "/studies", {"content-type": TOML}, text.encode()


def encodings():
    for said, body in {
        "UTF-16": STUDY.encode("utf-16"),
        "UTF-32": STUDY.encode("utf-32"),
        "overlong": b"[[part]]\nrefs = ['\xc0\xaf']\n",
        "a cut sequence": STUDY.encode() + b"\xe2\x82",
        "a surrogate in UTF-8": STUDY.encode() + b"# \xed\xa0\x80",
        "only null bytes": b"\x00" * 4096,
        "a zip": b"PK\x03\x04" + b"\x00" * 400,
    }.items():
        yield f"a study in {said}", "POST", "/studies", {"content-type": TOML}, body
    for said, body in {
        "a broken escape": b"terminals=%zz",
        "an escaped null byte": b"function=%00&terminals=5",
        "bytes that are no text": b"function=\xff\xfe&terminals=5x",
        "a name of brackets": b"weight[area]=1&terminals=5",
        "a name of a class": b"__init__.__globals__=1&terminals=5",
        "thousands of ampersands": b"&" * 200_000 + b"terminals=x",
    }.items():
        yield f"a form with {said}", "POST", "/studies", {"content-type": FORM}, body


def paths():
    for path in (
        "/part/row.svg",
        "/part/card.svg/../../x",
        "/part/card.php",
        "/.git/config",
        "/.env",
        "/static/",
        "/static/.",
        "/static/board.js.map",
        "/static/%2e",
        "/static//board.js",
        "/fonts/%2e%2e/static/board.js",
        "/boards/0/files/board.toml",
        "/boards/aaaaaaaaaaaaaaaa/files/..%2f..%2fboard.toml",
        "/boards/aaaaaaaaaaaaaaaa/state.json",
        "/boards/aaaaaaaaaaaaaaaa/versions?one=1&two=99999999",
        "/boards/aaaaaaaaaaaaaaaa?point=-1",
        "/reviews/aaaaaaaaaaaaaaaa",
        "/reviews/%F0%9F%98%80",
        "/book/formulas/../../secret",
        "/book/formulas/none-such",
        "/studies/AAAAAAAAAAAAAAAA/board.toml",
        "/part?study=aaaaaaaaaaaaaaaa&ref=U1",
        "/part?terminals=5&open=" + "a" * 500,
        "/part?terminals=5&units=furlong",
        "/part?" + "terminals=5&" * 2000,
    ):
        yield f"path {path[:60]}", "GET", path, {}, b""
    for method in ("PUT", "DELETE", "PATCH", "CONNECT", "PROPFIND", "TRACK"):
        for path in ("/boards", "/book", "/static/board.js"):
            yield f"{method} {path}", method, path, {"content-type": FORM}, b"x=1"


MORE = [*numbers(), *studies(), *encodings(), *paths()]


def test_there_are_at_least_150_of_them():
    names = [row[0] for row in MORE]
    assert len(names) == len(set(names))
    assert len(MORE) + len(HOSTILE) >= 150


@pytest.mark.parametrize(("method", "path", "headers", "body"), [row[1:] for row in MORE], ids=[row[0] for row in MORE])
def test_it_is_refused_without_a_trace(client, kept_files, caplog, capfd, method, path, headers, body):
    before = kept_files()
    with caplog.at_level(logging.WARNING):
        answer = client.request(method, path, headers=headers, content=body)
    assert 400 <= answer.status_code < 500, (answer.status_code, answer.text[:300])
    assert "Traceback" not in answer.text
    assert kept_files() == before
    assert not [record for record in caplog.records if record.exc_info]
    told = capfd.readouterr()
    assert "Traceback" not in told.out + told.err
