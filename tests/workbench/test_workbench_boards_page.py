"""The board page, asked in one process: the whole way from a bill to the files, alone and with a second browser."""

from __future__ import annotations

import json
import re
import threading
import time
import tomllib
from html import unescape
from pathlib import Path

import pytest

import landwise.board.reasons
from landwise.board.choice import choose_board
from landwise.cli import main
from landwise.judging.study import run_study
from landwise.quantities import significant
from landwise.workbench.boardmend import study_of
from landwise.workbench.boards import LARGEST_UPLOAD
from landwise.workbench.boardtoml import edited

from .browsers import unmarked

BOARDS = Path(__file__).resolve().parents[2].parent / "shared" / "boards"
JSON = {"accept": "application/json"}
BILL = (
    b"Reference;Qty;Value;Package;Description\n"
    b"U1, U2;2;74LVC1G08;SOT-23-5;single AND gate\n"
    b"U3;1;74HC595;;shift register\n"
    b"U4;1;74HC9999;;something odd <b>\n"
    b"R1-R4;4;10k;0603;resistor\n"
)
STUDY = """# a comment of mine
[board]
name = "small board"

[line]
foils = ["100 um"]

[want]
max_height = "3 mm"

[[part]]
refs = ["U1", "U2"]
function = "single AND gate"
number = "1G08"
family = "LVC"
terminals = 5
package = "SOT-23-5"
options = [
    { outline = "SOT-23-5", price = 0.03 },
    { outline = "SOT-5x3-5", price = 0.045 },
    { outline = "SC-70-5", price = 0.03 },
]

[[part]]
refs = ["U3"]
function = "shift register"
number = "595"
family = "HC"
terminals = 16
package = "SO-16"
options = [
    { outline = "SO-16", price = 0.072 },
    { outline = "TSSOP-16", price = 0.074 },
    { outline = "QFN-16-2.5x3.5", price = 0.078 },
]
"""


def bring(client, text=STUDY):
    answer = client.post("/boards", data={"kind": "study"}, files={"study": ("board.toml", text.encode())})
    assert answer.status_code == 303, answer.text
    return answer.headers["location"]


def settled(client, place, query=""):
    """What the page's script is told once the run is over."""
    end = time.monotonic() + 120
    while True:
        told = client.get(f"{place}/state.json{query}").json()
        if told["over"]:
            return told
        assert time.monotonic() < end, told
        time.sleep(0.05)


def put(client, place, tag, **fields):
    return client.put(
        place, data={name.replace("__", "."): text for name, text in fields.items()}, headers={"if-match": tag, **JSON}
    )


# Coming in.


def test_a_bill_shows_what_was_read_and_what_was_left_aside(client):
    answer = client.post("/boards", data={"name": "odd board"}, files={"bill": ("C:\\x\\bill.csv", BILL)})
    assert answer.status_code == 303
    place = answer.headers["location"]
    assert place.endswith("/parts")
    text = client.get(place).text
    assert "odd board" in text
    assert 'value="U1 U2"' in text
    assert "something odd &lt;b&gt;" in text
    assert "no function was understood" in text or "is not in the table" in text or "tells how many" in text
    assert 'class="guess"' in text  # the package of U3, of which the bill says nothing
    assert "guessed" in text


def test_a_placement_file_tells_the_packages_that_the_bill_leaves_out(client):
    placed = (
        b"Ref,Val,Package,PosX,PosY,Rot,Side\n"
        b"U3,74HC595,TSSOP-16_4.4x5mm_P0.65mm,10,10,0,top\n"
        b"R1,10k,R_0603,1,1,0,top\n"
    )
    answer = client.post("/boards", files=[("bill", ("bill.csv", BILL)), ("placement", ("pos.csv", placed))])
    text = client.get(answer.headers["location"]).text
    assert 'value="TSSOP-16"' in text
    assert "bill.csv and pos.csv" in text


@pytest.mark.parametrize(
    ("files", "field"),
    [
        ({"bill": ("bill.csv", b"no bill at all")}, "bill"),
        ({"bill": ("bill.csv", b"")}, "bill"),
        ({"study": ("board.toml", b"[want]\nmax_height = 'x'\n")}, "study"),
        ({"study": ("board.toml", b"\xff\xfe\x00")}, "study"),
    ],
)
def test_a_file_that_cannot_be_read_says_so_beside_its_field_and_nothing_is_kept(client, kept_files, files, field):
    before = kept_files()
    answer = client.post("/boards", files=files)
    assert answer.status_code == 422
    said = answer.text.split(f'id="{field}-error" role="alert">')[1].split("<")[0]
    assert said
    assert kept_files() == before


def test_too_large_a_bill_is_refused(client, kept_files):
    before = kept_files()
    assert client.post("/boards", files={"bill": ("bill.csv", b"U" * (LARGEST_UPLOAD + 1))}).status_code == 413
    assert kept_files() == before


# Choosing.


def test_every_download_is_the_command_lines_file(client, tmp_path):
    place = bring(client)
    told = settled(client, place)
    assert told["shows"] == "all"
    (tmp_path / "board.toml").write_bytes(client.get(f"{place}/files/board.toml").content)
    assert (tmp_path / "board.toml").read_text() == STUDY
    with pytest.raises(SystemExit) as ended:
        main(["study", str(tmp_path / "board.toml"), "-o", str(tmp_path / "out"), "--no-drawings"])
    assert ended.value.code in (0, None)
    for name in ("report.html", "report.pdf", "result.json", "options.csv"):
        answer = client.get(f"{place}/files/{name}")
        assert answer.status_code == 200
        assert answer.content == (tmp_path / "out" / name).read_bytes(), name


def test_the_page_says_what_the_engine_says(client):
    place = bring(client)
    told = settled(client, place)
    data = client.get(f"{place}/files/result.json").json()
    text = unescape(unmarked(told["html"]))
    assert data["choice"]["decision"] in text
    for option in data["choice"]["options"].values():
        assert option in text
    assert not re.search(r"gap 0|settled by|bound alone", text)  # how the search went stands in `landwise explain`
    assert f"no choice can be below {significant(data['choice']['bound'])} {data['choice']['unit']}" in text
    assert told["html"].count('<a href="/boards/') >= len(data["choice"]["points"])


def test_what_the_study_leaves_open_is_asked_beside_the_answer_and_answered_there(client):
    bears = '\nthickest_foil = "80 um"\n\n[line]\nfoils = ["100 um", "120 um"]\n'
    place = bring(client, STUDY.replace('"small board"\n\n[line]\nfoils = ["100 um"]\n', f'"small board"{bears}'))
    told = settled(client, place)
    data = client.get(f"{place}/files/result.json").json()
    head = unescape(unmarked(told["html"])).split('class="trays"')[0]  # before the picture
    assert len(data["asked"]) >= 2
    for line in data["asked"]:
        assert line[1:] in head
    asks = re.search(r"<form[^>]*data-asks.*?</form>", told["html"], re.DOTALL)[0]
    assert 'name="line.foil"' in asks
    assert re.search(r'name="board.thickest_foil"[^>]* value="80 um"', asks)
    assert 'name="use.environment"' in asks
    # Without a script the form goes out as it is: one field is answered, the other one stays open.
    answer = client.post(
        place,
        data={
            "tag": told["tag"],
            "where": "choice",
            "line.foil": "",
            "board.thickest_foil": "120 um",
            "use.environment": "",
        },
    )
    assert answer.status_code == 303
    told = settled(client, place)
    asks = re.search(r"<form[^>]*data-asks.*?</form>", told["html"], re.DOTALL)[0]
    assert 'name="line.foil"' not in asks
    assert 'name="use.environment"' in asks


def test_a_change_is_a_version_with_its_own_choice(client):
    place = bring(client)
    first = settled(client, place)
    answer = put(client, place, first["tag"], part__0__locked="yes", want__max_height="2 mm")
    assert answer.status_code == 200, answer.text
    told = answer.json()
    assert told["version"] == 2
    assert told["errors"] == {}
    settled(client, place)
    text = client.get(f"{place}/files/board.toml").text
    assert text.startswith("# a comment of mine")
    assert 'max_height = "2 mm"' in text
    data = client.get(f"{place}/files/result.json").json()
    anew = choose_board(run_study(study_of(text)))
    assert data["choice"]["cost"] == anew.choice.cost
    assert data["choice"]["options"] == anew.choice.options(anew.choice.best)
    assert data["choice"]["options"]["U1"] == "SOT-23-5"


def test_a_wrong_value_stands_beside_its_field_and_keeps_no_version(client):
    place = bring(client)
    tag = settled(client, place)["tag"]
    answer = put(client, place, tag, want__max_height="tall", part__0__package="SOT-99")
    assert answer.status_code == 422
    assert set(answer.json()["errors"]) == {"want.max_height", "part.0.package"}
    assert client.get(f"{place}/state.json").json()["version"] == 1
    page = client.post(place, data={"tag": tag, "where": "choice", "want.max_height": "tall"})
    assert page.status_code == 422
    assert 'value="tall"' in page.text
    assert "aria-invalid" in page.text


def test_a_limit_of_a_figure_that_does_not_exist_is_said_beside_its_field(client):
    place = bring(client)
    tag = settled(client, place)["tag"]
    answer = put(client, place, tag, want__limits="beauty = 3")
    told = answer.json() if answer.json().get("over") else settled(client, place)
    assert told["errors"]["want.limits"].startswith("No such figure; found beauty")
    page = client.get(place)
    assert page.status_code == 422
    assert "No such figure; found beauty" in page.text


def test_a_limit_of_the_print_lets_drilled_parts_pass(client):
    place = bring(
        client,
        STUDY.replace('package = "SO-16"', 'package = "DIP-16"').replace(
            '[{ outline = "SO-16"', '[{ outline = "DIP-16", price = 0.01 }, { outline = "SO-16"'
        ),
    )
    tag = settled(client, place)["tag"]
    put(client, place, tag, want__limits="area-ratio = 0.66")
    told = settled(client, place)
    assert told["errors"] == {}
    assert "DIP-16" in told["html"]


def test_a_board_that_fits_no_limits_names_those_that_conflict(client):
    place = bring(client)
    tag = settled(client, place)["tag"]
    put(client, place, tag, want__board_limits__area="5")
    told = settled(client, place)
    assert "No board fits these limits" in told["html"]
    assert "board area" in told["html"]
    assert "mm2" in told["html"]


def test_undo_goes_back_and_forth_without_loss(client):
    place = bring(client)
    first = settled(client, place)
    second = put(client, place, first["tag"], want__max_height="1 mm").json()
    back = client.post(f"{place}/undo", data={"tag": second["tag"], "where": "choice"})
    assert back.status_code == 303
    told = settled(client, place)
    assert told["version"] == 1
    assert told["shows"] == "all"
    assert "Left out" not in told["html"]  # it was cut short for version 2, and is worked again
    assert client.get(f"{place}/files/board.toml").text == STUDY
    assert client.post(f"{place}/undo", data={"tag": second["tag"]}).status_code == 412


# Two browsers.


def test_a_change_names_the_version_it_started_from(client):
    place = bring(client)
    tag = settled(client, place)["tag"]
    assert client.put(place, data={"want.max_height": "2 mm"}, headers=JSON).status_code == 428
    assert put(client, place, tag, want__max_height="2 mm").status_code == 200
    late = put(client, place, tag, want__max_area="50")
    assert late.status_code == 412
    assert late.json()["conflict"]
    assert client.post(place, data={"tag": tag, "want.max_area": "50"}).status_code == 412
    assert client.post(place, data={"tag": tag, "do": "remove", "at": "0"}).status_code == 412
    assert "max_area" not in client.get(f"{place}/files/board.toml").text


def test_of_many_changes_at_once_exactly_one_is_kept(client):
    place = bring(client)
    tag = settled(client, place)["tag"]
    codes = []
    threads = [
        threading.Thread(
            target=lambda n=n: codes.append(put(client, place, tag, want__max_area=str(50 + n)).status_code)
        )
        for n in range(6)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(codes) == [200, *[412] * 5]
    assert client.get(f"{place}/state.json").json()["version"] == 2


# Points of the trade-off.


def test_each_point_opens_as_the_board_that_it_is(client):
    place = bring(client)
    settled(client, place)
    points = client.get(f"{place}/files/result.json").json()["choice"]["points"]
    assert len(points) > 2
    for number, point in enumerate(points, start=1):
        answer = client.get(f"{place}?point={number}")
        assert answer.status_code == 200
        html = answer.text.split('id="part-by-part"')[1].split("</section>")[0]
        assert all(f"{option}" in html for option in point["options"].values())
        assert f"Point {number} of the trade-off" in answer.text
    assert client.get(f"{place}?point={len(points) + 1}").status_code == 404
    assert client.get(f"{place}?point=x").status_code == 422


def test_a_change_leaves_the_point_behind(client):
    place = bring(client)
    tag = settled(client, place)["tag"]
    answer = client.put(f"{place}?point=2", data={"want.max_height": "2 mm"}, headers={"if-match": tag, **JSON})
    assert answer.status_code == 200
    assert "Point 2 of" not in answer.json()["html"]


def test_holding_the_board_to_a_point_makes_it_the_choice(client):
    place = bring(client)
    tag = settled(client, place)["tag"]
    choice = client.get(f"{place}/files/result.json").json()["choice"]
    number = next(n for n, point in enumerate(choice["points"], start=1) if point["options"] != choice["options"])
    answer = client.post(place, data={"tag": tag, "do": "hold", "at": str(number)})
    assert answer.status_code == 303
    while client.get(f"{place}/state.json").json()["shows"] == "nothing":
        time.sleep(0.05)
    client.post(f"{place}/stop", data={"from": "a form"})  # its reasons are not needed here
    settled(client, place)
    held = client.get(f"{place}/files/result.json").json()["choice"]
    assert held["options"] == choice["points"][number - 1]["options"]
    assert held["cost"] == pytest.approx(choice["points"][number - 1]["values"][0])
    assert client.post(place, data={"tag": tag, "do": "hold", "at": "1"}).status_code == 412


# Stopping.


def test_a_stop_keeps_the_choice_and_names_what_was_left_out(client, monkeypatch):
    entered = threading.Event()
    whole = landwise.board.reasons.front

    def endless(*args, stop=None, **more):
        entered.set()
        while not stop():
            time.sleep(0.01)
        return whole(*args, stop=stop, **more)

    monkeypatch.setattr(landwise.board.reasons, "front", endless)
    monkeypatch.setattr(landwise.board.reasons, "known", lambda work, *_: work())  # none that were left on disk
    place = bring(client)
    client.get(place)
    assert entered.wait(60)
    running = client.get(f"{place}/state.json").json()
    assert (running["shows"], running["over"]) == ("choice", False)
    assert running["job"]["whole"] > running["job"]["part"] > 0
    told = client.post(f"{place}/stop", headers={**JSON, "content-type": "application/x-www-form-urlencoded"}).json()
    assert told["over"]
    assert "Left out" in told["html"]
    assert "the trade-off" in unmarked(told["html"])
    assert client.get(f"{place}/files/result.json").json()["choice"]["status"] == "optimal"
    monkeypatch.setattr(landwise.board.reasons, "front", whole)
    assert "Left out" in client.get(place).text  # loading the page again is no wish to begin again
    client.get(f"{place}?again=1")
    assert "Left out" not in settled(client, place)["html"]


def test_a_stop_before_anything_was_found_says_so(client, monkeypatch):
    import landwise.workbench.boardruns as boardruns

    entered, whole = threading.Event(), boardruns.run_study

    def slow(_study, *, progress, **_):
        entered.set()
        while True:
            progress(1, 9, "U1")
            time.sleep(0.01)

    monkeypatch.setattr(boardruns, "run_study", slow)
    place = bring(client)
    client.get(place)
    assert entered.wait(60)
    assert client.post(f"{place}/stop", data={"from": "a form"}).status_code == 303
    text = client.get(place).text
    assert "Stopped before anything was found" in text
    monkeypatch.setattr(boardruns, "run_study", whole)
    client.get(f"{place}?again=1")
    assert settled(client, place)["shows"] == "all"


# Without a script.


def test_a_form_sent_as_it_stands_changes_nothing(client):
    place = bring(client)
    told = settled(client, place)
    assert client.post(place, data={"tag": told["tag"], "where": "choice", **told["values"]}).status_code == 303
    assert client.get(f"{place}/state.json").json()["version"] == 1


def test_parts_are_added_and_taken_out_by_buttons(client):
    place = bring(client)
    tag = settled(client, place)["tag"]
    added = client.post(place, data={"tag": tag, "where": "parts", "do": "add", "refs": "U7 U8", "number": "74HC132"})
    assert (added.status_code, added.headers["location"]) == (303, f"{place}/parts")
    page = client.get(f"{place}/parts")
    assert 'value="U7 U8"' in page.text
    gone = client.post(place, data={"tag": page.headers["etag"], "where": "parts", "do": "remove", "at": "1"})
    assert gone.status_code == 303
    parts = tomllib.loads(client.get(f"{place}/files/board.toml").text)["part"]
    assert [part["refs"] for part in parts] == [["U1", "U2"], ["U7", "U8"]]
    tag = client.get(f"{place}/parts").headers["etag"]
    wrong = client.post(place, data={"tag": tag, "where": "parts", "do": "add", "refs": "U9", "number": "nothing"})
    assert wrong.status_code == 422
    assert "Not a known logic number" in wrong.text
    assert 'value="nothing"' in wrong.text


def test_a_mended_part_tells_which_guesses_are_left(client):
    place = client.post("/boards", files={"bill": ("bill.csv", BILL)}).headers["location"].removesuffix("/parts")
    tag = client.get(f"{place}/parts").headers["etag"]
    told = put(client, place, tag, part__1__package="so16").json()
    assert told["values"] == {"part.1.package": "so16"}
    assert "package" not in told["guesses"]["1"]
    assert put(client, place, told["tag"], part__1__locked="yes").json()["version"] == 3


# Addresses.


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/boards/aaaaaaaaaaaaaaaa", 404),
        ("/boards/%2e%2e/parts", 400),
        ("{place}/files/secret", 404),
        ("{place}/files/%2e%2e", 400),
        ("{place}?point=99999999", 422),
        ("{place}?units=feet", 422),
        ("{place}?room=wide", 422),
        ("{place}/nothing", 404),
    ],
)
def test_addresses_that_lead_nowhere_are_refused(client, path, status):
    place = bring(client)
    settled(client, place)
    assert client.get(path.format(place=place)).status_code == status


def test_the_address_holds_point_and_units(client):
    place = bring(client)
    settled(client, place)
    text = client.get(f"{place}?point=2&units=mil").text
    assert "Point 2 of the trade-off" in text
    assert "in²" in text
    assert f"{place}?point=3&amp;units=mil" in text


def test_unknown_fields_and_floods_of_them_are_refused(client):
    place = bring(client)
    tag = settled(client, place)["tag"]
    assert put(client, place, tag, nothing="1").status_code == 422
    assert put(client, place, tag, part__7__function="gate").status_code == 422
    flood = client.put(place, data={f"x{n}": "1" for n in range(22_500)}, headers={"if-match": tag, **JSON})
    assert flood.status_code in (400, 413, 422)
    assert client.get(f"{place}/state.json").json()["version"] == 1


# Real boards.


@pytest.mark.skipif(not BOARDS.is_dir(), reason="../shared is not here")
def test_a_real_board_goes_from_its_bill_to_a_choice(client):
    """The bill and the placement file of an open hardware probe, read in place from ../shared/boards."""
    folder = BOARDS / "buspirate7"
    answer = client.post(
        "/boards",
        files=[
            ("bill", ("7-REV1B.csv", (folder / "7-REV1B.csv").read_bytes())),
            ("placement", ("pos.csv", (folder / "7-REV1B-all-pos.csv").read_bytes())),
        ],
    )
    place = answer.headers["location"].removesuffix("/parts")
    page = client.get(f"{place}/parts")
    parts = tomllib.loads(client.get(f"{place}/files/board.toml").text)["part"]
    assert parts
    assert all(f'value="{" ".join(part["refs"])}"' in page.text for part in parts)
    # One of its parts on one foil is enough to see the way through; the whole of it is the command line's test.
    few = edited(
        client.get(f"{place}/files/board.toml").text,
        {
            name: {**value, "foils": ["100 um"], "foil": "100 um"} if name == "line" else value
            for name, value in tomllib.loads(client.get(f"{place}/files/board.toml").text).items()
            if name != "part"
        },
        list(enumerate(parts[:1])),
    )
    small = bring(client, few)
    told = settled(client, small)
    assert told["shows"] == "all"
    result = client.get(f"{small}/files/result.json").json()
    assert json.dumps(result["choice"]["options"])
    assert result["choice"]["decision"] in told["html"]


@pytest.mark.skipif(not BOARDS.is_dir(), reason="../shared is not here")
@pytest.mark.parametrize("bill", ["retro-dip/bom.csv", "interface-probe-c1/bom.csv", "gremlin/isavideo.csv"])
def test_every_logic_part_of_a_real_bill_stands_in_the_table(client, bill):
    """Bills of open boards, read in place from ../shared/boards."""
    answer = client.post("/boards", files={"bill": ("bom.csv", (BOARDS / bill).read_bytes())})
    assert answer.status_code == 303
    place = answer.headers["location"]
    parts = tomllib.loads(client.get(f"{place.removesuffix('/parts')}/files/board.toml").text)["part"]
    text = client.get(place).text
    for part in parts:
        assert f'value="{" ".join(part["refs"])}"' in text


def test_a_board_with_no_fitted_part_says_so(client):
    text = (
        "landwise = 1\n[[part]]\nrefs = ['U1']\nnumber = '74HC00'\nterminals = 14\npackage = 'SO-14'\nfitted = false\n"
        "options = [{ outline = 'SO-14' }]\n"
    )
    kept = client.post(
        "/studies", content=text, headers={"content-type": "application/toml", "accept": "application/json"}
    )
    address = f"/boards/{kept.json()['id']}"
    for _ in range(100):
        answer = client.get(address)
        if answer.status_code == 422:
            break
        time.sleep(0.05)
    assert "nothing to choose together" in answer.text
