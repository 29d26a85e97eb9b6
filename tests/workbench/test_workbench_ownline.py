"""A workbench that was started with a line file: every page is worked with it, as the command line does."""

from __future__ import annotations

import json
import re
import shlex
import time
from html import unescape

import pytest
from starlette.testclient import TestClient

from landwise.cli import main
from landwise.errors import FileError, InputError
from landwise.workbench.app import make_app
from landwise.workbench.ownline import OwnLine

from .conftest import ORIGIN
from .invented import board, packed

QUERY = "number=74LVC1G08&present=SOT-23-5&options=SON-5-0.8x0.8%3D0.1%2C+SOT-23-5%3D0.1&print=as+lands&foil=100+um"
# Releases badly at area ratio 0.60, that of the small package on 100 um, and unevenly.
LINE = """[line]
print_offset = "0.02 mm"

[[line.spread]]
area_ratio = 0.60
spread = [0.18, 0.20, 0.22]
mean = [0.70, 0.74, 0.78]
"""
BOARD = """[line]
preset = "ordinary"
print_offset = "0.06 mm"
print = "as lands"
foil = "100 um"

[[part]]
refs = ["U1"]
function = "single AND gate"
number = "1G08"
family = "LVC"
terminals = 5
package = "SOT-23-5"
options = [{ outline = "SOT-23-5", price = 0.1 }, { outline = "SC-70-5", price = 0.1 }]
"""


@pytest.fixture
def line(tmp_path):
    path = tmp_path / "our line.toml"
    path.write_text(LINE)
    return OwnLine.read(str(path))


@pytest.fixture
def client(workspace, line):
    app = make_app(workspace, own=line)
    with TestClient(app, base_url=ORIGIN, headers={"origin": ORIGIN}, follow_redirects=False) as made:
        yield made


def worked(capsys, *words):
    with pytest.raises(SystemExit) as ended:
        main([*words, "--json"])
    assert ended.value.code in (0, None)
    return capsys.readouterr().out


def figures(result):
    return {
        option["outline"]: {one["key"]: (one["value"], one["verdict"]) for one in option["figures"]}
        for option in result["parts"][0]["options"]
    }


def test_a_part_is_worked_with_the_line_and_its_page_says_so(client, line, capsys):
    text = unescape(client.get(f"/part?{QUERY}&open=SON-5-0.8x0.8").text)
    assert "Worked with our line.toml." in text
    assert "spread of deposits as your line measured, 20% at area ratio 0.60" in text
    assert "your line transfers 74% there" in text
    shown = re.search(r'<pre class="command"[^>]*>(.*?)</pre>', text)[1]
    assert shlex.split(shown)[-2:] == ["--line", line.path]
    answer = client.get(f"/part/result.json?{QUERY}").text
    assert answer == worked(capsys, *shlex.split(shown)[1:])
    assert figures(json.loads(answer))["SON-5-0.8x0.8"]["transfer"] == (pytest.approx(0.74, abs=0.005), "fails")
    # What is set on the page stands before the file.
    moved = json.loads(client.get(f"/part/result.json?{QUERY}&print_offset=60+um").text)
    assert figures(moved)["SON-5-0.8x0.8"]["bridging"] != figures(json.loads(answer))["SON-5-0.8x0.8"]["bridging"]


def test_a_shipped_line_can_be_asked_for_instead(client, capsys):
    text = unescape(client.get(f"/part?{QUERY}&line=ordinary").text)
    assert "Worked with the shipped line ordinary, not with our line.toml." in text
    assert "as your line measured" not in text
    shown = re.search(r'<pre class="command"[^>]*>(.*?)</pre>', text)[1]
    assert "--line ordinary" in shown
    assert client.get(f"/part/result.json?{QUERY}&line=ordinary").text == worked(capsys, *shlex.split(shown)[1:])
    options = re.search(r'<select id="f-line".*?</select>', text, re.DOTALL)[0]
    assert re.findall(r'value="(.*?)"', options) == ["", "ordinary", "fine", "bench"]
    assert ">our line.toml<" in options


def test_a_board_is_worked_with_the_line_before_what_it_states(client, workspace, line, tmp_path, capsys):
    saved = workspace.create("studies", BOARD.encode(), "a board")
    place = f"/boards/{saved.id}"
    for _ in range(400):
        answer = client.get(f"{place}/files/result.json")
        if answer.status_code == 200:
            break
        time.sleep(0.05)
    page = unescape(client.get(place).text)
    assert "Worked with our line.toml, which stands before what the study says of its line: print offset." in page
    assert f"landwise study board.toml {line.argument} -o out/" in page
    (tmp_path / "board.toml").write_text(BOARD)
    with pytest.raises(SystemExit):
        main(["study", str(tmp_path / "board.toml"), "--line", line.path, "-o", str(tmp_path / "out")])
    capsys.readouterr()
    assert figures(answer.json()) == figures(json.loads((tmp_path / "out" / "result.json").read_text()))
    # The study itself stays as it was.
    assert client.get(f"{place}/files/board.toml").text == BOARD
    # One of its parts by itself: the file before the study, what is set on the page before both.
    alone = client.get(f"/part/part.toml?study={saved.id}&ref=U1&foil=80+um").text
    assert 'print_offset = "0.02 mm"' in alone
    assert 'foil = "80 um"' in alone
    assert "spread = [" in alone


def review_page(client, address):
    for _ in range(400):
        answer = client.get(address)
        if "data-review" in answer.text:
            return unescape(answer.text)
        time.sleep(0.05)
    raise AssertionError("the review does not end")


def test_a_review_is_worked_with_the_line_and_its_page_says_so(client, line, tmp_path, monkeypatch, capsys):
    content = packed(board())
    answer = client.post("/reviews", files={"file": ("a board.zip", content, "application/zip")}, data={"line": ""})
    address = answer.headers["location"]
    assert "?" not in address
    text = review_page(client, address)
    assert "Worked with our line.toml." in text
    shown = re.search(r'<pre class="command"[^>]*>(.*?)</pre>', text)[1]
    assert shlex.split(shown)[-2:] == ["--line", line.path]
    (tmp_path / "a board.zip").write_bytes(content)
    monkeypatch.chdir(tmp_path)
    with pytest.raises(SystemExit):
        main([*shlex.split(shown)[1:], "--fail-on", "never"])
    capsys.readouterr()
    told = client.get(f"{address}/files/review.json").content
    assert told == (tmp_path / "out" / "review.json").read_bytes()
    # A shipped line instead: other figures, and the page says which.
    other = client.post(f"{address}/again", data={"line": "ordinary"}).headers["location"]
    text = review_page(client, other)
    assert "Worked with the shipped line ordinary, not with our line.toml." in text
    assert "--line ordinary" in text
    name, query = other.split("?")
    assert client.get(f"{name}/files/review.json?{query}").content != told


def test_a_line_file_that_cannot_be_read_is_said_at_the_start(tmp_path, capsys):
    with pytest.raises(FileError):
        OwnLine.read(str(tmp_path / "none.toml"))
    (tmp_path / "wrong.toml").write_text('[line]\nprint_offset = "wide"\n')
    with pytest.raises(InputError, match=r"wrong\.toml"):
        OwnLine.read(str(tmp_path / "wrong.toml"))
    with pytest.raises(SystemExit) as ended:
        main(
            [
                "serve",
                "--no-open",
                "--port",
                "0",
                "--workspace",
                str(tmp_path / "w"),
                "--line",
                str(tmp_path / "no.toml"),
            ]
        )
    assert ended.value.code == 2
    assert "no.toml" in capsys.readouterr().err
