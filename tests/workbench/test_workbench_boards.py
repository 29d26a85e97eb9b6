"""The board page: a bill comes in, is mended, chosen for, and taken along; the numbers are the command line's."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from landwise.cli import main
from landwise.errors import InputError
from landwise.judging.missions import mission_of
from landwise.study.file import study_from
from landwise.workbench.boardbill import begin, bring, example
from landwise.workbench.boardfields import settings, shown
from landwise.workbench.boardmend import field_of, held_to, mended, with_part, without_part

EXAMPLES = Path(__file__).resolve().parents[2] / "examples" / "logger"
BILL = (
    b"Reference;Qty;Value;Package;Description\n"
    b"U1, U2;2;74LVC1G08;SOT-23-5;single AND gate\n"
    b"U3;1;74HC595;SOIC-16;shift register\n"
    b"U4;1;74HC132;;quad Schmitt NAND\n"
    b"U5;1;74HC9999;;something odd\n"
    b"U6;1;radio module;;invented\n"
    b"R1-R4;4;10k;0603;resistor\n"
)


# What comes in.


@pytest.mark.skipif(not EXAMPLES.is_dir(), reason="the examples are not here")
def test_the_example_is_the_one_of_the_command_line():
    assert example("study").text == (EXAMPLES / "board.toml").read_text(encoding="utf-8")
    assert example("bill").account.bill == "bom.csv"


@pytest.mark.skipif(not EXAMPLES.is_dir(), reason="the examples are not here")
def test_the_installed_package_carries_the_example():
    project = tomllib.loads((EXAMPLES.parents[1] / "pyproject.toml").read_text(encoding="utf-8"))
    carried = project["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]
    for path, inside in carried.items():
        assert (EXAMPLES.parents[1] / path).is_file()
        assert inside == f"landwise/workbench/example/{Path(path).name}"
    assert {Path(path).name for path in carried} == {"board.toml", "bom.csv"}


def test_a_bill_becomes_the_study_that_the_command_line_starts(tmp_path):
    (tmp_path / "bill.csv").write_bytes(BILL)
    with pytest.raises(SystemExit) as ended:
        main(["start", "--bom", str(tmp_path / "bill.csv"), "-o", str(tmp_path / "board.toml"), "--name", "odd board"])
    assert ended.value.code in (0, None)
    assert begin(("C:\\boards\\bill.csv", BILL), (), "odd board").text == (tmp_path / "board.toml").read_text()


def test_every_line_of_a_bill_is_accounted_for():
    account = begin(("bill.csv", BILL), (), "").account
    assert sum(account.counts.values()) == 10
    left = {one["refs"][0]: one["reason"] for one in account.left}
    assert set(left) == {"U5", "U6"}
    assert all(left.values())
    assert account.said["U3"] == {"row": 3, "number": "74HC595", "package": "SOIC-16"}


@pytest.mark.parametrize(
    ("content", "place"),
    [(b"", "bill"), (b"nothing like a bill", "bill"), (b"\xff\xfe\x00\x01" * 20, "bill")],
)
def test_a_bill_that_cannot_be_read_is_an_error_of_its_field(content, place):
    with pytest.raises(InputError) as error:
        begin(("bill.csv", content), (), "")
    assert error.value.place == place


def test_a_placement_file_that_cannot_be_read_is_an_error_of_its_field():
    with pytest.raises(InputError) as error:
        begin(("bill.csv", BILL), [("pos.csv", b"no placement")], "")
    assert error.value.place == "placement"


@pytest.mark.parametrize(
    "content",
    [
        b"a = " + 5000 * b"[" + 5000 * b"]",
        b"a." * 3000 + b"a = 1",
        b"[board",
        b"\xff\xfe",
        b'[want]\nmax_height = "3 V"\n',
        b'outlines = ["a.toml"]\n',
    ],
)
def test_a_study_that_cannot_be_read_is_an_error_of_its_field(content):
    with pytest.raises(InputError) as error:
        bring(content)
    assert error.value.place == "study"


# Mending.


def test_a_change_leaves_the_rest_of_the_text_as_it_was():
    text = example("study").text
    made = mended(
        text, {"want.max_height": "2 mm", "part.2.locked": "yes", "costs.rates": "board_area = 0.06, placement = 0.02"}
    )
    assert not made.errors
    gone = set(text.splitlines()) - set(made.text.splitlines())
    assert gone == {'max_height = "3 mm"', "board_area = 0.05 # this invented house knows its own board price"}
    assert set(made.text.splitlines()) - set(text.splitlines()) == {
        'max_height = "2 mm"',
        "locked = true",
        "board_area = 0.06 # this invented house knows its own board price",
    }


def test_a_change_back_gives_the_same_study():
    text = example("bill").text
    there = mended(text, {"want.weights.cost": "0.6", "part.0.package": "SC-70-5", "line.steps_allowed": "yes"})
    back = mended(
        there.text, {"want.weights.cost": "", "part.0.package": "SOT-23-5", "line.steps_allowed": "as the line"}
    )
    assert tomllib.loads(back.text) == tomllib.loads(text)


@pytest.mark.parametrize(
    ("name", "typed"),
    [
        ("want.max_height", "3 V"),
        ("want.max_height", "tall"),
        ("want.max_area", "-"),
        ("want.max_area", "-3"),
        ("want.board_limits.area", "-3"),
        ("board.length", "-3 mm"),
        ("want.most_outlines", "two"),
        ("want.hidden_joints", "perhaps"),
        ("want.objective", "beauty"),
        ("want.weights.cost", "-1"),
        ("want.limits", "area-ratio"),
        ("line.preset", "huge"),
        ("line.technologies", "carved"),
        ("costs.rates", "board = 1"),
        ("costs.run", "0"),
        ("use.environment", "the moon"),
        ("use.air", "foul"),
        ("use.profile", "the moon"),
        ("use.off", "300 h"),
        ("use.off", "300 V at 20 degC"),
        ("use.stored", "-5 h at 20 degC"),
        ("use.stored", "5 h at 20 degC, 0 h at 30 degC"),
        ("use.switched", "often"),
        ("use.switched", "-1"),
        ("part.0.switched", "-1"),
        ("part.0.switched", "often"),
        ("part.0.power", "20"),
        ("board.length", "3 V"),
        ("part.0.package", "SOT-99"),
        ("part.0.options", "SO-14 = cheap"),
        ("part.0.options", "SO-14 = 1 / x: 2"),
        ("part.0.terminals", "0"),
        ("part.0.refs", ""),
        ("part.0.refs", "U9"),
        ("part.0.locked", "maybe"),
        ("part.99.function", "gate"),
        ("part.0.guesses", "x"),
        ("want.nothing", "1"),
        ("landwise", "2"),
    ],
)
def test_a_value_that_cannot_be_is_an_error_of_its_field_and_changes_nothing(name, typed):
    text = example("study").text
    made = mended(text, {name: typed})
    assert list(made.errors) == [name]
    assert made.text == text
    assert not made.did


MISSION = """landwise = 1

# as the customer told it
[use] # life
off = [ # at night
  { temperature = "15 degC", hours = "5 years" }, # no frost
  { temperature = "-5 degC", hours = "900 h" }, # winter
]
switched = 700 # mornings

[[use.stored]] # the depot
temperature = "25 degC" # heated
hours = "2000 h" # a winter

[[part]] # the driver
refs = ["U1"]
terminals = 14
switched = 20000 # its own lamp
"""


def test_the_hours_of_a_life_are_changed_where_they_stand_and_their_comments_stay():
    data = tomllib.loads(MISSION)
    assert shown(data, settings()["use.off"]) == "5 years at 15 degC, 900 h at -5 degC"
    typed = {
        "use.off": "5 years at 15 degC, 800 h at -5 degC",
        "use.stored": "2000 h at 25 degC, 300 h at 40 degC",
        "use.switched": "365",
        "part.0.switched": "",
        "part.0.power": "0.25 W",
        "use.profile": "cabin",
    }
    made = mended(MISSION, typed)
    assert made.errors == {}
    now = tomllib.loads(made.text)
    assert now["use"] == {
        "off": [{"temperature": "15 degC", "hours": "5 years"}, {"temperature": "-5 degC", "hours": "800 h"}],
        "stored": [{"temperature": "25 degC", "hours": "2000 h"}, {"temperature": "40 degC", "hours": "300 h"}],
        "switched": 365,
        "profile": "cabin",
    }
    assert now["part"][0] == {"refs": ["U1"], "terminals": 14, "power": "0.25 W"}
    for comment in ("as the customer", "# life", "# at night", "# no frost", "# winter", "# mornings", "# the depot"):
        assert comment in made.text
    assert "# heated" in made.text
    assert mended(made.text, typed).did == []
    emptied = mended(made.text, dict.fromkeys(["use.off", "use.stored", "use.switched"], ""))
    assert tomllib.loads(emptied.text)["use"] == {"profile": "cabin"}


def test_hours_that_stand_alone_are_an_error_at_their_field_when_the_board_is_worked():
    text = mended(example("study").text, {"use.stored": "2000 h at 25 degC"}).text
    with pytest.raises(InputError) as error:
        mission_of(study_from(tomllib.loads(text)).content.use)
    assert field_of(error.value.within(place="part U1"), text) == "use.stored"


def test_hours_stated_twice_are_an_error_of_the_field_that_was_typed():
    text = mended(example("study").text, {"use.profile": "cabin"}).text
    assert list(mended(text, {"use.hours": "9000 h at 55 degC"}).errors) == ["use.hours"]


def test_one_wrong_field_does_not_hide_another():
    made = mended(example("study").text, {"want.max_height": "x", "part.0.package": "y", "want.max_area": "9"})
    assert list(made.errors) == ["want.max_height", "part.0.package"]
    assert made.did == ["courtyard: open → 9"]


def test_what_was_mended_is_no_guess_any_more():
    text = begin(("bill.csv", BILL), (), "").text
    at = next(n for n, part in enumerate(tomllib.loads(text)["part"]) if part["refs"] == ["U4"])
    assert any(one.startswith("package:") for one in tomllib.loads(text)["part"][at]["guesses"])
    part = tomllib.loads(mended(text, {f"part.{at}.package": "SO-14"}).text)["part"][at]
    assert part["package"] == "SO-14"
    assert not any(one.startswith("package:") for one in part.get("guesses", []))


def test_prices_by_quantity_and_what_else_an_offer_says_are_kept():
    text = example("study").text
    made = mended(text, {"part.2.options": "SO-16 = 0.12 / 1000: 0.072, TSSOP-16 = 0.08"})
    assert tomllib.loads(made.text)["part"][2]["options"] == [
        {"outline": "SO-16", "prices": {"1": 0.12, "1000": 0.072}},
        {"outline": "TSSOP-16", "price": 0.08},
    ]


def test_parts_are_added_and_taken_out():
    text = example("study").text
    more, said = with_part(text, {"refs": "U50-U52", "number": "74HC595"})
    assert said == "U50, U51, U52 added"
    assert tomllib.loads(more)["part"][-1]["terminals"] == 16
    less, _ = without_part(more, 6)
    assert tomllib.loads(less) == tomllib.loads(text)
    with pytest.raises(InputError):
        with_part(text, {"refs": "U1", "number": "74HC595"})
    with pytest.raises(InputError) as error:
        with_part(text, {"refs": "U60", "function": "gate", "terminals": "many"})
    assert error.value.place == "terminals"
    with pytest.raises(InputError):
        without_part(text, 6)


def test_a_board_held_to_a_point_is_a_study():
    text, said = held_to(example("study").text, 200.0, 0.5)
    limits = study_from(tomllib.loads(text)).content.want.board_limits
    assert limits["area"] == pytest.approx(260, rel=1e-5)
    assert said == "held to 260 mm² of board and a risk of 0.5"


def test_a_board_is_held_by_the_roundest_number_that_keeps_the_next_point_out():
    text, _ = held_to(example("study").text, 200.0, 0.5, next_area_mm2=230.0, next_risk=0.502)
    limits = study_from(tomllib.loads(text)).content.want.board_limits
    assert limits == {"area": 270, "risk": 0.501}  # 1.3 times 200 and 230 mm²: between 260 and 299


def test_a_default_weight_that_is_typed_is_kept_since_nothing_typed_counts_nothing():
    text = example("bill").text
    assert tomllib.loads(mended(text, {"want.weights.hold": "0.03"}).text)["want"]["weights"] == {"hold": 0.03}
    assert mended(text, {"want.weights.hold": ""}).did == []
