"""`landwise calibrate`: a real line's columns on invented rows, end to end; what is wrong in a file is told."""

from __future__ import annotations

import tomllib

import numpy as np
import pytest
from click.testing import CliRunner

from invented_lines import InventedLine, export
from landwise.assembly.ratios import rate_ratio
from landwise.cli import app, main
from landwise.errors import FileError, InputError
from landwise.judging.bench import Bench
from landwise.judging.namedline import named_line
from landwise.outlines import find
from landwise.study.file import read_study, study_from

BOARD = """
[[part]]
refs = ["U1"]
number = "00"
family = "HC"
terminals = 14
options = [{ outline = "SO-14", price = 0.1 }, { outline = "TSSOP-14", price = 0.1 }]
"""


def run(*args):
    return CliRunner().invoke(app, ["calibrate", *map(str, args)])


@pytest.fixture(scope="module")
def rows():
    return export(InventedLine(), 2)


def written(tmp_path, lines, *more):
    (tmp_path / "spi.csv").write_text("\n".join(lines) + "\n")
    done = run(tmp_path / "spi.csv", "-o", tmp_path / "line.toml", "--foil", "100 um", "--force", *more)
    assert done.exit_code == 0, done.output
    return " ".join(done.output.split()), tomllib.loads((tmp_path / "line.toml").read_text())


def test_a_real_lines_columns_become_a_line_that_a_study_reads(tmp_path, rows):
    said, data = written(tmp_path, rows)
    assert data["columns"]["volume"] == "Volume(%) [%]"
    assert data["columns"]["offset_x"] == "OffsetX(%) [%]"
    assert "size_x SizeX [mm] (unit taken so)" in said
    assert "not used PadType, Volume(um3), Area(um2), Shape(um), Result" in said
    low, value, high = data["line"]["scatter"]["volume_common"]
    assert low < 0.5 < high
    (tmp_path / "board.toml").write_text('[line]\nfile = "line.toml"\nfoils = ["100 um"]\npowder = "T5"\n' + BOARD)
    bench = Bench.of(read_study(tmp_path / "board.toml"))
    term = bench.scatter.term("volume_common")
    assert (term.low, term.value, term.high) == (low, value, high)
    assert bench.line.powder == "T5"  # what the study states stands before its file
    assert bench.scatter.transfer_score == data["line"]["transfer"][1]
    assert bench.scatter.transfer_spread < 1
    named = read_study(tmp_path / "board.toml", line=tmp_path / "line.toml")
    assert named.content.line.powder == "T4"  # and a named one before the study
    _, again = written(tmp_path, rows, "--study", tmp_path / "board.toml")
    assert again == data
    page = (tmp_path / "line.md").read_text()
    assert "| part | before | after |" in page
    assert "| U1 " in page


def test_start_and_review_take_the_line_file(tmp_path, rows):
    written(tmp_path, rows)
    (tmp_path / "bill.csv").write_text("Reference,Value,Footprint\nU1,74LVC1G08,SOT-23-5\n")
    asked = ["start", "--bom", str(tmp_path / "bill.csv"), "-o", str(tmp_path / "new.toml")]
    done = CliRunner().invoke(app, [*asked, "--line", str(tmp_path / "line.toml")])
    assert done.exit_code == 0, done.output
    read = read_study(tmp_path / "new.toml")
    learned = tomllib.loads((tmp_path / "line.toml").read_text())["line"]
    assert read.content.line.transfer == pytest.approx(learned["transfer"])
    line = named_line(str(tmp_path / "line.toml"))
    assert line.print_offset_mm == read.content.line.print_offset
    assert line.scatter == Bench.of(read).scatter
    assert line.scatter.transfer_score == pytest.approx(learned["transfer"][1])
    with pytest.raises(FileError):
        named_line(str(tmp_path / "none.toml"))


def test_placement_checks_enter_the_line_and_their_columns_are_kept(tmp_path, rows):
    rng = np.random.default_rng(1)
    off = 0.02 * rng.standard_normal((240, 2))
    (tmp_path / "placed.csv").write_text(
        "\n".join(
            ["Board,RefDes,x off,dY [mm]"] + [f"B{k // 12},U{k % 12},{a:.4f},{b:.4f}" for k, (a, b) in enumerate(off)]
        )
    )
    more = ("--placed", tmp_path / "placed.csv", "--column", "placed_x=x off [mm]")
    said, data = written(tmp_path, rows, *more)
    assert "placed_x x off [mm]" in said
    assert float(data["line"]["placement_offset"].removesuffix(" mm")) == pytest.approx(0.06, rel=0.15)
    assert data["columns"]["placed_x"] == "x off [mm]"
    page = (tmp_path / "line.md").read_text()
    assert "240 parts used of 240, on 20 boards" in page
    (tmp_path / "kept.toml").write_text((tmp_path / "line.toml").read_text())
    _, again = written(tmp_path, rows, "--placed", tmp_path / "placed.csv", "--mapping", tmp_path / "kept.toml")
    assert again == data


def test_the_kept_mapping_is_read_again(tmp_path, rows):
    renamed = [rows[0].replace("Volume(%)", "How much"), *rows[1:]]
    _, first = written(tmp_path, renamed, "--column", "volume=How much [%]")
    (tmp_path / "kept.toml").write_text((tmp_path / "line.toml").read_text())
    _, again = written(tmp_path, renamed, "--mapping", tmp_path / "kept.toml")
    assert first == again
    _, absolute = written(tmp_path, rows, "--column", "volume=Volume(um3)")
    assert absolute["line"]["scatter"]["volume_common"] == pytest.approx(
        first["line"]["scatter"]["volume_common"], rel=1e-2
    )


def test_what_is_wrong_in_the_rows_is_told_and_moves_little(tmp_path, rows):
    _, clean = written(tmp_path, rows)
    cells = [row.split(",") for row in rows[1:]]
    dirty = [list(row) for row in cells]
    for row in dirty[::100]:
        row[10] = "n/a"
    for row in dirty[1::150]:
        row[10] = f"{float(row[10]) / 100:.5f}"
    for row in dirty[2::500]:
        row[10] = "-3"
    copied = [["P9999", *row[1:]] for row in dirty if row[0] == "P0011"]
    late = [[*row[:6], "05:00:00", *row[7:]] if row[0] == "P0008" else row for row in dirty]
    twice = [row for row in cells if row[0] == "P0001"]
    lines = [rows[0], *(",".join(row) for row in [*late, *copied, *twice]), "P1,2,3"]
    said, data = written(tmp_path, lines)
    for text in (
        "no number for the volume",
        "not as many cells as the header",
        "volume below 0",
        "mixed units?",
        "stand there more than once (panels P0001",
        "very numbers of an earlier one are left out: P9999",
        "the clock jumps back 1 times",
    ):
        assert text in said
    for name in ("transfer",):
        assert data["line"][name] == pytest.approx(clean["line"][name], abs=0.05)
    assert "no number for the volume" in (tmp_path / "line.md").read_text()


@pytest.mark.parametrize(
    ("header", "more", "says"),
    [
        ("Panel,What", (), "no column of volumes was found"),
        ("Panel,Volume", ("--column", "volume=Vol"), "no such column"),
        ("Panel,Volume(gallon)", (), "unknown unit"),
        ("Panel,Volume", ("--column", "weight=Volume"), "no such field"),
        ("Panel,Volume", ("--column", "volume"), "not a column"),
        ("Panel,Volume", (), "can't be told apart"),
        ("Panel,Volume,Pin", (), "another unit"),
        ("Panel,Volume[share],Pin", (), "no area ratio is known"),
        ("Panel,Volume(mm3),Pin", (), "absolute volumes need the apertures"),
    ],
)
def test_wrong_columns_are_one_clear_message(tmp_path, capsys, header, more, says):
    (tmp_path / "spi.csv").write_text(
        "\n".join(
            [header, *(f"{k // 10},{0.9 + k / 1000},{k % 10}"[: None if "Pin" in header else -2] for k in range(100))]
        )
    )
    with pytest.raises(SystemExit) as stopped:
        main(["calibrate", str(tmp_path / "spi.csv"), "-o", str(tmp_path / "line.toml"), *more])
    assert stopped.value.code == 2
    assert says in capsys.readouterr().err
    assert not (tmp_path / "line.toml").exists()


def test_a_file_that_is_no_line_file_is_told(tmp_path, capsys):
    (tmp_path / "board.toml").write_text(BOARD)
    for text, says in (("[part]\n", "not a line file"), ("= 3", "not a TOML file"), ("[line]\nwhat = 1\n", "unknown")):
        (tmp_path / "line.toml").write_text(text)
        with pytest.raises(SystemExit) as stopped:
            main(["study", str(tmp_path / "board.toml"), "--line", str(tmp_path / "line.toml")])
        assert stopped.value.code == 2
        assert says in capsys.readouterr().err
        with pytest.raises(SystemExit):
            main(["compare", "--number", "74HC00", "--line", str(tmp_path / "line.toml")])
        assert says in capsys.readouterr().err
    with pytest.raises(InputError, match="read beside a study file only"):
        study_from({"line": {"file": "line.toml"}})


def test_counted_defects_become_rates_only_where_they_are_many(tmp_path, rows, capsys):
    counts = tmp_path / "counts.csv"
    counts.write_text(
        "family,kind,defects,joints\ngull-wing dual,short,30,4000000\ngull-wing dual,open,25,3000000\n"
        "gull-wing dual,open,15,1000000\nball grid,bridge,1,20000\nball grid,open,200,2000000\nball grid,scratch,3,10\n"
    )
    said, data = written(tmp_path, rows, "--defects", counts)
    (rate,) = data["line"]["rates"]
    assert rate["family"] == "gull-wing dual"
    assert 9 < rate["open"] < 11  # 40 of four million
    assert "neither a bridge nor an open" in said
    assert "1 of 20000" in (tmp_path / "line.md").read_text()
    for text, says in (
        ("a,b\n", "not a list"),
        ("family,kind,defects,joints\nx,open,1,2\n", "no such family"),
        ("family,kind,defects,joints\nball grid,open,3,2\n", "not a count"),
    ):
        counts.write_text(text)
        paths = {"-o": tmp_path / "new.toml", "--defects": counts}
        more = [str(text) for pair in paths.items() for text in pair]
        with pytest.raises(SystemExit):
            main(["calibrate", str(tmp_path / "spi.csv"), "--foil", "100 um", *more])
        assert says in capsys.readouterr().err


def test_counts_on_a_package_become_its_rates_and_speak_of_the_model(tmp_path, rows, capsys):
    counts = tmp_path / "counts.csv"
    counts.write_text(
        "package,kind,defects,joints\nTSSOP-14,short,400,4000000\nTSSOP-14,open,25,3000000\nSO-14,open,1,20000\n"
    )
    _, data = written(tmp_path, rows, "--defects", counts)
    (rate,) = data["line"]["rates"]
    assert (rate["family"], rate["least_pitch"], rate["most_pitch"]) == ("gull-wing dual", "0.65 mm", "0.65 mm")
    page = (tmp_path / "line.md").read_text()
    told = page[page.index("## What the counts say of the model") :]
    (bridges,) = [row for row in told.splitlines() if row.startswith("| TSSOP-14 | bridge | 100 |")]
    assert "of them modelled" in bridges or "too few draws agree" in bridges
    (tmp_path / "counts.csv").write_text("package,family,kind,defects,joints\nTSSOP-14,ball grid,open,1,20\n")
    asked = ["-o", str(tmp_path / "l.toml"), "--defects", str(counts), "--foil", "100 um"]
    with pytest.raises(SystemExit):
        main(["calibrate", str(tmp_path / "spi.csv"), *asked])
    assert "of another family" in capsys.readouterr().err


def test_counts_alone_make_a_line_that_a_study_is_narrowed_by(tmp_path, capsys):
    """Twenty times the usual opens on one package: its rate and those of others rise.

    What no mechanism explains rises most on the package itself.
    Their ratio may move, but no further than what was known of it before.
    """
    counts = tmp_path / "counts.csv"
    counts.write_text("package,kind,defects,joints\nTSSOP-14,open,3,15000\nTSSOP-14,bridge,0,15000\n")
    done = run("--defects", counts, "-o", tmp_path / "line.toml")
    assert done.exit_code == 0, done.output
    table = tomllib.loads((tmp_path / "line.toml").read_text())
    assert [row["defects"] for row in table["line"]["counts"]] == [3, 0]
    part = {"refs": ["U1"], "number": "00", "family": "HC", "terminals": 14}
    before, after = (
        Bench.of(study_from({"part": [part], "line": line})) for line in ({}, {"counts": table["line"]["counts"]})
    )
    rates = {name: [bench.geometry(find(name)).rates for bench in (before, after)] for name in ("TSSOP-14", "SO-14")}
    for name, (old, new) in rates.items():
        assert new.defects.value > 1.3 * old.defects.value, name
    growth = {name: new.other.value / old.other.value for name, (old, new) in rates.items()}
    assert growth["TSSOP-14"] > growth["SO-14"]
    ratio = [rate_ratio(*(rates[name][k] for name in rates)) for k in (0, 1)]
    assert ratio[0].low <= ratio[1].value <= ratio[0].high
    assert after.knowledge.draws == 200
    assert before.knowledge is None
    with pytest.raises(SystemExit):
        main(["calibrate", "-o", str(tmp_path / "none.toml")])
    assert "nothing to learn from" in capsys.readouterr().err
    wrong = {"line": {"counts": [{"package": "SO-14", "kind": "open", "defects": 9, "joints": 3}]}}
    with pytest.raises(InputError, match="more defects than joints"):
        study_from(wrong)
