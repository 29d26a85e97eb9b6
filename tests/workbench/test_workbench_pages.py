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
from landwise.printing import deposits
from landwise.proving import all_cases, group
from landwise.quantities import show
from landwise.sheets.look import LIGHT
from landwise.workbench.asked import fields

from .browsers import unmarked

# Three packages on two foils: a question that is judged in a second.
GATE = (
    "number=74LVC1G08&present=SOT-23-5&options=SC-70-5%3D0.03%2C+SOT-23-5%3D0.02%2C+SOT-5x3-5%3D0.025"
    "&foils=80+um%2C+100+um"
)
FLAGS = ["--number", "74LVC1G08", "--present", "SOT-23-5", "--foils", "80 um, 100 um"]
FLAGS += ["--options", "SC-70-5=0.03, SOT-23-5=0.02, SOT-5x3-5=0.025"]


def test_the_first_page_is_the_part_page(client):
    assert client.get("/").headers["location"] == "/part"
    text = client.get("/part").text
    assert "Which package should this part come in?" in text
    assert 'aria-current="page">Part' in text


def test_the_empty_page_starts_with_a_picture_and_examples(client):
    text = client.get("/part").text
    start = text[text.index("Which package should this part come in?") :]
    assert "SOT-23-5" in re.search(r"<desc[^>]*>(.*?)</desc>", start)[1]
    assert len(re.findall(r'<li><a href="/part\?', start)) >= 3


def test_the_row_shows_choice_and_part_in_use(client):
    text = client.get(f"/part?{GATE}").text
    assert "<b>choice</b>" in text
    assert "<b>in use</b>" in text
    assert text.count("<svg xmlns") == 1
    assert "mm of the part" in text


@pytest.mark.parametrize(
    ("query", "flags"),
    [
        (GATE, FLAGS),
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
            "terminals=14&options=TSSOP-14%3D0.1%2C+SO-14%3D0.1&line=fine&max_height=1.2+mm&inspection=optical&reduction=1+mil",
            [
                "--terminals",
                "14",
                "--options",
                "TSSOP-14=0.1, SO-14=0.1",
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


def test_a_browser_gets_its_frame_at_once_and_the_whole_once_it_is_known(client):
    scripted = {"sec-fetch-mode": "navigate", "sec-fetch-site": "none"}
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
    query = f"{GATE}&foil=4+mil&print_offset=40+um&swing=60+K&weight.area=0.5"
    shown = unescape(re.search(r'<pre class="command"[^>]*>(.*?)</pre>', client.get(f"/part?{query}").text)[1])
    with pytest.raises(SystemExit):
        main([*shlex.split(shown)[1:], "--json"])
    assert client.get(f"/part/result.json?{query}").text == capsys.readouterr().out


def test_every_figure_of_every_option_is_that_of_the_command_line(client, capsys):
    """Value, interval, verdict, reason and share of draws, as the command's own result says them."""
    with pytest.raises(SystemExit):
        main(["compare", *FLAGS, "--json"])
    part = json.loads(capsys.readouterr().out)["parts"][0]
    pages = [client.get(f"/part?{GATE}&open={o['outline']}&open={o['outline']}").text for o in part["options"]]
    texts = [unescape(unmarked(one)) for one in pages]
    for option, text in zip(part["options"], texts, strict=True):
        for figure in option["figures"]:
            assert figure["why"][1:] in text
            if figure["value"] is not None and figure["unit"] not in ("money", ""):
                assert show(figure["value"], figure["unit"]).split("\u2009")[0] in text, figure["key"]
            for step in figure["trail"]:
                assert step["says"][1:] in text
    wins = part["standing"]["wins"] if part.get("standing") else {}
    for name, share in wins.items():
        assert f"cheapest in {share:.0%} of draws" in texts[0], name
    assert part["says"][1:] in texts[0]


def test_two_options_stand_side_by_side_and_a_third_takes_the_oldest_place(client):
    text = client.get(f"/part?{GATE}&open=SC-70-5&open=SOT-23-5").text
    assert "opened n2" in text
    assert "open=SOT-23-5&amp;open=SOT-5x3-5" in text


def test_moving_the_foil_moves_drawings_and_verdicts(client):
    thin, thick = (client.get(f"/part/row?{GATE}&foil={um}+um").json() for um in (80, 150))
    assert thin["html"] != thick["html"]
    assert thin["sliders"]["foil"]["value"] == 80
    assert thick["sliders"]["foil"]["value"] == 150
    assert "foil=80+um" in thin["address"]


def test_a_wish_that_another_option_meets_is_said_before_the_row(client):
    """A needle reaches the leads of a SC-70; the balls under a WLP are out of its reach."""
    query = "number=74LVC1G08&present=SC-70-5&options=SC-70-5%3D0.03%2C+WLP-5-0.5%3D0.3&foil=100+um"
    assert "terminals wanted" not in client.get(f"/part?{query}").text.casefold()
    text = client.get(f"/part?{query}&terminals_should_be=hidden").text
    line = re.search(r"<p>Terminals wanted hidden: ([^<]*)</p>", text)
    assert "in SC-70-5 does not meet it, WLP-5-0.5 meets it for " in line[1]
    assert line.start() < text.index('aria-label="Candidates"')


def test_a_weight_goes_out_as_typed_and_counts_only_where_it_is_stated(client):
    """A default weight typed is another question than none: without any, money alone decides."""
    plain = client.get(f"/part/row?{GATE}").json()
    typed = client.get(f"/part/row?{GATE}&weight.area=0.2&weight.hold=0.03").json()
    assert "weight" not in plain["address"]
    assert "weight.area=0.2&weight.hold=0.03" in typed["address"]
    assert plain["sliders"]["weight.area"] == {"value": 0.0, "says": "0"}
    assert typed["sliders"]["weight.hold"] == {"value": 0.03, "says": "0.03"}
    assert "--weight area=0.2 --weight hold=0.03" in typed["html"]
    area = client.get(f"/part/row?{GATE}&weight.area=1").json()
    assert area["said"] != plain["said"]


def test_a_function_that_the_number_contradicts_is_said(client):
    told = client.get(f"/part/row?{GATE}&function=octal+buffer").json()
    assert told["contradicted"].startswith("The number says single 2-input AND gate")
    assert client.get(f"/part/row?{GATE}&function=AND+gate").json()["contradicted"] == ""


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
        (f"{GATE}&weight.area=-1", "weight.area"),
        (f"{GATE}&weight.hold=much", "weight.hold"),
        (f"{GATE}&max_height=-1+mm", "max_height"),
        (f"{GATE}&foil=-80+um", "foil"),
        (f"{GATE}&years=-3", "years"),
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
    query = "number=74LVC1G08&options=SC-70-5&foils=100+um&open=SC-70-5"
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
    for name in ("book", "lands", "joints"):
        text = client.get(f"/book/checks?of={name}").text
        assert text.count("<tr>") == sum(group(case) == name for case in all_cases()) + 1
        assert "v-fails" not in text
    text = client.get("/book/checks").text
    assert "outside, worked" in text
    assert "own arithmetic" in text
    assert client.get("/book/checks?of=nonsense").text == text
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


def test_a_move_draws_only_what_moved(client):
    """A foil changes the solder alone, a weight nothing; equal openings of a part are printed once."""
    drawn, worked = client.app.state.desk.drawn, []
    asked = {"terminals": "48", "present": "SSOP-48", "quick": "1", "room": "970"}

    def views(**move):
        before = drawn.made
        answer = client.get("/part/row", params=asked | move)
        return drawn.made - before, answer.json()["sketch"]

    with pytest.MonkeyPatch.context() as patch:
        real = deposits._deposit
        patch.setattr(deposits, "_deposit", lambda *given: worked.append(given) or real(*given))
        first, picture = views(foil="101 um")
        once = len(worked)
        foil, moved = views(foil="103 um")
        weight, same = views(foil="103 um", **{"weight.area": "0.3"})
    row = 6  # packages in it
    assert first > 4 * row
    assert foil <= row
    assert once <= 3 * row  # of some 300 openings
    assert weight == 0
    assert picture != moved == same
    assert len(picture) < 80_000


def test_whoever_is_answered_while_the_workbench_ends_is_told_so(client):
    turns = client.app.state.desk.turns
    turns.come("a-tab", "1")
    assert turns.stands("a-tab", "1")
    turns.end()
    assert not turns.stands("a-tab", "1")
    answer = client.get("/part/row", params={"number": "74LVC1G08", "tab": "a-tab", "turn": "2", "foil": "99 um"})
    assert answer.status_code == 409
