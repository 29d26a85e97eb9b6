"""Hand-made land patterns, so that these tests know nothing of the catalogue."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from landwise.lands.model import Land, LandPattern
from landwise.shapes import Placed, Shape, rectangle


@pytest.fixture
def two_rows() -> Callable[..., LandPattern]:
    """Two rows of lands of one size, 1:1, with an exposed pad between them if asked."""

    def make(
        length: float, width: float, pitch: float, *, each: int = 3, rows: float = 0.9, pad: Shape | None = None
    ) -> LandPattern:
        lands = []
        for k in range(2 * each):
            side, place = divmod(k, each)
            placed = Placed(
                rectangle(length, width),
                rows / 2 if side else -rows / 2,
                (place - (each - 1) / 2) * pitch,
                0.0 if side else 180.0,
            )
            lands.append(Land(str(k + 1), placed, placed, placed))
        if pad is not None:
            middle = Placed(pad)
            lands.append(Land("EP", middle, middle, middle))
        return LandPattern("made by hand", "published", "nominal", tuple(lands), (3.0, 3.0), pitch - width, 0.0)

    return make
