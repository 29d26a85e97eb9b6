"""The review page: an uploaded board is judged as on the command line, and nothing bad is kept."""

from __future__ import annotations

import base64
import json
import re
import shlex
from html import unescape

import numpy as np
import pytest
import shapely

from landwise.cli import main
from landwise.workbench.jobs import Jobs, Stopped
from landwise.workbench.reviewdata import rings
from landwise.workbench.reviews import Options, _title

from .invented import board, packed


def bring(client, content, name="invented board.zip", **options):
    return client.post("/reviews", files={"file": (name, content, "application/zip")}, data=options)


def done(client, address):
    """The page once its work is over."""
    for _ in range(200):
        answer = client.get(address)
        job = re.search(r'data-job="(\w+)" data-state="(waiting|running)"', answer.text)
        if not job:
            return answer
        client.app.state.desk.jobs.find(job[1]).over.wait(10)
    raise AssertionError("the review does not end")


@pytest.fixture
def reviewed(client):
    answer = bring(client, packed(board()))
    assert answer.status_code == 303
    address = answer.headers["location"]
    assert "data-review" in done(client, address).text
    return address


def test_files_are_those_of_the_command_line(client, reviewed, tmp_path, capsys):
    source = tmp_path / "invented board.zip"
    source.write_bytes(packed(board()))
    with pytest.raises(SystemExit):
        main(["review", str(source), "-o", str(tmp_path / "out"), "--fail-on", "never"])
    capsys.readouterr()
    page = client.get(reviewed).text
    names = set(re.findall(rf'href="{reviewed}/files/([^"?]+)"', page))
    assert {"decisions.toml", "report.html", "report.pdf", "review.json", "changes.csv", "findings.csv"} <= names
    for name in names:
        answer = client.get(f"{reviewed}/files/{name}")
        assert answer.content == (tmp_path / "out" / name).read_bytes(), name
        assert "attachment" in answer.headers["content-disposition"]


def test_figures_of_the_page_are_those_of_the_data_file(client, reviewed):
    data = json.loads(client.get(f"{reviewed}/files/review.json").content)
    side = data["sides"][0]
    under = client.get(f"{reviewed}/under.json?side=top&foil={side['best_foil_um']:g}").json()
    ratio = np.frombuffer(base64.b64decode(under["ratio"]), dtype="<f4")
    assert ratio == pytest.approx(side["apertures"]["area_ratio"], abs=1e-4)
    words = [under["words"][k] for k in base64.b64decode(under["code"])]
    assert words == side["apertures"]["verdict"]
    shapes = client.get(f"{reviewed}/shapes.json?side=top").json()
    x = np.frombuffer(base64.b64decode(shapes["x"]), dtype="<f4")
    assert x == pytest.approx(side["apertures"]["x_mm"], abs=1e-4)
    text = unescape(client.get(reviewed).text)
    for row in side["foils"]:
        assert f"{row['foil_um']:g} µm" in text
    for finding in side["findings"]:
        assert finding["says"] in text


def test_the_address_takes_other_foils_and_powder(client, reviewed):
    answer = client.post(
        f"{reviewed}/again", data={"line": "fine", "foils": "60 um, 3 mil", "powder": "T5", "run": "10"}
    )
    address = answer.headers["location"]
    assert address == f"{reviewed}?line=fine&foils=60+um%2C+3+mil&powder=T5&run=10"
    text = done(client, address).text
    assert "T5 powder" in text
    assert "60 µm" in text
    assert "76.2 µm" in text
    assert "--foils &#39;60 um, 3 mil&#39;" in text


@pytest.mark.parametrize(
    ("field", "options", "says"),
    [
        ("foils", {"foils": "thick"}, "thick"),
        ("line", {"line": "perfect"}, "perfect"),
        ("powder", {"powder": "T9"}, "T9"),
        ("run", {"run": "-1"}, "-1"),
    ],
)
def test_a_wrong_option_is_told_beside_its_field_and_nothing_is_kept(client, kept_files, field, options, says):
    before = kept_files()
    answer = bring(client, packed(board()), **options)
    assert answer.status_code == 422
    error = re.search(rf'id="{field}-error"[^>]*>([^<]*)<', answer.text)
    assert says in unescape(error[1])
    assert kept_files() == before


def test_what_is_no_zip_is_refused(client, kept_files):
    before = kept_files()
    answer = bring(client, b"G04 not packed*", "board.gbr")
    assert answer.status_code == 422
    assert "Not a zip" in answer.text
    assert client.post("/reviews", data={"line": "ordinary"}).status_code in (415, 422)
    assert kept_files() == before


def test_a_board_without_paste_is_told_on_its_page(client):
    files = {name: content for name, content in board().items() if "Cu" in name}
    address = bring(client, packed(files)).headers["location"]
    answer = done(client, address)
    assert answer.status_code == 422
    assert "No paste layer with openings" in answer.text
    assert client.get(f"{address}/under.json?side=top&foil=100").status_code == 422


def test_a_zip_that_leads_out_is_told(client):
    answer = done(client, bring(client, packed({"../../evil.gbr": b"M02*"})).headers["location"])
    assert answer.status_code == 422


@pytest.mark.parametrize(
    "path",
    [
        "/files/../1.zip",
        "/files/000001.zip",
        "/files/%2e%2e%2fhead.json",
        "/files/nothing.csv",
        "/shapes.json?side=inner",
        "/under.json?side=top&foil=101",
        "/under.json?side=top&foil=nan",
    ],
)
def test_only_what_the_review_made_is_served(client, reviewed, path):
    assert client.get(reviewed + path).status_code in (400, 404)


def test_names_of_uploads_are_only_shown():
    assert _title("C:\\boards\\..\\clock.zip") == "clock"
    assert _title("../../etc/passwd") == "passwd"
    assert _title("<b>x</b>.ZIP") == "b_"
    assert _title("") == "board"


def test_outlines_come_back_whole():
    hole = shapely.Point(0, 0).buffer(1).difference(shapely.box(-0.2, -0.2, 0.2, 0.2))
    made = rings([shapely.box(0, 0, 2, 1), hole])
    starts = np.frombuffer(base64.b64decode(made["starts"]), dtype="<i4")
    owner = np.frombuffer(base64.b64decode(made["owner"]), dtype="<i4")
    points = np.frombuffer(base64.b64decode(made["points"]), dtype="<f4").reshape(-1, 2)
    assert owner.tolist() == [0, 1, 1]
    assert abs(shapely.Polygon(points[: starts[1]]).area - 2) < 1e-6
    cut = shapely.Polygon(points[starts[1] : starts[2]], [points[starts[2] :]])
    assert cut.area == pytest.approx(hole.area, rel=0.01)


def test_stopped_work_does_not_begin_again_by_itself(client):
    jobs = client.app.state.desk.jobs
    hold = jobs.start("hold the worker", lambda job: job.stop_asked.wait(20))
    address = bring(client, packed(board())).headers["location"]
    text = client.get(address).text
    name = re.search(r'data-job="(\w+)"', text)[1]
    assert client.get(f"/jobs/{name}").json()["state"] == "waiting"
    assert client.post(f"/jobs/{name}/stop", data={"back": "/reviews"}).headers["location"] == "/reviews"
    jobs.stop(hold)
    assert jobs.find(name).over.wait(10)
    assert "nothing was made" in client.get(address).text
    assert "data-review" in done(client, f"{address}?again=1").text


def test_work_fails_with_one_sentence_and_the_worker_lives_on():
    jobs = Jobs()

    def wrong(_):
        raise ZeroDivisionError("by nought")

    def stopped(job):
        job.stop_asked.set()
        job.progress(1, 2, "half")

    first, second, third = jobs.start("a", wrong), jobs.start("b", stopped), jobs.start("c", lambda _: 3)
    assert third.over.wait(10)
    assert (first.state, second.state, third.result) == ("failed", "stopped", 3)
    assert "a fault of landwise" in first.says
    assert jobs.start("c", lambda _: 4) is third
    assert jobs.start("a", lambda _: 5) is not first
    assert issubclass(Stopped, Exception)


def test_the_command_shown_is_fit_for_a_shell():
    words = shlex.split(Options(foils="60 um, 3 mil").command("invented board.zip"))
    assert words == ["landwise", "review", "invented board.zip", "-o", "out/", "--foils", "60 um, 3 mil"]
