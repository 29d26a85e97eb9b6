"""Kept studies: versions, undo, and two browsers on one study."""

from __future__ import annotations

import threading
import tomllib

import pytest

from landwise.errors import FileError
from landwise.study.file import read_study
from landwise.workbench.tomltext import toml_text
from landwise.workbench.workspace import ConflictError, Workspace

JSON = {"accept": "application/json"}
TOML = {"content-type": "application/toml", **JSON}
STUDY = (
    '# a comment of mine\n[board]\nname = "shelf board"\n[[part]]\nrefs = ["U1", "U2"]\nfunction = "quad'
    ' NAND"\nterminals = 14\npackage = "SO-14"\n'
    'options = [{outline = "SO-14"}, {outline = "TSSOP-14"}]\n'
)


def keep(client):
    answer = client.post("/studies", content=STUDY, headers=TOML)
    assert answer.status_code == 201
    return answer.json()


def test_a_study_is_kept_as_it_came(client, workspace):
    told = keep(client)
    answer = client.get(f"/studies/{told['id']}/board.toml")
    assert answer.text == STUDY
    assert answer.headers["etag"] == told["tag"]
    assert "shelf board" in client.get("/studies").text
    path = next(workspace.root.rglob("000001.toml"))
    assert read_study(path).content.board.name == "shelf board"


def test_a_part_of_a_kept_study_opens_with_what_the_form_lays_over_it(client):
    told = keep(client)
    page = client.get(f"/part?study={told['id']}&ref=U2&foil=80+um")
    assert page.status_code == 200
    assert "Every land releases on 80\u2009µm" in page.text or "80 µm" in page.text
    assert client.get(f"/part?study={told['id']}&ref=U9").status_code == 422


def test_a_question_is_kept_as_a_study_that_the_command_line_reads(client, tmp_path):
    answer = client.post(
        "/studies", data={"number": "74LVC1G08", "present": "SOT-23-5", "foil": "4 mil", "weight.cost": "0.5"}
    )
    assert answer.status_code == 303
    file = tmp_path / "board.toml"
    file.write_bytes(client.get(f"{answer.headers['location']}/board.toml").content)
    content = read_study(file).content
    assert content.line.foil == pytest.approx(101.6)  # 4 mil, exact
    assert content.want.weights == {"cost": 0.5}
    assert 'foil = "4 mil"' in file.read_text()  # as typed


def test_a_change_keeps_a_version_and_undo_goes_back(client):
    told = keep(client)
    place = f"/studies/{told['id']}"
    changed = client.put(place, content=STUDY.replace("SO-14", "TSSOP-14"), headers={**TOML, "if-match": told["tag"]})
    assert changed.status_code == 200
    assert changed.json()["version"] == 2
    undone = client.post(f"{place}/undo", data={"tag": changed.json()["tag"]}, headers=JSON)
    assert undone.json()["version"] == 1
    assert client.get(f"{place}/board.toml").text == STUDY
    again = client.put(
        place, content=STUDY.replace("SO-14", "SSOP-14"), headers={**TOML, "if-match": undone.json()["tag"]}
    )
    assert again.json()["version"] == 3
    first = client.post(f"{place}/undo", data={"tag": again.json()["tag"]}, headers=JSON).json()
    assert first["version"] == 1
    assert client.post(f"{place}/undo", data={"tag": first["tag"]}, headers=JSON).status_code == 412


def test_the_second_browser_is_told_and_nothing_is_lost(client):
    told = keep(client)
    place, mine, theirs = f"/studies/{told['id']}", STUDY.replace("U2", "U3"), STUDY.replace("U2", "U4")
    assert client.put(place, content=mine, headers={**TOML, "if-match": told["tag"]}).status_code == 200
    late = client.put(place, content=theirs, headers={**TOML, "if-match": told["tag"]})
    assert late.status_code == 412
    assert client.get(f"{place}/board.toml").text == mine


def test_of_many_at_once_one_wins_and_all_versions_are_whole(workspace):
    saved = workspace.create("studies", STUDY.encode(), "t")
    won, lost = [], []

    def change(number):
        try:
            won.append(workspace.save("studies", saved.id, f"version {number}".encode(), tag=saved.tag))
        except ConflictError:
            lost.append(number)

    threads = [threading.Thread(target=change, args=(n,)) for n in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(won) == 1
    assert len(lost) == 11
    assert workspace.read("studies", saved.id).content == won[0].content


def test_a_second_workbench_on_the_folder_is_refused(workspace):
    with workspace.held(), pytest.raises(FileError, match="another workbench"), Workspace(workspace.root).held():
        pass
    with Workspace(workspace.root).held():
        pass


def test_a_study_that_cannot_be_read_is_not_kept(client, kept_files):
    before = kept_files()
    answer = client.post("/studies", content=STUDY + "terminal = 3\n", headers=TOML)
    assert answer.status_code == 422
    assert "unknown field" in answer.text.lower()
    assert kept_files() == before


@pytest.mark.parametrize(
    "data",
    [
        {
            "landwise": 1,
            "line": {"foils": ["80 um"], "steps_allowed": True},
            "part": [{"refs": ["U1"], "options": [{"outline": "SO-14", "prices": {"1": 0.2}}]}],
        },
        {
            "board": {"classes": [{"name": 'with "quotes" and \\', "rate": 1.5}]},
            "want": {"weights": {"cost": 0.5}, "limits": {"a key": "1 mm"}},
        },
        {"text": "line\nbreak\ttab \u00e9 \u2009 \u007f", "empty": [], "small": 1e-7},
    ],
)
def test_written_toml_reads_back_the_same(data):
    assert tomllib.loads(toml_text(data)) == data
