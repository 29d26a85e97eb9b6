"""The commands as a user types them: text, files and exit codes."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from pypdf import PdfReader

from landwise.cli import COMMANDS, main
from landwise.cli.boardlines import HEAD_AND_FOOT, LINES, board_lines
from worked_example import worked_example

EXAMPLE = str(Path(__file__).resolve().parents[2] / "examples" / "logger" / "board.toml")
BOM = str(Path(__file__).resolve().parents[2] / "examples" / "logger" / "bom.csv")
SMALL = """
[line]
foils = ["100 um"]
[[part]]
refs = ["U1", "U2"]
number = "1G08"
family = "LVC"
terminals = 5
package = "SOT-23-5"
options = [{ outline = "SOT-23-5", price = 0.03 }, { outline = "SC-70-5", price = 0.03 }]
[[part]]
refs = ["U9"]
number = "245"
family = "LVC"
terminals = 20
package = "TSSOP-20"
options = [{ outline = "TSSOP-20", price = 0.1 }, { outline = "TVSOP-20", price = 0.1 }]
"""


def run(capsys, *args: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as stopped:
        main(args)
    said = capsys.readouterr()
    return int(stopped.value.code or 0), said.out, said.err


@pytest.fixture(scope="module")
def small_run(tmp_path_factory):
    """A small study's files without drawings, to write over them."""
    folder = tmp_path_factory.mktemp("small")
    (folder / "board.toml").write_text(SMALL)
    with pytest.raises(SystemExit) as stopped:
        main(["study", str(folder / "board.toml"), "-o", str(folder / "out"), "--no-drawings"])
    assert not stopped.value.code
    return folder


def test_help_names_every_command(capsys):
    code, out, _ = run(capsys, "--help")
    assert code == 0
    assert all(name in out for name in COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example_or_purpose(capsys, name):
    code, out, _ = run(capsys, name, "--help")
    assert code == 0
    assert COMMANDS[name][1].split()[0].lower() in out.lower() or "Example" in out


def test_the_command_line_starts_without_heavy_libraries():
    code = (
        "import sys, landwise.cli;"
        "heavy = {'numpy', 'scipy', 'shapely', 'pydantic', 'matplotlib', 'typst', 'jinja2'} & set(sys.modules);"
        "sys.exit(f'loads {heavy}' if heavy else 0)"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False).stderr == ""


def test_help_takes_little_processor_time():
    # Processor time, not wall time: other work on the machine must not fail this. The promise is 0.2 s.
    code = (
        "import resource, subprocess, sys;"
        "subprocess.run([sys.executable, '-m', 'landwise', '--help'], stdout=subprocess.DEVNULL, check=True);"
        "u = resource.getrusage(resource.RUSAGE_CHILDREN); print(u.ru_utime + u.ru_stime)"
    )
    bare = code.replace("'-m', 'landwise', '--help'", "'-c', 'pass'")
    spent = [
        min(
            float(subprocess.run([sys.executable, "-c", c], capture_output=True, text=True, check=True).stdout)
            for _ in range(3)
        )
        for c in (code, bare)
    ]
    assert spent[0] < 15 * spent[1] + 0.05


def test_study_writes_its_whole_report():
    done = worked_example()
    assert done.code == 0
    assert "TSSOP-20" in done.out
    # The answer on few pages, and an annex that somebody reads: what is sorted stands in the spreadsheet.
    pages = [len(PdfReader(done.folder / name).pages) for name in ("report.pdf", "annex.pdf")]
    assert pages[0] <= 8
    assert pages[1] <= 20
    names = {path.name for path in done.folder.iterdir()}
    assert names == {
        "reply.txt",
        "report.html",
        "report.pdf",
        "annex.html",
        "annex.pdf",
        "tables.xlsx",
        "result.json",
        "options.csv",
        "result.schema.json",
        "landwise.schema.json",
        "lands",
    }
    assert (done.folder / "lands" / "TSSOP-20.svg").read_text().startswith("<svg")
    assert not [name for name in names if name.startswith(".")]


def test_without_full_the_answer_takes_ten_lines_and_no_word_of_the_search():
    told = [line.plain for line in board_lines(worked_example().result)]
    assert len(told) <= LINES - HEAD_AND_FOOT
    assert not re.search("settled by a bound|gap 0", "".join(told))


def test_study_as_json_writes_no_files(capsys, small_run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    code, out, _ = run(capsys, "study", str(small_run / "board.toml"), "--json")
    assert code == 0
    assert json.loads(out)["landwise_result"] == 1
    assert json.loads(out) == json.loads((small_run / "out" / "result.json").read_text())
    assert list(tmp_path.iterdir()) == []


def test_one_part_in_full(capsys, small_run):
    code, out, _ = run(capsys, "study", str(small_run / "board.toml"), "--part", "U9")
    assert code == 0
    assert "TVSOP-20" in out
    assert "SOT-23-5" not in out
    assert "report" not in out


def test_explain_goes_from_part_to_source(capsys):
    result = str(worked_example().folder / "result.json")
    assert "U9" in run(capsys, "explain", result)[1]
    assert "area-ratio" in run(capsys, "explain", result, "U9")[1]
    code, out, _ = run(capsys, "explain", result, "U9", "transfer")
    assert code == 0
    assert "formula: paste-transfer" in out
    assert "from memory" in out
    assert "slump" in run(capsys, "explain", result, "U9", "bridging")[1].lower()
    code, _, err = run(capsys, "explain", result, "U9", "colour")
    assert (code, "no such figure" in err) == (2, True)


def test_start_then_study(capsys, tmp_path):
    """All of the bill is started, one row of it studied on one foil. The whole way: test_example.py."""
    row = tmp_path / "bom.csv"
    row.write_text("\n".join(Path(BOM).read_text().splitlines()[:2]))
    one = tmp_path / "one.toml"
    assert run(capsys, "start", "--bom", str(row), "-o", str(one))[0] == 0
    one.write_text(one.read_text().replace("[line]\n", '[line]\nfoils = ["100 um"]\n'))
    assert run(capsys, "study", str(one), "--part", "U1")[0] == 0
    target = str(tmp_path / "board.toml")
    code, out, _ = run(capsys, "start", "--bom", BOM, "-o", target)
    assert code == 0
    assert "U10" in out
    assert "radio" not in out
    text = Path(target).read_text()
    assert "U11" in text
    assert "guess" in text


def test_start_keeps_an_existing_study(capsys, tmp_path):
    target = tmp_path / "board.toml"
    target.write_text("my work")
    code, _, err = run(capsys, "start", "--bom", BOM, "-o", str(target))
    assert (code, "exists" in err) == (2, True)
    assert target.read_text() == "my work"
    assert run(capsys, "start", "--bom", BOM, "-o", str(target), "--force")[0] == 0


def test_compare_writes_a_card_in_three_forms(capsys, tmp_path):
    asked = ("--number", "74LVC1G08", "--present", "SOT-23-5", "--options", "SOT-23-5, SC-70-5", "--foils", "100 um")
    code, out, _ = run(capsys, "compare", *asked, "-o", str(tmp_path))
    assert code == 0
    assert "→" in out
    assert (tmp_path / "card.pdf").read_bytes().startswith(b"%PDF")
    assert (tmp_path / "card.png").read_bytes().startswith(b"\x89PNG")
    assert "AND gate" in (tmp_path / "card.svg").read_text()


def test_compare_with_prices_and_limits(capsys):
    code, out, _ = run(
        capsys,
        "compare",
        "--function",
        "octal transceiver",
        "--terminals",
        "20",
        "--options",
        "SO-20W=0.15, TSSOP-20=0.12",
        "--max-height",
        "2 mm",
        "--weight",
        "cost=1",
        "--json",
    )
    part = json.loads(out)["parts"][0]
    assert code == 0
    assert part["chosen"] == "TSSOP-20"
    assert [r["limit"] for o in part["options"] if o["outline"] == "SO-20W" for r in o["rejections"]] == ["height"]


def test_calc_lists_describes_and_answers(capsys):
    assert "area-ratio" in run(capsys, "calc")[1]
    assert "inputs" in run(capsys, "calc", "area-ratio")[1]
    code, out, _ = run(capsys, "calc", "area-ratio", "length=0.25 mm", "width=0.20 mm", "foil=100 um", "--json")
    data = json.loads(out)
    assert code == 0
    assert set(data) == {"name", "outputs", "inputs", "valid", "sources"}
    assert data["outputs"]["area_ratio"] == {"value": pytest.approx(0.5556, abs=1e-4), "unit": ""}
    assert data["inputs"]["foil"] == {"value": 100.0, "unit": "um"}


def test_outlines_are_listed_shown_drawn_and_checked(capsys, tmp_path):
    assert "SO-14" in run(capsys, "outlines", "--terminals", "14")[1]
    code, out, _ = run(capsys, "outlines", "show", "so14", "-o", str(tmp_path))
    assert code == 0
    assert "MS-012" in out
    assert (tmp_path / "SO-14.pdf").exists()
    own = tmp_path / "own.toml"
    own.write_text(OWN)
    assert "fine" in run(capsys, "outlines", "check", str(own))[1]


def test_defaults_have_reasons(capsys):
    code, out, _ = run(capsys, "defaults")
    assert code == 0
    assert out.count("why:") > 60
    assert json.loads(run(capsys, "defaults", "lands", "--json")[1])[0]["reason"]


OWN = """[[outline]]
name = "mine-6"
family = "leadless dual"
terminals = 6
pitch_mm = "20 mil"
body_length_mm = [1.55, 1.60, 1.65]
body_width_mm = [1.55, 1.60, 1.65]
foot_mm = [0.25, 0.35]
terminal_width_mm = 0.2
height_mm = [0.5, 0.6]
mark = "from memory"
sources = []
"""


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("foot_mm = [0.25, 0.35]", "foot_mm = [0.85, 0.95]"), "opposite terminals meet"),
        (("foot_mm = [0.25, 0.35]", "foot_mm = [0.35, 0.25]"), "limits out of order"),
        (("terminal_width_mm = 0.2", "terminal_width_mm = 0.6"), "overlap"),
        (("terminals = 6", "terminals = 7"), "do not divide"),
        (('pitch_mm = "20 mil"', 'pitch_mm = "20 V"'), "unit of voltage"),
        (('pitch_mm = "20 mil"', "pitch_mm = -0.5"), "pitch_mm must be positive"),
        (('family = "leadless dual"', 'family = "round"'), "unknown family"),
        (("height_mm", "hight_mm"), "unknown field"),
        (('mark = "from memory"\n', ""), "a field is missing"),
        (('mark = "from memory"', 'mark = "surely"'), "unknown mark"),
        (("[[outline]]", "[outline]"), "no outlines"),
        (("[[outline]]", "[[outline"), "not a TOML file"),
    ],
)
def test_impossible_outlines_are_refused_by_name(capsys, tmp_path, change, says):
    path = tmp_path / "own.toml"
    path.write_text(OWN.replace(*change))
    code, _, err = run(capsys, "outlines", "check", str(path))
    assert code == 2
    assert says in err
    assert "own.toml" in err
    assert all("own.toml" in line for line in err.splitlines())
    assert err.count("\n") <= 2


def test_a_span_smaller_than_the_body_is_refused(capsys, tmp_path):
    path = tmp_path / "own.toml"
    text = OWN.replace("leadless dual", "gull-wing dual") + "span_mm = 1.2\nterminal_thickness_mm = 0.1\n"
    path.write_text(text)
    code, _, err = run(capsys, "outlines", "check", str(path))
    assert (code, "span is smaller than the body" in err) == (2, True)


STUDY = '[[part]]\nrefs = ["U1"]\nterminals = 14\npackage = "SO-14"\n'


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "empty"),
        ("x = ", "not a TOML file"),
        ("landwise = 1\n", "no parts"),
        ("landwise = 9\n" + STUDY, "another format"),
        ("[board]\ntrack = 0.15\n" + STUDY, "unit of this length is missing"),
        ('[board]\ntrack = "5 V"\n' + STUDY, "unit of voltage"),
        ('[board]\ncolour = "green"\n' + STUDY, "unknown field"),
        ('[line]\npreset = "magic"\n' + STUDY, "no such line"),
        ('[line]\nfoils = []\nfoil = "5 mm"\n' + STUDY, "no such foil"),
        ('[line]\npowder = "T9"\n' + STUDY, "unknown powder"),
        ('[want]\nhidden_joints = "perhaps"\n' + STUDY, "hidden_joints"),
        ("[want.weights]\nbeauty = 1\n" + STUDY, "no such criterion"),
        ("[want.weights]\ncost = -1\n" + STUDY, "negative"),
        ("[costs.rates]\ngold = 1\n" + STUDY, "no such rate"),
        ("[costs]\nrun = 0\n" + STUDY, "run"),
        (STUDY + STUDY, "stands in two parts"),
        (STUDY.replace("SO-14", "SO-15"), "unknown outline"),
        ('[[part]]\nrefs = ["U1"]\n', "how many terminals"),
        ('[[part]]\nrefs = ["U1"]\nterminals = 14\noptions = [{ outline = "SO-14", price = -1 }]\n', "price"),
        (
            '[[part]]\nrefs = ["U1"]\nterminals = 14\noptions = [{ outline = "SO-14", prices = { "5000" = 1 } }]\n',
            "no price holds",
        ),
        ('outlines = ["../../etc/passwd"]\n' + STUDY, "beside the study"),
        ("[[part]]\nrefs = []\n", "refs"),
    ],
)
def test_bad_studies_say_where_and_write_nothing(capsys, tmp_path, text, says):
    path = tmp_path / "board.toml"
    path.write_text(text)
    code, _, err = run(capsys, "study", str(path), "-o", str(tmp_path / "out"))
    assert code == 2
    assert says in err
    assert "board.toml" in err
    assert err.count("\n") == 1
    assert not (tmp_path / "out").exists()


def test_folders_missing_binary_and_oversized_inputs(capsys, tmp_path):
    assert "folder" in run(capsys, "study", str(tmp_path))[2]
    assert "No such file" in run(capsys, "study", str(tmp_path / "none.toml"))[2]
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\xff\xfe\x00\x80" * 9)
    assert "not UTF-8" in run(capsys, "study", str(binary))[2]
    huge = tmp_path / "huge.toml"
    with huge.open("wb") as file:
        file.truncate(200_000_000)
    code, _, err = run(capsys, "study", str(huge))
    assert (code, "too large" in err) == (2, True)


def test_a_failed_run_leaves_the_older_report_as_it_was(capsys, tmp_path, small_run, monkeypatch):
    shutil.copytree(small_run / "out", tmp_path, dirs_exist_ok=True)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()}
    from landwise.errors import InputError
    from landwise.sheets import report

    def broken(**_: object) -> bytes:
        raise InputError("the printer is on fire")

    monkeypatch.setattr(report, "typst_document", broken)
    code, _, err = run(capsys, "study", str(small_run / "board.toml"), "-o", str(tmp_path))
    assert (code, "on fire" in err) == (2, True)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()} == before


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (["calc", "area-rati"], "area-ratio"),
        (["calc", "area-ratio", "length=0.25", "width=0.2 mm", "foil=100 um"], "unit of this length is missing"),
        (["calc", "area-ratio", "length"], "NAME=VALUE"),
        (["calc", "area-ratio", "length=1 mm"], "an input is missing"),
        (["calc", "area-ratio", "depth=1 mm"], "no such input"),
        (["calc", "area-ratio", "length=1 mm", "length=2 mm"], "twice"),
        (["calc", "clearance", "voltage=-5 V"], "no spacing is tabulated"),
        (["calc", "paste-transfer", "area_ratio=0.1"], "no transfer is known"),
        (["calc", "escape-tracks", "pitch=0.5 mm", "land=0.6 mm", "track=0.1 mm", "space=0.1 mm"], "lands touch"),
        (["compare", "--function", "mystery"], "how many terminals"),
        (["compare", "--number", "banana"], "not a known logic number"),
        (["compare", "--terminals", "14", "--options", "SO-14=cheap"], "not a price"),
        (["compare", "--terminals", "14", "--weight", "cost"], "not a weight"),
        (["compare", "--terminals", "1999"], "so many terminals"),
        (["outlines", "show", "SO-15"], "unknown outline"),
        (["outlines", "--family", "round"], "unknown family"),
        (["defaults", "colours"], "no such table"),
        (["explain", EXAMPLE], "not a JSON file"),
        (["start", "--bom", EXAMPLE, "-o", "/nowhere/x.toml"], "no header row"),
    ],
)
def test_bad_flags_get_one_clear_line(capsys, args, says):
    code, _, err = run(capsys, *args)
    assert code == 2
    assert says in err
    assert err.startswith("landwise: ")
    assert err.count("\n") == 1


@pytest.mark.parametrize(
    ("args", "works"),
    [
        (("study", EXAMPLE), "landwise.judging.study.run_study"),
        (("family", EXAMPLE, EXAMPLE), "landwise.board.family.choose_family"),
        (("trial", EXAMPLE), "landwise.judging.study.run_study"),
        (("review", str(Path(EXAMPLE).parent)), "landwise.review.jobs.read_board"),
        (("compare", "--number", "74LVC1G08", "--present", "SOT-23-5"), "landwise.judging.study.run_study"),
    ],
)
@pytest.mark.parametrize("below", ["", "out"])
def test_a_target_that_is_a_file_is_told_before_anything_is_worked(capsys, tmp_path, monkeypatch, args, works, below):
    def worked(*_: object, **__: object) -> None:
        raise AssertionError("it worked before it looked")

    monkeypatch.setattr(works, worked)
    file = tmp_path / "file"
    file.write_text("x")
    code, _, err = run(capsys, *args, "-o", str(file / below))
    assert (code, err.count("\n")) == (2, 1)
    assert f"{file}: can't write into it; found a file; expected a folder" in err
    assert file.read_text() == "x"


def test_a_fault_of_ours_is_one_line_too(capsys, monkeypatch):
    import landwise.study.file

    def broken(*_: object) -> None:
        raise RuntimeError("a wheel came off")

    monkeypatch.setattr(landwise.study.file, "read_study", broken)
    code, _, err = run(capsys, "study", EXAMPLE)
    assert code == 70
    assert err.startswith("landwise: internal fault")
    assert "Traceback" not in err
