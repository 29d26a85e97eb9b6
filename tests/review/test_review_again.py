"""A board reviewed again, as with other answers, works no part's level anew and finds the same to the last bit."""

from __future__ import annotations

import pytest

from landwise.assembly.lines import preset
from landwise.memory import forget
from landwise.review import levels
from landwise.review.model import BoardInput
from landwise.review.reviewfile import review_text
from landwise.review.reviews import Asked, review

from .boards import chip, dual, side

pytestmark = pytest.mark.usefixtures("own_disk")


def reviewed(shift_mm=0.0):
    lands = [*dual(0, 0, 4, 0.5, 5.8, 1.4, 0.28), *chip(12 + shift_mm, 0, 0.96, 0.5, 0.6 + shift_mm)]
    return review_text(review(BoardInput("made up", (side(lands),)), preset("ordinary"), Asked(foils_um=(100, 120))))


def test_levels_are_read_back_from_disk(monkeypatch):
    first = reviewed()
    forget()  # as the next run of a command would
    with monkeypatch.context() as patched:
        patched.setattr(levels, "part_model", lambda *_: pytest.fail("worked anew"))
        assert reviewed() == first


def test_other_lands_have_levels_of_their_own(monkeypatch):
    reviewed()
    asked = []
    real = levels.part_model
    monkeypatch.setattr(levels, "part_model", lambda *given: asked.append(given) or real(*given))
    reviewed(shift_mm=0.05)
    assert asked
