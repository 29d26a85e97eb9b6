"""How many boards a panel holds: rows of images with gaps between them, inside a border.

Own arithmetic. Along one edge of the usable panel, n images of length a with a gap g between neighbours take
n·a + (n − 1)·g, so that n = ⌊(U + g)/(a + g)⌋. Images lie all one way, or all turned; where a panel may mix both, some
rows lie one way and the rest turned, with one straight cut between them. Layouts that no straight cut parts in two
(pinwheels) are not tried, so a count is what can surely be had and no upper bound.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from landwise.errors import InputError

ROUNDING = 1e-9  # of a count: a board that fits exactly is not lost to the last binary digit


@dataclass(frozen=True)
class Panel:
    """A panel as boards lie on it.

    Parameters
    ----------
    length_mm, width_mm : float
        Outside.
    border_mm : float
        Kept free along every edge.
    strip_mm : float
        Kept free beside the border along both longer edges: tooling holes and fiducials.
    gap_mm : float
        Between neighbouring images, and none between an image and the border.
    mixed : bool
        Whether some rows may lie turned against the others.
    """

    length_mm: float
    width_mm: float
    border_mm: float = 0.0
    strip_mm: float = 0.0
    gap_mm: float = 0.0
    mixed: bool = False

    @property
    def usable_mm(self) -> tuple[float, float]:
        """The room for images: along the panel's length and along its width."""
        along, across = self.length_mm - 2 * self.border_mm, self.width_mm - 2 * self.border_mm
        if self.length_mm >= self.width_mm:
            return along, across - 2 * self.strip_mm
        return along - 2 * self.strip_mm, across

    @property
    def area_mm2(self) -> float:
        """Of the whole panel, border and all."""
        return self.length_mm * self.width_mm


@dataclass(frozen=True)
class BoardSize:
    """The largest board of which a panel holds so many."""

    images: int
    length_mm: float
    width_mm: float

    @property
    def area_mm2(self) -> float:
        """Of one board."""
        return self.length_mm * self.width_mm


def in_a_row(room_mm: float, board_mm: float, gap_mm: float) -> int:
    """How many boards lie in a row.

    >>> in_a_row(100.0, 30.0, 2.0), in_a_row(94.0, 30.0, 2.0), in_a_row(93.9, 30.0, 2.0)
    (3, 3, 2)
    """
    if room_mm < board_mm:
        # One that fits to the last digit still fits.
        return int(room_mm >= board_mm * (1 - ROUNDING))
    return math.floor((room_mm + gap_mm) / (board_mm + gap_mm) + ROUNDING)


def images(panel: Panel, length_mm: float, width_mm: float) -> int:
    """How many boards of a size one panel holds.

    Parameters
    ----------
    panel : Panel
    length_mm, width_mm : float
        Of one board.

    Raises
    ------
    InputError
        For a board without a length or a width.

    Examples
    --------
    A panel of 100 × 80 mm with a border of 5 mm leaves 90 × 70 mm. Boards of 40 × 30 mm with a gap of 2 mm lie two by
    two (40 + 2 + 40 = 82, 30 + 2 + 30 = 62); turned, two by one.

    >>> images(Panel(100, 80, border_mm=5, gap_mm=2), 40, 30)
    4

    On 62 × 104 mm boards of 40 × 20 mm lie three by two when turned; mixed, five lie one way in a column of 40 mm and
    two turned beside them in the 22 mm that are left:

    >>> images(Panel(62, 104), 40, 20), images(Panel(62, 104, mixed=True), 40, 20)
    (6, 7)
    """
    if min(length_mm, width_mm) <= 0:
        raise InputError("a board needs a length and a width", found=f"{length_mm:g} × {width_mm:g} mm")
    along, across = panel.usable_mm
    if not panel.mixed:
        return max(_block(along, across, a, b, panel.gap_mm) for a, b in ((length_mm, width_mm), (width_mm, length_mm)))
    return max(
        _mixed(*room, a, b, panel.gap_mm)
        for room in ((along, across), (across, along))
        for a, b in ((length_mm, width_mm), (width_mm, length_mm))
    )


def _block(along: float, across: float, a: float, b: float, gap: float) -> int:
    return in_a_row(along, a, gap) * in_a_row(across, b, gap)


def _mixed(along: float, across: float, a: float, b: float, gap: float) -> int:
    """Rows with `a` along, one over the other, and turned ones in what is left: the most over all numbers of rows."""
    rows, own = in_a_row(across, b, gap), in_a_row(along, a, gap)
    return max(k * own + _block(along, across - k * (b + gap), b, a, gap) for k in range(rows + 1))


def sizes(
    panel: Panel, length_mm: float, width_mm: float, areas_mm2: tuple[float, float], side: str
) -> list[BoardSize]:
    """Every step of images per panel while one side of a board gives way.

    Parameters
    ----------
    panel : Panel
    length_mm, width_mm : float
        Of the board as it is.
    areas_mm2 : (float, float)
        Least and largest area that the board may come to have. [mm²]
    side : "length", "width" or "either"
        Which side gives way; of either, the one that holds more area for as many images.

    Returns
    -------
    list of BoardSize
        Largest board first; each holds more images than the one before. Empty where not even the smallest fits.

    Examples
    --------
    >>> for size in sizes(Panel(200, 100), 40, 30, (1100, 1300), "width"):
    ...     print(size.images, f"{size.length_mm:g} × {size.width_mm:.4g} mm")
    15 40 × 32.5 mm
    """
    least, most = areas_mm2
    best: dict[int, BoardSize] = {}
    for fixed, held in (("width", length_mm), ("length", width_mm)):
        if side not in (fixed, "either"):
            continue
        for free in _steps(panel, held, least / held, most / held):
            long, wide = (held, free) if fixed == "width" else (free, held)
            count = images(panel, long, wide)
            if count and (count not in best or long * wide > best[count].area_mm2):
                best[count] = BoardSize(count, long, wide)
    found: list[BoardSize] = []
    for count in sorted(best, reverse=True):  # the most images first: a size that is no larger than one of more is none
        if not found or best[count].area_mm2 > found[-1].area_mm2 * (1 + ROUNDING):
            found.append(best[count])
    return found[::-1]


def _steps(panel: Panel, held_mm: float, least_mm: float, most_mm: float) -> list[float]:
    """Every length between two at which a count may change while the other side is held; the largest is one of them.

    One more than k boards of the free side along an edge fit from (U + g)/k − g down, less what rows of the held side
    take of that edge where rows may mix.
    """
    gap, found = panel.gap_mm, {most_mm}
    for room in panel.usable_mm:
        across = in_a_row(room, held_mm, gap) if panel.mixed else 0
        for taken in range(across + 1):
            left = room - taken * (held_mm + gap) + gap
            if left <= 0:
                continue
            first, last = math.floor(left / (most_mm + gap)), math.ceil(left / (max(least_mm, 1e-6) + gap))
            found |= {left / k - gap for k in range(max(1, first), last + 1)}
    return sorted(one for one in found if least_mm * (1 - ROUNDING) <= one <= most_mm * (1 + ROUNDING))


def coarser(found: Sequence[BoardSize], most: int, kept: int) -> list[BoardSize]:
    """No more than so many of the sizes, the largest and one by its place among them always; evenly taken.

    A board between two that are left counts as the larger one: dearer than it is, never cheaper.

    Examples
    --------
    >>> [one.images for one in coarser([BoardSize(n, 100 / n, 1) for n in range(1, 12)], 4, 3)]
    [1, 4, 6, 11]
    """
    if len(found) <= most:
        return list(found)
    last = len(found) - 1
    even = {round(n * last / max(1, most - 2)) for n in range(max(1, most - 1))}
    return [found[n] for n in sorted(even | {0, kept})]


def panels_a_board(run: int, each: int) -> float:
    """Panels that one board of a run takes, whole panels bought.

    >>> panels_a_board(1000, 12), panels_a_board(5, 12), panels_a_board(1000, 10)
    (0.084, 0.2, 0.1)
    """
    return math.ceil(run / each) / run
