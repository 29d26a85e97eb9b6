"""Decisions are obeyed, rules are data, panels repeat, revisions are compared, and every film is read by others."""

from __future__ import annotations

import tempfile
import warnings
from pathlib import Path

import numpy as np
import pytest
import shapely

from landwise.assembly.lines import preset
from landwise.errors import LandwiseError
from landwise.fabdata.gerber import read_gerber
from landwise.review.building import openings
from landwise.review.comparing import compare
from landwise.review.decisions import decisions_text, parsed
from landwise.review.filmsout import films, writable
from landwise.review.foilchoice import FoilRow, choose
from landwise.review.jobs import read_board
from landwise.review.mending.rules import shipped, with_rules
from landwise.review.panelling import array_of
from landwise.review.panels import arranged, fiducial_layer, written_out
from landwise.review.reviews import Asked, review

from .boards import board, box, chip, dual, quad, side
from .test_review_films import film

LINE = preset("ordinary")


def two_parts():
    """Two leadless parts whose centre pads are printed in full."""
    lands = []
    for x in (0, 12):
        lands += [*quad(x, 0, 6, 0.5, 3.9, 0.8, 0.26), box(x, 0, 2.6, 2.6)]
    return lands


def asked(text, apply="none"):
    return Asked(foils_um=(100,), decisions=parsed(text.encode(), "decisions.toml"), apply=apply)


@pytest.mark.parametrize(
    ("text", "apply", "written"),
    [
        ("", "none", 0),
        ("", "safe", 2),
        ('[[decision]]\nanswer = "accept"\nrule = "panes"\n', "none", 2),
        ('[[decision]]\nanswer = "refuse"\nrule = "panes"\n', "all", 0),
        ('[[decision]]\nanswer = "refuse"\npackage = "leadless quad*"\n', "safe", 0),
        ('[[decision]]\nanswer = "refuse"\nopening = [12.0, 0.0]\n', "safe", 1),
        ('[[decision]]\nanswer = "refuse"\nrule = "panes"\n[[decision]]\nanswer = "accept"\npart = "t2"\n', "safe", 1),
    ],
)
def test_decisions_are_obeyed_the_later_one_first(text, apply, written):
    found = review(board(side(two_parts())), LINE, asked(text, apply)).sides[0]
    assert len(found.changes) == 2
    assert len(found.written) == written
    assert len(found.after) == 50 + 3 * written


def test_the_file_of_decisions_is_read_again():
    found = review(board(side(two_parts())), LINE, asked('[[decision]]\nanswer = "refuse"\npart = "t1"\n'))
    text = decisions_text(found.sides[0].proposals, found.asked.decisions)
    assert parsed(text.encode(), "d") == found.asked.decisions
    opened = text.replace("# [[decision]]", "[[decision]]").replace('# answer = "accept"', 'answer = "accept"')
    assert len(parsed(opened.encode(), "d")) == 1 + len(found.sides[0].proposals)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('[[decision]]\nanswer = "maybe"', "no answer"),
        ('[[decision]]\nanswer = "accept"\nrule = "magic"', "no such rule"),
        ('[[decision]]\nanswer = "accept"\nopening = [1]', "two numbers"),
        ('[[decision]]\nanswer = "accept"\nwhere = "x"', "unknown name"),
        ("[[decision", "can't be understood"),
    ],
)
def test_a_wrong_decision_is_refused(text, message):
    with pytest.raises(LandwiseError, match=message):
        parsed(text.encode(), "decisions.toml")


def test_a_user_s_rules_change_panes_leave_parts_and_shape_chips(tmp_path):
    path = tmp_path / "rules.toml"
    path.write_text(
        '[[rule]]\nkinds = ["leadless quad"]\ncentre_target = 0.5\n[[rule]]\nparts = ["t2"]\nleave = true\n'
    )
    found = review(board(side(two_parts())), LINE, Asked(foils_um=(100,), rules=with_rules(path))).sides[0]
    [change] = found.changes
    assert change.component == "t1"
    assert change.area_after_mm2 / 2.6**2 == pytest.approx(0.5, abs=0.01)
    lands = chip(0, 0, 1.6, 0.8, 0.9) + chip(6, 0, 1.6, 0.8, 0.9)
    path.write_text('[[rule]]\nkinds = ["chip"]\nchip_shape = "home plate"\n')
    found = review(board(side(lands)), LINE, Asked(foils_um=(100,), rules=with_rules(path))).sides[0]
    assert len(found.changes) == 4
    for change in found.changes:
        shape = change.after[0]
        inner = min(abs(shape.bounds[0] - (3 if change.x_mm > 3 else 0)), 9)
        assert len(shape.exterior.coords) == 6, inner  # five corners
        assert shape.within(change.before[0].buffer(1e-6))
    path.write_text("[[rule]]\nmagic = 1\n")
    with pytest.raises(LandwiseError, match="unknown name"):
        with_rules(path)
    assert shipped().rules


def test_a_change_is_dropped_where_the_part_gains_nothing():
    lands = dual(0, 0, 8, 0.65, 5.8, 1.4, 0.35)
    found = review(board(side(lands)), LINE, Asked(foils_um=(100,))).sides[0]
    assert found.proposals == ()
    for proposal in review(board(side(two_parts())), LINE, Asked(foils_um=(100,))).sides[0].proposals:
        assert proposal.defects_after <= proposal.defects_before


def test_foils_are_chosen_by_least_defects_and_near_ties_are_said():
    rng = np.random.default_rng(20)
    for _ in range(20):  # by enumeration on twenty made-up boards
        values = 10 ** rng.uniform(-3, 1, 4)
        spread = rng.uniform(0.9, 1.1, (4, 50))
        rows = [
            FoilRow(um, 1, 0, 0, 0.8, v, v, v, v, v, v, after_draws=tuple((v * s).tolist()))
            for um, v, s in zip((80, 100, 120, 150), values, spread, strict=True)
        ]
        best, equal = choose(rows, 100)
        chosen = next(row for row in rows if row.foil_um == best)
        assert chosen.after <= values.min() * 1.1 + 1e-3
        for row in rows:
            if row.foil_um != best and row.after <= values.min() + 1e-3:
                assert row.foil_um in equal


def test_an_array_drawn_one_by_one_is_recognised():
    one = [box(x, y, a, b) for x, y, a, b in ((0, 0, 1, 1), (3, 1, 0.5, 0.8), (5, 4, 0.4, 1), (2, 6, 1, 0.3))]
    one += [box(float(x), float(y), 0.6, 0.3) for x, y in np.random.default_rng(2).uniform(0, 8, (8, 2))]
    array, places = arranged(openings(one).polygon, None, "4x3 gap 2")
    again = read_gerber(written_out(openings(one).polygon, array), "panel").pads
    alone = written_out(openings(one).polygon, arranged(openings(one).polygon, None, "1x1")[0])
    assert len(again) == 12 * len(read_gerber(alone, "one").pads)
    found = array_of(openings(list(again.polygon)))
    assert found is not None
    assert (found.columns, found.rows) == (4, 3)
    assert found.pitch_x_mm == pytest.approx(array.pitch_x_mm, abs=1e-5)
    assert len(read_gerber(fiducial_layer(places), "f").pads) == 3
    for text in ("0x3", "many", "99x99"):
        with pytest.raises(LandwiseError):
            arranged(openings(one).polygon, None, text)


def test_revisions_are_compared_opening_by_opening():
    old = dual(0, 0, 8, 0.65, 5.8, 1.4, 0.35) + chip(15, 0, 1.0, 0.5, 0.6)
    new = [
        shapely.affinity.translate(old[0], 0.1, 0),
        shapely.affinity.scale(old[1], 1.2, 1.0),
        *old[2:-1],
        box(30, 0, 1, 1),
    ]
    made = {
        name: review(board(side([*old, box(30, 0, 1, 1)], paste)), LINE, Asked(foils_um=(100,)))
        for name, paste in (("old", old), ("new", new))
    }
    [told] = compare(made["new"], made["old"])
    assert sorted(one.fate for one in told.openings) == ["gone", "moved", "new", "reshaped"]
    assert told.unchanged == len(old) - 3
    [same] = compare(made["old"], made["old"])
    assert same.openings == ()


@pytest.mark.filterwarnings("ignore")
def test_both_independent_readers_accept_the_films_written(tmp_path):
    gerbonara = pytest.importorskip("gerbonara")
    parser = pytest.importorskip("pygerber.gerberx3.parser2.parser2")
    tokenizer = pytest.importorskip("pygerber.gerberx3.tokenizer.tokenizer")
    flashes = [
        (x, y, *size)
        for x in (0, 12)
        for x, y, *size in [(x + s * 1.95, (k - 2.5) * 0.5, 0.8, 0.26) for s in (-1, 1) for k in range(6)]
        + [(x + (k - 2.5) * 0.5, s * 1.95, 0.26, 0.8) for s in (-1, 1) for k in range(6)]
        + [(x, 0.0, 2.6, 2.6)]
    ]
    folder = tmp_path / "in"
    folder.mkdir()
    for name, growth, function in (
        ("b.gtp", 0.0, "Paste,Top"),
        ("b.gtl", 0.0, "Copper,L1,Top"),
        ("b.gts", 0.05, "Soldermask,Top"),
    ):
        (folder / name).write_text(film(flashes, growth, function))
    read = read_board(folder, {})
    found = writable(review(read.board, LINE, Asked(foils_um=(100,), apply="safe")), read)
    made = dict(films(found, read))
    assert set(made) == {"paste-top.gbr"}
    assert made["paste-top.gbr"].startswith(b"G04 Changed by landwise")
    array, _ = arranged(found.sides[0].after.polygon, None, "2x2")
    made["panel-top.gbr"] = written_out(found.sides[0].after.polygon, array)
    for name, content in made.items():
        own = read_gerber(content, name).pads
        path = Path(tempfile.mkdtemp(dir=tmp_path)) / name
        path.write_bytes(content)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            other = gerbonara.GerberFile.open(path)
        assert len(list(other.objects)) >= len(own)
        parser.Parser2().parse(tokenizer.Tokenizer().tokenize(content.decode()))
