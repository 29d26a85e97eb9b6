"""What a run says about what was asked of it: decisions obeyed, refused or idle, the older revision, the panel."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from landwise.assembly.lines import preset
from landwise.cli.review import command
from landwise.review.decisions import parsed
from landwise.review.foilchoice import FoilChoice, FoilRow, says
from landwise.review.mending.rules import with_rules
from landwise.review.reviews import Asked, review

from .boards import board, chip, dual, side

EXAMPLE = Path(__file__).parents[2] / "examples" / "logger" / "fabrication"
DECISIONS = """
[[decision]]
answer = "accept"
part = "U8"
[[decision]]
answer = "refuse"
rule = "unlike"
[[decision]]
answer = "refuse"
part = "U99"
"""


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    """The example, one opening moved, held against itself, with decisions and a panel asked for."""
    folder = tmp_path_factory.mktemp("told")
    shutil.copytree(EXAMPLE, folder / "new")
    film = folder / "new" / "logger-top-paste.gbr"
    text = film.read_text()
    first = text.index("D03*")
    start = text.rindex("X", 0, first)
    x, y = text[start + 1 : first].split("Y")
    film.write_text(f"{text[:start]}X{int(x) + 100_000}Y{y}{text[first:]}")  # in millionths of a millimetre
    (folder / "answers.toml").write_text(DECISIONS)
    words = [str(folder / "new"), "-o", str(folder / "out"), "--foils", "100 um", "--against", str(EXAMPLE)]
    words += ["--panel", "2x3 gap 4", "--decisions", str(folder / "answers.toml")]
    return CliRunner().invoke(command, words, standalone_mode=False), folder / "out"


def test_decisions_are_said_to_be_obeyed(run):
    lines = run[0].output.splitlines()
    accepted, refused = (
        next(k for k, line in enumerate(lines) if line.startswith(f"{word} by your"))
        for word in (
            "accepted",
            "refused",
        )
    )
    assert lines[accepted + 1].startswith("  U8: added")
    assert lines[refused + 1].startswith("  C6: drawn")
    assert not any(line.startswith(("  U8:", "  C6:")) for line in lines[max(accepted, refused) + 2 :])


def test_a_decision_that_meets_nothing_is_named(run):
    assert "decision 3 (part U99) meets no proposal of this review" in run[0].output


def test_the_file_of_decisions_opens_only_what_is_not_settled(run):
    text = (run[1] / "decisions.toml").read_text()
    assert len(parsed(text.encode(), "decisions.toml")) == 3
    assert "# top, MODULE-20 (U11)" in text
    assert "# top, SO16 (U8)" not in text
    assert "# top, C_0603 (C6)" not in text


def test_the_older_revision_is_held_against_in_the_terminal(run):
    assert "top against the older revision: 1 moved; 167 openings as they were (compared.csv)" in run[0].output
    assert "before" in run[0].output


def test_the_panel_is_told_and_its_extent_ordered(run):
    assert "panel of 2 × 3 boards at " in run[0].output
    extent = next(line for line in (run[1] / "order.txt").read_text().splitlines() if "Extent" in line)
    wide, high = (float(word) for word in extent.split(":")[1].split(" mm")[0].split("×"))
    one_wide, one_high = 70.97, 53.70  # the openings of one board, which the plain sheet gives
    pitch = next(line for line in run[0].output.splitlines() if line.startswith("panel of")).split("at ")[1]
    across, up = (float(word) for word in pitch.split(" mm")[0].split("×"))
    assert wide == pytest.approx(one_wide + across, abs=0.02)
    assert high == pytest.approx(one_high + 2 * up, abs=0.02)


def test_one_foil_is_not_called_the_best_of_one():
    row = FoilRow(100, 9, 0, 0, 0.9, 0.1, 0.0, 0.2)
    assert "the only one compared" in says(FoilChoice((row,), 100, (), 100, None), 500, 100, steps=False)


def test_a_rule_for_some_parts_of_a_package_changes_and_names_those(tmp_path):
    lands = [land for k in range(4) for land in chip(4.0 * k, 0, 0.96, 0.5, 0.6)]
    lands += dual(0, 12, 8, 1.27, 5.4, 1.9, 0.6)
    (tmp_path / "house.toml").write_text('[[rule]]\nparts = ["t2", "t3"]\nchip_shape = "home plate"\n')
    rules = with_rules(tmp_path / "house.toml")
    made = review(board(side(lands)), preset("ordinary"), Asked(foils_um=(100,), rules=rules)).sides[0]
    shaped = [one for one in made.proposals if one.rule == "chip-shape"]
    assert [(one.parts, one.what) for one in shaped] == [(("t2", "t3"), "home plate")]
    changed = {change.component for change in made.changes if change.proposal == shaped[0].number}
    assert changed == {"t2", "t3"}


def test_a_film_beside_its_copper_is_not_said_to_be_corrected(tmp_path):
    shutil.copytree(EXAMPLE, tmp_path / "moved")
    film = tmp_path / "moved" / "logger-top-paste.gbr"
    text = re.sub(r"X(-?\d+)(Y-?\d+D0[123])", lambda at: f"X{int(at[1]) + 100_000_000}{at[2]}", film.read_text())
    film.write_text(text)
    words = [str(tmp_path / "moved"), "-o", str(tmp_path / "out"), "--foils", "100 um", "--apply", "safe"]
    said = CliRunner().invoke(command, words, standalone_mode=False).output
    assert "paste lies 100.00 mm to the right of copper" in said
    assert "to be made once the film lies on its copper" in said
    assert "--apply safe writes them" not in said
    assert not (tmp_path / "out" / "paste-top.gbr").exists()
