"""Films that do not lie on each other, are negative, cut short or carry words: found and named, or refused."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from landwise.assembly.lines import preset
from landwise.errors import LandwiseError
from landwise.review.building import openings
from landwise.review.filmsout import films, writable
from landwise.review.jobs import read_board
from landwise.review.reviews import Asked, review
from landwise.review.seating import moved, seat_of

from .boards import box

RNG = np.random.default_rng(3)
LANDS = [
    (float(x), float(y), *((0.6, 0.9), (1.2, 0.4), (0.8, 0.8))[int(RNG.integers(3))])
    for x, y in zip(np.arange(40) * 1.7 % 37, RNG.permutation(40) * 0.9, strict=True)
]


def film(flashes, growth=0.0, function="", *, unit="MM", head="", end="M02*", more=""):
    """A Gerber layer of rectangles."""
    sizes = sorted({(a, b) for _, _, a, b in flashes})
    lines = [head, "%FSLAX46Y46*%", f"%MO{unit}*%", f"%TF.FileFunction,{function}*%" if function else ""]
    lines += [f"%ADD{10 + k}R,{a + 2 * growth:.4f}X{b + 2 * growth:.4f}*%" for k, (a, b) in enumerate(sizes)]
    for k, size in enumerate(sizes):
        lines.append(f"D{10 + k}*")
        lines += [f"X{round(x * 1e6)}Y{round(y * 1e6)}D03*" for x, y, *own in flashes if tuple(own) == size]
    return "\n".join([line for line in [*lines, more, end] if line] + [""])


def job(folder, paste=None, lands=LANDS, **more):
    """A folder of three films; `paste` a text, or the lands' own."""
    folder.mkdir(exist_ok=True)
    (folder / "b.gtp").write_text(paste or film(lands, function="Paste,Top", **more), encoding="utf-8")
    (folder / "b.gtl").write_text(film(lands, function="Copper,L1,Top"))
    (folder / "b.gts").write_text(film(lands, 0.05, function="Soldermask,Top"))
    return folder


def turned(look, x, y, a, b):
    """A land mirrored or turned about the board's origin."""
    return {
        "mirrored left to right": (-x, y, a, b),
        "turned by 90°": (-y, x, b, a),
        "turned by 180°": (-x, -y, a, b),
        "mirrored top to bottom": (x, -y, a, b),
    }[look]


@pytest.mark.parametrize(
    ("paste", "says"),
    [
        (film([(x + 100, y, a, b) for x, y, a, b in LANDS]), "100.00 mm to the right of copper"),
        (film([(x, y - 7.5, a, b) for x, y, a, b in LANDS]), "7.50 mm below copper"),
        (film([(x / 25.4, y / 25.4, a / 25.4, b / 25.4) for x, y, a, b in LANDS]), "inches read as millimetres"),
        (film(LANDS, unit="IN"), "millimetres read as inches"),
        (film([(x / 10, y / 10, a / 10, b / 10) for x, y, a, b in LANDS]), "too small by ten"),
        *(
            (film([turned(look, *land) for land in LANDS]), look)
            for look in ("mirrored left to right", "turned by 90°", "turned by 180°", "mirrored top to bottom")
        ),
    ],
)
def test_a_film_that_lies_elsewhere_is_named_and_no_layer_is_written(tmp_path, paste, says):
    read = read_board(job(tmp_path / "in", paste), {})
    found = writable(review(read.board, preset("ordinary"), Asked(foils_um=(100,), apply="all")), read)
    [said] = [finding.says for finding in found.findings if finding.key == "registration"]
    assert says in said
    assert found.verdict == "fails"
    assert films(found, read) == {}
    assert any("no corrected layer is written" in note for note in found.notes)
    # Judged as if it lay on them: no opening is called one without a land.
    assert not [finding for finding in found.findings if finding.key == "extra"]


@pytest.mark.parametrize("seed", range(6))
def test_any_move_is_found_again(seed):
    rng = np.random.default_rng(seed)
    lands = openings([box(*rng.uniform(0, 80, 2), *rng.uniform(0.3, 2, 2)) for _ in range(60)])
    angle, mirror = int(rng.integers(4)), bool(rng.integers(2))
    turn = np.array([[0, -1], [1, 0]]) if angle % 2 else np.eye(2)
    matrix = turn @ np.diag([-1 if mirror else 1, 1]) * float(rng.choice([1, 25.4, 0.1]))
    shift = rng.uniform(-90, 90, 2)
    shapes = shapely.transform(lands.polygon, lambda xy: xy @ matrix.T + shift)
    paste = openings(list(shapes))
    seat = seat_of(paste, lands, None)
    assert seat is not None
    again = moved(paste, seat)
    away = np.hypot(again.x_mm - lands.x_mm, again.y_mm - lands.y_mm)
    assert np.quantile(away, 0.9) < 0.02


def test_films_of_two_boards_are_not_laid_on_each_other(tmp_path):
    other = [(float(x), float(y), 0.5, 0.5) for x, y in RNG.uniform(0, 40, (40, 2))]
    read = read_board(job(tmp_path / "in", film(other)), {})
    assert read.board.sides[0].copper is None
    assert any("different boards" in note for note in read.board.notes)


def test_two_boards_in_one_folder_are_refused_until_told(tmp_path):
    folder = job(tmp_path / "in")
    for name, growth in (("other.gtp", 0.0), ("other.gtl", 0.0), ("other.gts", 0.05)):
        (folder / name).write_text(
            film(
                LANDS[:20],
                growth,
                function={"gtp": "Paste,Top", "gtl": "Copper,L1,Top", "gts": "Soldermask,Top"}[name[-3:]],
            )
        )
    with pytest.raises(LandwiseError, match="two boards"):
        read_board(folder, {})
    told = {"paste-top": "other.gtp", "copper-top": "other.gtl", "mask-top": "other.gts"}
    assert len(read_board(folder, told).board.sides[0].paste) == 20


def test_negative_films_are_refused(tmp_path):
    negative = film(LANDS, head="%TF.FilePolarity,Negative*%", function="Paste,Top")
    with pytest.raises(LandwiseError, match="negative paste film"):
        read_board(job(tmp_path / "a", negative), {})
    flashes = film(LANDS).split("%MOMM*%")[1].replace("M02*", "")
    inverted = (
        "%FSLAX46Y46*%%MOMM*%%LPD*%G36*X-5000000Y-5000000D02*X45000000D01*Y45000000D01*X-5000000D01*"
        "Y-5000000D01*G37*%LPC*%" + flashes + "M02*"
    )
    with pytest.raises(LandwiseError, match="negative paste film"):
        read_board(job(tmp_path / "b", inverted), {})


def test_a_mask_that_draws_the_mask_is_turned_over(tmp_path):
    folder = job(tmp_path / "in")
    body = film(LANDS, 0.05).split("%MOMM*%")[1].replace("M02*", "")
    (folder / "b.gts").write_text(
        "%FSLAX46Y46*%%MOMM*%%TF.FileFunction,Soldermask,Top*%%LPD*%G36*X-5000000Y-5000000D02*X45000000D01*"
        "Y45000000D01*X-5000000D01*Y-5000000D01*G37*%LPC*%" + body + "M02*"
    )
    read = read_board(folder, {})
    assert any("draws the mask itself" in note for note in read.board.notes)
    assert (
        review(read.board, preset("ordinary"), Asked(foils_um=(100,))).sides[0].given.lands.basis == "copper and mask"
    )


def test_a_paste_film_without_its_end_is_refused(tmp_path):
    with pytest.raises(LandwiseError, match="cut short"):
        read_board(job(tmp_path / "in", film(LANDS, end="")), {})
    half = film(LANDS)
    with pytest.raises(LandwiseError, match="ends within a statement"):
        read_board(job(tmp_path / "more", half[: len(half) // 2].rstrip("*\n")), {})


def test_a_mark_of_byte_order_is_passed_over(tmp_path):
    read = read_board(job(tmp_path / "in", "\ufeff" + film(LANDS, function="Paste,Top")), {})
    assert len(read.board.sides[0].paste) == len(LANDS)


def test_words_on_the_film_are_no_openings(tmp_path):
    label = "%ADD90C,0.2*%D90*X60000000Y0D02*X60000000Y3000000D01*X62000000Y0D02*X62000000Y3000000D01*"
    read = read_board(job(tmp_path / "in", film(LANDS, function="Paste,Top", more=label)), {})
    assert len(read.board.sides[0].paste) == len(LANDS)
    assert any("label" in note for note in read.board.notes)


def test_holes_that_do_not_reach_the_side_are_left_out(tmp_path):
    folder = job(tmp_path / "in")
    x, y, _, _ = LANDS[0]
    hole = f"METRIC\nT1C0.300\n%\nT1\nX{x:.3f}Y{y:.3f}\nM30\n"
    for first, last in ((1, 2), (2, 3), (1, 4)):
        head = f"M48\n; #@! TF.FileFunction,Plated,{first},{last},Blind\n"
        (folder / f"d{first}{last}.drl").write_text(head + hole)
    holes = read_board(folder, {}).board.sides[0].holes
    assert holes is not None
    assert len(holes.x_mm) == 2
