"""Maps of the board: right places, right steps, readable; and the report's page that carries them."""

from __future__ import annotations

import numpy as np
import pytest

from landwise.judging.study import run_study
from landwise.sheets.boardmaps import Bound, Field, Placed, _above, _levels, board_map, map_picture
from landwise.sheets.clashes import lines_through_texts, texts_clash
from landwise.sheets.servicepage import heat_svg, service_page, vibration_svg
from landwise.study.file import study_from

X, Y = np.linspace(0, 90, 19), np.linspace(0, 60, 13)
HILL = Field(X, Y, np.outer(np.sin(np.pi * Y / 60), np.sin(np.pi * X / 90)), "", "a hill")
STUDY = {
    "board": {"length": "90 mm", "width": "60 mm", "layers": 4},
    "use": {"random": [["20 Hz", "0.5 g2/Hz"], ["2000 Hz", "0.5 g2/Hz"]], "vibrated": "100 h", "shock": "100 g"},
    "part": [
        {
            "refs": ["U1", "U2"],
            "function": "octal bus transceiver",
            "number": "245",
            "family": "LVC",
            "terminals": 20,
            "package": "SO-20W",
            "frequency": "20 MHz",
            "options": [{"outline": "SO-20W"}, {"outline": "TSSOP-20"}],
            "at": {"U1": ["45 mm", "30 mm"], "U2": ["15 mm", "15 mm"]},
        }
    ],
}


def test_the_area_above_a_level_is_that_of_the_field() -> None:
    x, y = np.linspace(0, 90, 181), np.linspace(0, 60, 121)
    cone = np.hypot(*np.meshgrid(x - 45, y - 30))
    shape = _above(x, y, 25.0 - cone, 0.0)
    assert shape.area == pytest.approx(np.pi * 25**2, rel=2e-3)
    assert _above(x, y, -cone - 1.0, 0.0) is None
    assert _above(x, y, cone + 1.0, 0.0).area == pytest.approx(90 * 60)


def test_steps_are_round_and_hold_the_field() -> None:
    for low, high in ((0.0, 1.3), (61.2, 66.1), (-3.0, 8000.0)):
        levels = _levels(np.array([low, high]))
        assert levels[0] <= low
        assert levels[-1] >= high
        assert 3 <= len(levels) <= 12
    assert _levels(np.array([5.0, 5.0])) == [5.0, 5.0]


def test_a_map_is_to_scale_and_its_words_are_clear() -> None:
    parts = [Placed("U1", 45, 30, 10, 8), Placed("U22", 20, 50, 2, 2)]
    picture, scale = map_picture(HILL, (90, 60), limit=Bound(0.7, "too much"), screws=[(4, 4)], parts=parts)
    assert scale == 1.0
    assert texts_clash(picture) == []
    assert lines_through_texts(picture) == []
    assert any(text.text.startswith("hatched") for text in picture.texts)
    board = picture.marks[0].box
    assert board == (0, 0, 90 * scale, 60 * scale)


def test_a_map_is_the_same_each_time_and_says_what_it_shows() -> None:
    one, two = (board_map(HILL, (90, 60), title="a map", prefix="m", limit=Bound(2.0, "too much")) for _ in range(2))
    assert one == two
    assert "0 to 1" in one
    assert "nowhere reached" in one


def test_the_page_shows_maps_table_and_what_presses() -> None:
    result = run_study(study_from(STUDY))
    page = service_page(result)
    assert page is not None
    assert page["rows"][0][0] == "U1 +1"
    assert "Hz" in page["says"]
    shake, warm = vibration_svg(result), heat_svg(result)
    assert shake is not None
    assert warm is not None
    for drawn in (shake, warm):
        assert "U1" in drawn
        assert "U2" in drawn


def test_without_levels_places_or_size_the_page_says_what_is_missing() -> None:
    bare = {**STUDY, "use": {}, "part": [{**STUDY["part"][0], "at": {}}]}  # type: ignore[index]
    result = run_study(study_from(bare))
    assert vibration_svg(result) is None
    assert heat_svg(result) is None
    page = service_page(result)
    assert page is not None
    assert all(note.startswith("No map") for note in page["maps"])


def test_a_board_without_a_size_has_a_page_and_no_maps() -> None:
    result = run_study(study_from({**STUDY, "board": {}, "use": {}}))
    assert service_page(result) is not None
    assert vibration_svg(result) is None
    assert heat_svg(result) is None


def test_hazard_is_said_on_the_page() -> None:
    page = service_page(run_study(study_from({**STUDY, "use": {"voltage": "60 V"}})))
    assert page is not None
    assert "licensed engineer" in page["hazard"]
