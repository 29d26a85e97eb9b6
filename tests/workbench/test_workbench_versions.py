"""Versions of a board: listed, compared, taken up again, copied, taken off the list and put back."""

from __future__ import annotations

from html import unescape

STUDY = (
    '[board]\nname = "two versions"\n[[part]]\nrefs = ["U1"]\nfunction = "AND gate"\nterminals = 5\n'
    'package = "SOT-23-5"\noptions = [{outline = "SOT-23-5"}, {outline = "SC-70-5"}]\n[line]\nfoils = ["100 um"]\n'
)
FORM = {"content-type": "application/x-www-form-urlencoded"}


def begun(workspace):
    return workspace.create("studies", STUDY.encode(), "two versions")


def change(client, saved, **fields):
    body = "&".join(f"{name.replace('__', '.')}={value}" for name, value in fields.items())
    answer = client.put(f"/boards/{saved.id}", content=body, headers={**FORM, "if-match": saved.tag})
    assert answer.status_code == 200, answer.text


def test_two_versions_are_compared_and_the_first_is_taken_up_again(client, workspace):
    saved = begun(workspace)
    change(client, saved, want__max_height="1.2+mm")
    place = f"/boards/{saved.id}/versions"
    page = unescape(client.get(f"{place}?one=1&two=2").text)
    assert 'put in    max_height = "1.2 mm"' in page
    assert "2, stands" in page
    now = workspace.read("studies", saved.id)
    answer = client.post(place, data={"do": "restore", "at": "1", "tag": now.tag})
    assert answer.status_code == 303
    again = workspace.read("studies", saved.id)
    assert (again.version, again.text, again.back) == (3, STUDY, 2)
    assert client.post(place, data={"do": "restore", "at": "1", "tag": now.tag}).status_code == 412
    assert client.post(place, data={"do": "restore", "at": "9", "tag": again.tag}).status_code in (404, 422)
    assert "The same." in client.get(f"{place}?one=1&two=3").text
    assert client.get(f"{place}?one=x&two=2").status_code == 422


def test_a_board_is_copied_taken_off_the_list_and_put_back(client, workspace):
    saved = begun(workspace)
    place = f"/boards/{saved.id}/versions"
    copy = client.post(place, data={"do": "copy"}).headers["location"].rpartition("/")[2]
    assert workspace.read("studies", copy).text == STUDY
    assert {one.id for one in workspace.listed("studies")} == {saved.id, copy}
    after = client.post(place, data={"do": "remove"}).headers["location"]
    assert [one.id for one in workspace.listed("studies")] == [copy]
    assert "Put it back" in client.get(after).text
    client.post(place, data={"do": "back"})
    assert len(workspace.listed("studies")) == 2
    assert client.post(place, data={"do": "anything"}).status_code == 422
