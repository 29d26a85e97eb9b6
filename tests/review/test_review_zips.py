"""Zips made to harm or by mistake: refused in one clear message, nothing unpacked endlessly."""

from __future__ import annotations

import zipfile

import pytest

from landwise.errors import LandwiseError
from landwise.review.jobs import read_board

from .test_review_films import LANDS, film


def packed(path, members, how=zipfile.ZIP_DEFLATED):
    """A zip of these names and texts."""
    with zipfile.ZipFile(path, "w", how) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return path


def films(stem="b", lands=LANDS):
    """Paste, copper and mask of one made-up board."""
    return {
        f"{stem}.gtp": film(lands, function="Paste,Top"),
        f"{stem}.gtl": film(lands, function="Copper,L1,Top"),
        f"{stem}.gts": film(lands, 0.05, function="Soldermask,Top"),
    }


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"big.gbr": b"*" * 20_000_000}, "packed tighter than any board"),
        ({"../../b.gko": b"M02*"}, "leads out of it"),
        ({"C:\\b.gko": b"M02*"}, "leads out of it"),
        ({f"{k}.gbr": b"M02*" for k in range(700)}, "too many files"),
        (films("other", LANDS[:20]), "two boards"),
    ],
)
def test_a_hostile_zip_is_refused(tmp_path, more, says):
    with pytest.raises(LandwiseError, match=says):
        read_board(packed(tmp_path / "b.zip", {**films(), **more}), {})


def test_a_damaged_member_and_a_cut_zip_are_refused(tmp_path):
    whole = packed(tmp_path / "b.zip", films(), zipfile.ZIP_STORED).read_bytes()
    at = whole.index(b"%FSLAX46Y46") + 40
    (tmp_path / "spoiled.zip").write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
    with pytest.raises(LandwiseError, match="the zip can't be opened"):
        read_board(tmp_path / "spoiled.zip", {})
    (tmp_path / "cut.zip").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(LandwiseError):
        read_board(tmp_path / "cut.zip", {})


def test_a_zip_within_the_zip_is_left_closed_and_said(tmp_path):
    inner = packed(tmp_path / "inner.zip", {"x.gtp": "M02*"}).read_bytes()
    read = read_board(packed(tmp_path / "b.zip", {**films(), "more/inner.zip": inner}), {})
    assert any("inner.zip: a zip or a link within the zip is not opened" in note for note in read.board.notes)
    assert len(read.board.sides[0].paste) == len(LANDS)
