"""Answers by rule, kind of part, part and opening on the review page: what a file of decisions does."""

from __future__ import annotations

import re
from html import unescape
from urllib.parse import unquote

import pytest
import shapely

from landwise.cli import main
from landwise.errors import InputError
from landwise.fabdata.gerber import read_gerber, write_gerber
from landwise.workbench.reviewanswers import decisions_of

from .browsers import MARKS, broken_rules
from .invented import board, packed
from .test_workbench_reviews import bring, done


def faulty():
    """The invented board twice, with mask; of one centre pad's part an opening is left out, and of one chip."""
    lands = list(read_gerber(board()["invented-F_Cu.gbr"], "a", merge=False).pads.polygon)
    lands += [shapely.affinity.translate(one, 12.0, 0.0) for one in lands]
    paste = [one for k, one in enumerate(lands) if k not in (3, len(lands) - 1)]
    mask = [one.buffer(0.05, join_style="mitre") for one in lands]
    return {
        "b-F_Paste.gbr": write_gerber(paste, {".FileFunction": ("Paste", "Top")}),
        "b-F_Cu.gbr": write_gerber(lands, {".FileFunction": ("Copper", "L1", "Top")}),
        "b-F_Mask.gbr": write_gerber(mask, {".FileFunction": ("Soldermask", "Top")}),
    }


@pytest.fixture
def reviewed(client):
    address = bring(client, packed(faulty()), "faulty.zip").headers["location"]
    assert "data-review" in done(client, address).text
    return address


def offers(text):
    found = re.search(r'<select id="new-for".*?</select>', text, re.S)[0]
    return [unescape(value) for value in re.findall(r'<option value="([^"]+)"', found)]


@pytest.mark.parametrize("kind", ["rule", "package", "part", "opening"])
def test_an_answer_of_each_kind_writes_what_the_command_line_writes(client, reviewed, tmp_path, capsys, kind):
    wanted = next(one for one in offers(client.get(reviewed).text) if one.split(".")[1] == kind)
    answer = client.post(f"{reviewed}/again", data={"new-for": wanted, "new": "accept"})
    address = answer.headers["location"]
    text = done(client, address).text
    assert f'value="{wanted}.accept" checked' in text
    query = address.partition("?")[2]
    names = set(re.findall(rf'href="{reviewed}/files/([^"?]+)', text))
    assert "paste-top.gbr" in names
    source = tmp_path / "faulty.zip"
    source.write_bytes(packed(faulty()))
    decisions = tmp_path / "decisions.toml"
    decisions.write_bytes(client.get(f"{reviewed}/files/decisions.toml?{query}").content)
    with pytest.raises(SystemExit):
        main(["review", str(source), "-o", str(tmp_path / "out"), "--fail-on", "never", "--decisions", str(decisions)])
    capsys.readouterr()
    for name in names:
        assert client.get(f"{reviewed}/files/{name}?{query}").content == (tmp_path / "out" / name).read_bytes(), name
    # Untick it, and nothing is written any more.
    back = client.post(f"{reviewed}/again", data={"line": "ordinary"}).headers["location"]
    assert "paste-top.gbr" not in done(client, back).text.partition("Files, as the command line")[2]


def test_the_narrower_answer_outranks_the_broader(client, reviewed):
    text = client.get(reviewed).text
    rule = next(one for one in offers(text) if one.startswith("top.rule.missing"))
    parts = [one for one in offers(text) if one.split(".")[1] == "part"]
    data = {"kept-0": f"{parts[0]}.refuse", "new-for": rule, "new": "accept"}
    address = client.post(f"{reviewed}/again", data=data).headers["location"]
    done(client, address)
    told = client.get(f"{reviewed}/files/changes.csv?{address.partition('?')[2]}").text
    refused = [line for line in told.splitlines() if "refused" in line]
    assert refused
    assert all(unquote(parts[0].split(".")[2]) in line for line in refused)
    assert "accepted" in told


@pytest.mark.parametrize("bad", ["top.rule.nonsense.accept", "top.opening.here.accept", "left.part.U1.accept", "top.3"])
def test_what_is_no_answer_is_told(client, reviewed, bad):
    with pytest.raises(InputError):
        decisions_of(bad)
    assert client.get(f"{reviewed}?answers={bad}").status_code == 422


def test_names_with_letters_of_patterns_and_commas_are_taken_as_they_stand():
    [one] = decisions_of("top.package.SOT%5B23%5D%2C%20%2A%2F3.refuse")
    assert one.package == "SOT[[]23], [*]/3"


class TestInABrowser:
    pytestmark = MARKS

    def test_answering_by_rule_and_taking_it_back(self, served, browser, tmp_path):
        source = tmp_path / "faulty.zip"
        source.write_bytes(packed(faulty()))
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.goto(f"{served}/reviews")
        page.set_input_files("#file", str(source))
        page.click("text=Review it")
        page.wait_for_selector("[data-ready]")
        assert page.locator("a[download]", has_text="paste-top.gbr").count() == 0
        page.select_option("#new-for", "top.rule.missing")
        page.select_option("#new", "accept")
        page.click("text=Review with these answers")
        page.wait_for_selector("[data-ready]")
        assert page.locator("a[download]", has_text="paste-top.gbr").count() == 1
        assert "accepted below" in page.inner_text("section[aria-label=Corrections]")
        page.uncheck("input[name=kept-0]")
        page.click("text=Review with these answers")
        page.wait_for_selector("[data-ready]")
        assert page.locator("a[download]", has_text="paste-top.gbr").count() == 0
        page.set_viewport_size({"width": 820, "height": 900})
        assert page.evaluate("() => document.documentElement.scrollWidth <= window.innerWidth")
        assert broken_rules(page) == []
        page.close()
