"""Every route in one process: what it shows, that it shows what the command line says, and what it does with faults."""

from __future__ import annotations

import json
import re
import shlex
from html import unescape

import pytest

from landwise.cli import main
from landwise.cli.compare import command
from landwise.evidence import all_formulas, all_sources
from landwise.evidence.checks import all_checks
from landwise.sheets.look import LIGHT
from landwise.workbench.asked import fields

GATE = "number=74LVC1G08&present=SOT-23-5"


def test_the_first_page_is_the_part_page(client):
    assert client.get("/").headers["location"] == "/part"
    text = client.get("/part").text
    assert "Which package should this part come in?" in text
    assert 'aria-current="page">Part' in text


def test_the_row_shows_choice_and_part_in_use(client):
    text = client.get(f"/part?{GATE}").text
    assert "<b>choice</b>" in text
    assert "<b>in use</b>" in text
    assert text.count("<svg xmlns") == 1
    assert "mm of the part" in text


@pytest.mark.parametrize(
    ("query", "flags"),
    [
        (GATE, ["--number", "74LVC1G08", "--present", "SOT-23-5"]),
        (
            "function=octal+transceiver&terminals=20&options=SO-20W%3D0.15%2C+TSSOP-20%3D0.12&foil=80+um&weight.cost=1",
            [
                "--function",
                "octal transceiver",
                "--terminals",
                "20",
                "--options",
                "SO-20W=0.15, TSSOP-20=0.12",
                "--foil",
                "80 um",
                "--weight",
                "cost=1",
            ],
        ),
        (
            "terminals=14&line=fine&max_height=1.2+mm&inspection=optical&reduction=1+mil",
            [
                "--terminals",
                "14",
                "--line",
                "fine",
                "--max-height",
                "1.2 mm",
                "--inspection",
                "optical",
                "--reduction",
                "1 mil",
            ],
        ),
    ],
)
def test_files_are_those_of_the_command_line(client, tmp_path, capsys, query, flags):
    with pytest.raises(SystemExit) as ended:
        main(["compare", *flags, "-o", str(tmp_path), "--json"])
    assert ended.value.code == 0
    assert client.get(f"/part/result.json?{query}").content.decode() == capsys.readouterr().out
    for name in ("card.svg", "card.pdf", "card.png"):
        answer = client.get(f"/part/{name}?{query}")
        assert answer.content == (tmp_path / name).read_bytes()
        assert "attachment" in answer.headers["content-disposition"]


def test_a_page_with_script_gets_its_frame_at_once_and_the_whole_once_it_is_known(client):
    scripted = {"cookie": "script=1"}
    frame = client.get("/part?number=74LVC1G32&options=SC-70-5", headers=scripted).text
    assert "being worked out" in frame
    assert 'value="74LVC1G32"' in frame
    assert "quick=0" in frame
    assert "<b>choice</b>" in client.get("/part?number=74LVC1G32&options=SC-70-5&quick=0", headers=scripted).text
    assert "<b>choice</b>" in client.get("/part?number=74LVC1G32&options=SC-70-5", headers=scripted).text
    wrong = client.get("/part?number=74LVC1G32&foil=80", headers=scripted)
    assert wrong.status_code == 422
    assert 'aria-invalid="true"' in wrong.text


def test_every_field_of_the_form_is_a_flag_of_compare():
    flags = {option.lstrip("-") for parameter in command.params for option in parameter.opts}
    assert {one.name.replace("_", "-") for one in fields()} <= flags


def test_the_command_that_a_page_shows_gives_the_page_s_result(client, capsys):
    query = "number=74LVC1G08&present=SOT-23-5&foil=4+mil&print_offset=40+um&swing=60+K&weight.area=0.5"
    shown = unescape(re.search(r'<pre class="command"[^>]*>(.*?)</pre>', client.get(f"/part?{query}").text)[1])
    with pytest.raises(SystemExit):
        main([*shlex.split(shown)[1:], "--json"])
    assert client.get(f"/part/result.json?{query}").text == capsys.readouterr().out


def test_figures_of_an_opened_option_are_those_of_the_result(client):
    result = json.loads(client.get(f"/part/result.json?{GATE}").text)
    options = {option["outline"]: option for option in result["parts"][0]["options"]}
    text = unescape(client.get(f"/part?{GATE}&open=SC-70-5").text)
    for figure in options["SC-70-5"]["figures"]:
        assert figure["why"][1:] in text
        for step in figure["trail"]:
            assert step["says"][1:] in text


def test_two_options_stand_side_by_side_and_a_third_takes_the_oldest_place(client):
    text = client.get(f"/part?{GATE}&open=SC-70-5&open=SOT-23-5").text
    assert "opened n2" in text
    assert "open=SOT-23-5&amp;open=SOT-5x3-5" in text


def test_moving_the_foil_moves_drawings_and_verdicts(client):
    thin, thick = (client.get(f"/part/row?{GATE}&foil={um}+um").json() for um in (80, 150))
    assert thin["html"] != thick["html"]
    assert thin["sliders"]["foil"]["value"] == 80
    assert "fails" in thick["html"]
    assert thin["address"] == f"/part?{GATE}&foil=80+um"


def test_weights_move_the_order(client):
    cost = client.get(f"/part/row?{GATE}&weight.cost=1&weight.area=0&weight.print=0").json()
    area = client.get(f"/part/row?{GATE}&weight.area=1&weight.cost=0&weight.print=0").json()
    assert cost["said"] != area["said"]
    assert area["sliders"]["weight.cost"] == {"value": 0.0, "says": "0%"}


def test_mil_shows_the_same_lengths(client):
    mm = client.get(f"/part?{GATE}&foil=4+mil&open=SOT-23-5").text
    mil = client.get(f"/part?{GATE}&foil=4+mil&open=SOT-23-5&units=mil").text
    assert "0.95\u2009mm" in mm
    assert "37.4\u2009mil" in mil  # 0.95 mm pitch; 25.4 mm to the inch, exact
    assert 'value="4 mil"' in mm  # as typed
    assert 'value="4 mil"' in mil


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("number=banana", "number"),
        (f"{GATE}&foil=80", "foil"),
        (f"{GATE}&foil=3+um", "foil"),
        (f"{GATE}&foil=80+kg", "foil"),
        (f"{GATE}&reduction=thin", "reduction"),
        (f"{GATE}&layers=many", "layers"),
        (f"{GATE}&voltage=5", "voltage"),
        (f"{GATE}&inspection=magic", "inspection"),
        (f"{GATE}&hidden_joints=perhaps", "hidden_joints"),
        (f"{GATE}&weight.cost=-1", "weight.cost"),
        (f"{GATE}&weight.cost=much", "weight.cost"),
        (f"{GATE}&options=SO-14%3Dcheap", "options"),
        (f"{GATE}&options=NO-99", "options"),
        ("number=74LVC1G08&present=NO-99", "present"),
        ("function=gate", "terminals"),
        ("terminals=x", "terminals"),
    ],
)
def test_an_error_stands_at_the_field_that_caused_it(client, query, field):
    answer = client.get(f"/part/row?{query}")
    assert answer.status_code == 422
    told = answer.json()
    assert list(told["errors"]) == [field], told
    assert told["trouble"] == ""
    page = client.get(f"/part?{query}")
    assert page.status_code == 422
    assert 'aria-invalid="true"' in page.text


def test_the_dimensioned_drawing_is_that_of_the_option(client):
    answer = client.get(f"/part/lands.svg?{GATE}&open=SC-70-5")
    assert answer.headers["content-type"].startswith("image/svg+xml")
    assert "SC-70-5" in answer.text
    assert client.get(f"/part/lands.svg?{GATE}&open=NO-99").status_code == 422


def test_the_process_window_comes_after_the_page_as_drawing_and_as_file(client):
    query = "number=74LVC1G08&options=SC-70-5%2C+SOT-23-5&open=SC-70-5"
    page = unescape(client.get(f"/part?{query}").text)
    place = re.search(r'data-load="([^"]+)"', page)[1]
    drawing = client.get(place).json()["svg"]
    assert drawing.startswith("<svg")
    assert drawing.count("<svg") == 1
    assert client.get(place.replace("/part/window?", "/part/window.svg?")).text == drawing
    assert client.get("/part/window?number=74LVC1G08&open=NO-99").status_code == 422


def test_every_formula_has_its_page(client):
    listed = client.get("/book").text
    for key in all_formulas():
        assert f"/book/formulas/{key}" in listed
        answer = client.get(f"/book/formulas/{key}")
        assert answer.status_code == 200, key
        assert "Sources" in answer.text
    assert client.get("/book/formulas/no-such").status_code == 404


def test_the_book_computes_what_calc_computes(client, capsys):
    page = unescape(client.get("/book/formulas/area-ratio?length=0.25+mm&width=0.20+mm&foil=100+um").text)
    with pytest.raises(SystemExit):
        main(["calc", "area-ratio", "length=0.25 mm", "width=0.20 mm", "foil=100 um"])
    told = capsys.readouterr().out
    value = told.split("=")[1].split()[0]
    assert f"<b>{value}</b>" in page


def test_a_formula_says_at_which_input_it_fails(client):
    answer = client.get("/book/formulas/area-ratio?length=0.25&width=0.20+mm&foil=100+um")
    assert answer.status_code == 422
    assert 'id="e-length" role="alert">The unit of this length is missing' in answer.text
    outside = client.get("/book/formulas/paste-transfer?area_ratio=0.1")
    assert outside.status_code == 422


def test_every_source_stands_with_what_rests_on_it(client):
    text = client.get("/book/sources").text
    for key in all_sources():
        assert f'id="{key}"' in text
    assert text.count("/book/formulas/") > len(all_formulas())


def test_checks_show_expected_computed_and_deviation(client):
    text = client.get("/book/checks").text
    assert text.count("<tr>") == len(all_checks()) + 1
    assert "v-fails" not in text
    assert "Coombs" in text
    assert "Coombs" in client.get("/book/formulas/leadless-cycles").text


def test_the_look_is_that_of_the_drawings(client):
    css = client.get("/static/look.css").text
    for name, colour in LIGHT.colours.items():
        assert f"--{name}:{colour};" in css


def test_the_look_that_was_chosen_comes_with_the_page(client):
    assert 'data-look="dark"' in client.get("/part", headers={"cookie": "look=dark"}).text
    assert "data-look" not in client.get("/part", headers={"cookie": "look=<b>"}).text


def test_a_head_request_has_no_body(client):
    answer = client.head("/part")
    assert answer.status_code == 200
    assert answer.content == b""
