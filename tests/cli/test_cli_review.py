"""`landwise review` from Gerber files to exit code, on made-up boards."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

import pytest

from landwise.cli import main


def film(flashes, growth=0.0, function=""):
    """A Gerber layer of rectangles: x, y, length along x, along y. [mm]"""
    sizes = sorted({(length, width) for _, _, length, width in flashes})
    lines = ["%FSLAX46Y46*%", "%MOMM*%", *([f"%TF.FileFunction,{function}*%"] if function else []), "%LPD*%"]
    lines += [f"%ADD{10 + k}R,{a + 2 * growth:.4f}X{b + 2 * growth:.4f}*%" for k, (a, b) in enumerate(sizes)]
    for k, size in enumerate(sizes):
        lines.append(f"D{10 + k}*")
        lines += [f"X{round(x * 1e6)}Y{round(y * 1e6)}D03*" for x, y, *own in flashes if tuple(own) == size]
    return "\n".join([*lines, "M02*", ""])


ROWS = [(10 + side * 2.9, 10 + 0.65 * k, 1.4, 0.35) for side in (-1, 1) for k in range(10)]
STRAY = [*ROWS, (30.0, 30.0, 1.0, 1.0)]


def folder_of(path: Path, paste=ROWS, lands=ROWS) -> Path:
    path.mkdir(exist_ok=True)
    (path / "board.gtp").write_text(film(paste, function="Paste,Top"))
    (path / "board.gtl").write_text(film(lands, function="Copper,L1,Top"))
    (path / "board.gts").write_text(film(lands, 0.05, function="Soldermask,Top"))
    return path


def run(*args) -> int:
    with pytest.raises(SystemExit) as stopped:
        main(["review", *map(str, args)])
    return int(stopped.value.code or 0)


def test_a_sound_board_ends_with_zero(tmp_path, capsys):
    assert run(folder_of(tmp_path / "in"), "-o", tmp_path / "out") == 0
    told = capsys.readouterr().out
    assert "20 apertures" in told
    assert "nothing to mend" in told
    assert (tmp_path / "out" / "report.html").exists()
    assert (tmp_path / "out" / "report.pdf").exists()


def test_a_finding_ends_with_one_and_is_mended(tmp_path, capsys):
    assert run(folder_of(tmp_path / "in", STRAY), "-o", tmp_path / "out", "--apply", "safe") == 1
    assert "aperture without land" in capsys.readouterr().out
    again = folder_of(tmp_path / "again")
    (again / "board.gtp").write_bytes((tmp_path / "out" / "paste-top.gbr").read_bytes())
    assert run(again, "-o", tmp_path / "out2") == 0


def test_the_level_that_fails_is_the_user_s(tmp_path):
    board = folder_of(tmp_path / "in", STRAY)
    assert run(board, "-o", tmp_path / "out", "--fail-on", "never") == 0
    # 80 µm is marginal under gull-wing lands.
    sound = folder_of(tmp_path / "sound")
    assert run(sound, "-o", tmp_path / "out", "--foils", "80 um") == 0
    assert run(sound, "-o", tmp_path / "out", "--foils", "80 um", "--fail-on", "marginal") == 1


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--foils", "80"], "unit"),
        (["--powder", "T9"], "unknown powder"),
        (["--line", "mine"], "no such line"),
        (["--layer", "paste-top"], "ROLE=FILE"),
        (["--layer", "paste-top=missing.gbr"], "missing.gbr"),
    ],
)
def test_bad_options_end_with_two_and_one_line(tmp_path, capsys, options, said):
    assert run(folder_of(tmp_path / "in"), "-o", tmp_path / "out", *options) == 2
    told = capsys.readouterr().err
    assert said in told
    assert "Traceback" not in told
    assert not (tmp_path / "out").exists()


def test_bad_input_ends_with_two(tmp_path, capsys):
    assert run(tmp_path / "nothing", "-o", tmp_path / "out") == 2
    board = folder_of(tmp_path / "in")
    (board / "board.gtp").write_text("%FSLAX46Y46*%\n%MOMM*%\nD10*\nX0Y0D03*\nM02*\n")
    assert run(board, "-o", tmp_path / "out") == 2
    assert "board.gtp" in capsys.readouterr().err


def test_a_zip_reads_as_its_folder_does(tmp_path, capsys):
    board = folder_of(tmp_path / "in", STRAY)
    with zipfile.ZipFile(tmp_path / "in.zip", "w") as packed:
        for file in board.iterdir():
            packed.write(file, f"gerbers/{file.name}")
    assert run(board, "--json") == 1
    one = json.loads(capsys.readouterr().out)
    assert run(tmp_path / "in.zip", "--json") == 1
    other = json.loads(capsys.readouterr().out)
    assert one["sides"] == other["sides"]


def test_corrected_layer_keeps_untouched_apertures_to_a_nanometre(tmp_path):
    from landwise.fabdata.gerber import read_gerber

    board = folder_of(tmp_path / "in", STRAY)
    run(board, "-o", tmp_path / "out", "--apply", "safe")
    before = read_gerber((board / "board.gtp").read_bytes(), "before").pads
    after = read_gerber((tmp_path / "out" / "paste-top.gbr").read_bytes(), "after").pads
    assert len(after.polygon) == len(before.polygon) - 1
    old = sorted(
        (round(x, 6), round(y, 6), round(a, 9))
        for x, y, a in zip(before.x_mm, before.y_mm, before.area_mm2, strict=True)
    )
    new = sorted(
        (round(x, 6), round(y, 6), round(a, 9)) for x, y, a in zip(after.x_mm, after.y_mm, after.area_mm2, strict=True)
    )
    assert [row for row in old if row[0] < 29] == new


def test_an_older_revision_a_panel_and_answers_make_their_files(tmp_path, capsys):
    old = folder_of(tmp_path / "old")
    new = folder_of(tmp_path / "new", STRAY)
    answers = tmp_path / "answers.toml"
    refused = (f'[[decision]]\nanswer = "refuse"\nrule = "{rule}"\n' for rule in ("stray", "designed"))
    answers.write_text("".join(refused))
    out = tmp_path / "out"
    more = ("--against", old, "--panel", "2x2 gap 3", "--decisions", answers, "--foils", "100 um", "--apply", "all")
    assert run(new, "-o", out, *more) == 1
    names = {path.name for path in out.iterdir()}
    assert {"compared.csv", "panel-top.gbr", "fiducials.gbr", "order.pdf", "order.txt", "decisions.toml"} <= names
    assert "paste-top.gbr" not in names  # its only correction and the design asked about were refused
    assert "top,new," in (out / "compared.csv").read_text()
    assert "2 × 2 boards" in (out / "order.txt").read_text()
    capsys.readouterr()


@pytest.mark.parametrize(
    ("option", "said"),
    [
        (("--most-openings", "5"), "more openings"),
        (("--panel", "1000x1"), "panel"),
        (("--rules", "none.toml"), "rules"),
    ],
)
def test_limits_and_wrong_arguments_end_with_two(tmp_path, capsys, option, said):
    assert run(folder_of(tmp_path / "in"), "-o", tmp_path / "out", "--foils", "100 um", *option) == 2
    assert said in capsys.readouterr().err
