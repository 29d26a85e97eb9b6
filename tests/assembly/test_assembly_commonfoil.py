"""The thickest foil that practice prints a pitch on."""

from __future__ import annotations

import pytest

from landwise.assembly.commonfoil import FORMS, practice_chips, practice_foils, thickest_in_practice
from landwise.assembly.lines import presets
from landwise.errors import InputError
from landwise.evidence import source


def test_finer_parts_bear_no_thicker_foil_and_every_row_has_its_source() -> None:
    for form in FORMS:
        thickest = [foil.thickest_um for _, foil in practice_foils()[form]]
        assert thickest == sorted(thickest)
        for _, foil in practice_foils()[form]:
            assert source(foil.source).mark
    for chip in practice_chips().values():
        assert source(chip.source).mark


def test_an_ordinary_line_prints_what_it_is_asked_for_on_its_usual_foil() -> None:
    """Rows of the line's finest pitch bear its usual foil: otherwise no ordinary board would go with it."""
    line = presets()["ordinary"]
    for form in ("gull wings", "leadless"):
        foil = thickest_in_practice(form, line.least_pitch_mm)
        assert foil is not None
        assert foil.thickest_um >= line.foil_um


@pytest.mark.parametrize(
    ("form", "pitch_mm", "thickest_um"),
    [
        ("gull wings", 0.5, 150.0),
        ("gull wings", 0.4, 130.0),
        ("gull wings", 0.35, 100.0),
        ("gull wings", 0.25, 100.0),
        ("leadless", 0.45, 125.0),
        ("balls", 0.3, 75.0),
        ("balls", 0.8, None),
        ("leadless", 0.65, None),
    ],
)
def test_a_pitch_between_two_goes_by_the_finer(form: str, pitch_mm: float, thickest_um: float | None) -> None:
    foil = thickest_in_practice(form, pitch_mm)  # type: ignore[arg-type]
    assert (None if foil is None else foil.thickest_um) == thickest_um


def test_no_pitch_is_refused() -> None:
    with pytest.raises(InputError, match="positive"):
        thickest_in_practice("balls", 0.0)
