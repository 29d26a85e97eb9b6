"""The page on outlines: its own outlines are read, checked, drawn and shown; every fault of a bad file is named."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from landwise.cli import main
from landwise.lands import land_pattern
from landwise.outlines import FAMILIES, examine_outlines, read_outlines

PAGE = (Path(__file__).parents[2] / "docs" / "outlines.md").read_text(encoding="utf-8")
TEXT = re.search(r"```toml\n(.*?)```", PAGE, re.S)[1]
BAD = """
[[outline]]
name = "A"
family = "gull-wing dual"
terminals = 14
pitch_mm = 1.27
body_length_mm = [9, 8, 7]
body_width_mm = [3.8, 4.0]
span_mm = [5.8, 6.2]
foot_mm = [0.4, 1.27]
terminal_width_mm = [0.31, 0.51]
height_mm = "tall"
colour = "black"
mark = "verified"
sources = ["x"]

[[outline]]
name = "B"
family = "gull-wing dual"
terminals = 14
pitch_mm = 0.4
body_length_mm = [8.55, 8.75]
body_width_mm = [6.8, 7.0]
span_mm = [5.8, 6.2]
foot_mm = [0.4, 1.27]
terminal_width_mm = [0.31, 0.51]
height_mm = 1.75
standoff_mm = [0.1, 2.0]
mark = "verified"
sources = ["x"]
"""


@pytest.fixture
def run(capsys):
    """The command line in this process: exit code, and everything it says."""

    def called(*arguments):
        with pytest.raises(SystemExit) as left:
            main([str(argument) for argument in arguments])
        said = capsys.readouterr()
        return left.value.code or 0, said.out + said.err

    return called


def test_the_page_shows_one_outline_of_every_family():
    assert [outline.family for outline in read_outlines(TEXT, file="outlines.md")]
    assert {outline.family for outline in read_outlines(TEXT, file="outlines.md")} == set(FAMILIES)


@pytest.mark.parametrize("outline", read_outlines(TEXT, file="outlines.md"), ids=lambda outline: outline.name)
def test_each_gets_its_lands_and_is_shown(outline, tmp_path, run):
    assert len(land_pattern(outline).lands) >= outline.terminals
    file = tmp_path / "mine.toml"
    file.write_text(TEXT, encoding="utf-8")
    code, said = run("outlines", "show", outline.name, "--own", file, "-o", tmp_path / "out")
    assert code == 0, said
    assert "our drawing" in said or "our notes" in said
    assert {path.suffix for path in (tmp_path / "out").iterdir()} == {".svg", ".pdf", ".kicad_mod"}


def test_the_page_is_checked_and_fine(tmp_path, run):
    file = tmp_path / "mine.toml"
    file.write_text(TEXT, encoding="utf-8")
    code, said = run("outlines", "check", file)
    assert code == 0
    assert said.count(": fine") == len(FAMILIES)


def test_all_faults_are_listed_at_once(tmp_path, run):
    outlines, faults = examine_outlines(BAD, file="bad.toml")
    said = "\n".join(map(str, faults))
    assert outlines == ()
    for part in (
        "outline A, body_length_mm: limits out of order",
        "outline A, height_mm:",
        "outline A: unknown field; found colour",
        "outline B: the span is smaller than the body",
        "outline B: neighbouring terminals overlap",
        "outline B: the standoff does not fit under the height",
    ):
        assert part in said, said
    file = tmp_path / "bad.toml"
    file.write_text(BAD, encoding="utf-8")
    code, said = run("outlines", "check", file)
    assert code == 2
    assert said.count(str(file)) >= len(faults)


FIVE = """
[[outline]]
name = "A"
family = "gull-wing dual"
terminals = 14
pich_mm = 1.27
body_length_mm = [8.75, 8.65, 8.55]
body_width_mm = [3.8, 4.0]
span_mm = [2.8, 3.2]
foot_mm = [0.40, 0.84, 1.27]
terminal_width_mm = [0.31, 0.51]
terminal_thickness_mm = [0.1, 0.2]
height_mm = [1.35, 1.75]
standoff_mm = [0.10, 2.25]
mark = "verifed"
sources = ["our drawing"]

[[outline]]
name = "B"
family = "leadless dual"
terminals = 8
pitch_mm = 0.5
body_length_mm = [1.9, 2.1]
body_width_mm = [1.9, 2.1]
foot_mm = [0.25, 0.45]
terminal_width_mm = [0.20, 0.30]
height_mm = [0.7, 0.8]
standoff_mm = [0.0, 0.05]
mark = "verified"
sources = ["our drawing"]
"""


def test_slips_of_the_pen_hide_no_fault_of_the_body(tmp_path, run):
    """Five mistakes in one outline: each is named in one run, with its place, what was found and what would do."""
    file = tmp_path / "five.toml"
    file.write_text(FIVE, encoding="utf-8")
    code, said = run("outlines", "check", file)
    assert code == 2
    for part in (
        "outline A: unknown field; found pich_mm; expected pitch_mm",
        "outline A, body_length_mm: limits out of order; found 8.75, 8.65, 8.55; expected min ≤ nom ≤ max",
        "outline A, mark: unknown mark; found 'verifed'; expected verified",
        "outline A: the span is smaller than the body; found span 3, body 3.9 mm; expected span ≥ body",
        "outline A: the standoff does not fit under the height; found 0.1…2.25 mm",
    ):
        assert part in said, said
    assert "a field is missing" not in said
    assert said.count("landwise: ") == 5
    assert "B: leadless dual" in said


def test_a_sound_outline_is_shown_beside_a_faulty_one_which_is_refused_with_all_its_faults(tmp_path, run):
    file = tmp_path / "five.toml"
    file.write_text(FIVE, encoding="utf-8")
    code, said = run("outlines", "show", "B", "--own", file)
    assert code == 0
    assert "unknown field" not in said
    code, said = run("outlines", "show", "A", "--own", file)
    assert code == 2
    assert said.count("outline A") == 5


def test_several_impossible_sizes_are_all_named():
    _, faults = examine_outlines(
        FIVE.replace("pitch_mm = 0.5", "pitch_mm = -0.5").replace("terminals = 8", "terminals = 0"), file="x"
    )
    said = "\n".join(map(str, faults))
    assert "outline B: pitch_mm must be positive; found -0.5" in said
    assert "outline B: terminals must be positive; found 0" in said


def test_package_letters_are_shown(run):
    code, said = run("outlines", "show", "DRL")
    assert code == 0
    assert "letters of house h1 for SOT-5x3-5 (verified)" in said
    assert "SOT-5x3-6: flat-lead dual" in said
    _, one = run("outlines", "show", "RGY", "--terminals", "16")
    assert "QFN-16-3.5x4" in one
    assert "QFN-20-3.5x4.5:" not in one


def test_an_unknown_name_says_what_is_near(run):
    code, said = run("outlines", "show", "SOT-99-9")
    assert code == 2
    assert "unknown outline" in said
    assert "expected" in said
