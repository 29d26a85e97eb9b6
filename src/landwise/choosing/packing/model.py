"""What must lie on a board, where it may lie, and the answer whether it does.

All lengths are whole micrometres, so that "touches" and "overlaps" are told apart without rounding. The board's
lower left corner is the origin; x runs along its length, y along its width.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from landwise.errors import InputError

Verdict = Literal["fits", "does not fit", "not shown"]
Foil = int  # number of the foil that prints a part; NO_PRINT where nothing is printed
NO_PRINT: Foil = -1
TOP, BOTTOM = 0, 1
SIDE_NAMES = ("top", "bottom")


@dataclass(frozen=True)
class Rect:
    """An upright rectangle by its lower left and upper right corner. [µm]"""

    x1: int
    y1: int
    x2: int
    y2: int

    @property
    def area(self) -> int:
        """Its area. [µm²]"""
        return (self.x2 - self.x1) * (self.y2 - self.y1)

    def grown(self, by: int) -> Rect:
        """The same with a margin all round."""
        return Rect(self.x1 - by, self.y1 - by, self.x2 + by, self.y2 + by)

    def meets(self, other: Rect) -> bool:
        """Whether the insides overlap; touching edges do not.

        >>> Rect(0, 0, 2, 2).meets(Rect(2, 0, 4, 2)), Rect(0, 0, 2, 2).meets(Rect(1, 1, 4, 2))
        (False, True)
        """
        return self.x1 < other.x2 and other.x1 < self.x2 and self.y1 < other.y2 and other.y1 < self.y2

    def within(self, other: Rect) -> Rect | None:
        """What of it lies inside another; None for nothing."""
        cut = Rect(max(self.x1, other.x1), max(self.y1, other.y1), min(self.x2, other.x2), min(self.y2, other.y2))
        return cut if cut.x1 < cut.x2 and cut.y1 < cut.y2 else None


@dataclass(frozen=True)
class Item:
    """A courtyard or a test land that needs a place.

    Parameters
    ----------
    name : str
        Reference.
    length, width : int
        Edges along x and y as drawn; a quarter turn is allowed. [µm]
    foil : int
        Which foil prints it, as numbered in `Room.gaps`; NO_PRINT for none.
    through : bool
        Drilled: takes its place on both sides.
    kind : str
        "part" or "test land".
    says : str
        What it is, such as the outline.

    Raises
    ------
    InputError
        For an edge that isn't positive.
    """

    name: str
    length: int
    width: int
    foil: Foil = 0
    through: bool = False
    kind: Literal["part", "test land"] = "part"
    says: str = ""

    def __post_init__(self) -> None:
        if self.length <= 0 or self.width <= 0:
            raise InputError(
                "a courtyard needs two positive edges", place=self.name, found=f"{self.length} by {self.width} µm"
            )

    @property
    def area(self) -> int:
        """Its area. [µm²]"""
        return self.length * self.width

    def sizes(self) -> tuple[tuple[int, int], ...]:
        """Its extent along x and y, as drawn and turned; a square only once."""
        drawn = (self.length, self.width)
        return (drawn,) if self.length == self.width else (drawn, drawn[::-1])


@dataclass(frozen=True)
class Keepout:
    """A rectangle no courtyard may enter, on the sides it names."""

    name: str
    rect: Rect
    sides: tuple[int, ...] = (TOP, BOTTOM)


@dataclass(frozen=True)
class Room:
    """Where courtyards may lie.

    Parameters
    ----------
    length, width : int
        The board. [µm]
    edge : int
        Distance that courtyards keep from the board's edge. [µm]
    keepouts : tuple of Keepout
    sides : int
        1 or 2: sides that carry parts.
    reserved : int
        Area for all else on the board, over all its sides. [µm²]
    gaps : tuple of (foil, foil, distance)
        Distance between courtyards printed through different foils: the clear margin of the deeper step. A pair
        that isn't named needs none. [µm]

    Raises
    ------
    InputError
        If the clearance leaves no board, a keep-out lies outside the board, or a number is negative.
    """

    length: int
    width: int
    edge: int = 0
    keepouts: tuple[Keepout, ...] = ()
    sides: int = 1
    reserved: int = 0
    gaps: tuple[tuple[Foil, Foil, int], ...] = ()

    def __post_init__(self) -> None:
        if self.sides not in (1, 2):
            raise InputError("a board has one or two sides", found=str(self.sides), expected="1 or 2")
        if self.edge < 0 or self.reserved < 0 or any(gap < 0 for _, _, gap in self.gaps):
            raise InputError("clearance, reserved area and gaps can't be negative")
        if 2 * self.edge >= min(self.length, self.width):
            raise InputError(
                "the clearance from the edge leaves no board",
                found=f"{self.edge / 1000:g} mm on {self.length / 1000:g} by {self.width / 1000:g} mm",
                expected="less than half the shorter edge",
            )
        for keepout in self.keepouts:
            if keepout.rect.within(self.board) != keepout.rect:
                raise InputError("a keep-out that is empty or leaves the board", place=keepout.name)

    @cached_property
    def board(self) -> Rect:
        """The whole board."""
        return Rect(0, 0, self.length, self.width)

    @cached_property
    def inside(self) -> Rect:
        """The board without the clearance at its edge."""
        return self.board.grown(-self.edge)

    def blocked(self, side: int) -> tuple[Rect, ...]:
        """Keep-outs of one side, cut to the inside."""
        cut = (keepout.rect.within(self.inside) for keepout in self.keepouts if side in keepout.sides)
        return tuple(rect for rect in cut if rect is not None)

    def gap(self, one: Foil, other: Foil) -> int:
        """Distance that two courtyards keep. [µm]"""
        return self._gap_of.get((one, other), 0)

    @cached_property
    def _gap_of(self) -> dict[tuple[Foil, Foil], int]:
        return {pair: gap for one, other, gap in self.gaps for pair in ((one, other), (other, one))}


@dataclass(frozen=True)
class Placed:
    """An item in its place; `side` is the one its body is on."""

    item: Item
    rect: Rect
    side: int = TOP

    @property
    def turned(self) -> bool:
        """Whether it stands a quarter turn from how it was given."""
        return (self.rect.x2 - self.rect.x1, self.rect.y2 - self.rect.y1) != (self.item.length, self.item.width)


@dataclass(frozen=True)
class Strip:
    """A stretch of one side kept free for all else; what keep-outs take of it doesn't count."""

    rect: Rect
    side: int


@dataclass(frozen=True)
class Answer:
    """Whether all items lie on the board.

    Parameters
    ----------
    verdict : str
        "fits" comes with a placement that passed `faults`; "does not fit" is proven; "not shown" is neither.
    why : str
        The proof, or how far the search came.
    placement : tuple of Placed
        All items where they fit; the best attempt otherwise, which may be empty.
    left_out : tuple of Item
        What the best attempt could not place.
    strips : tuple of Strip
        Where the reserved area is.
    share : float
        Area of all items and the reserved area over what the board offers.
    trials, nodes : int
        Attempts of the packer; branches of the exact search.
    """

    verdict: Verdict
    why: str
    placement: tuple[Placed, ...] = ()
    left_out: tuple[Item, ...] = ()
    strips: tuple[Strip, ...] = ()
    share: float = 0.0
    trials: int = 0
    nodes: int = 0


def free_area(rects: tuple[Rect, ...], inside: Rect) -> int:
    """Area of `inside` that none of the rectangles covers. [µm²]

    >>> free_area((Rect(0, 0, 2, 2), Rect(1, 1, 3, 3)), Rect(0, 0, 4, 4))
    9
    """
    return sum(piece.area for piece in free_pieces(rects, inside))


def free_pieces(rects: tuple[Rect, ...], inside: Rect) -> tuple[Rect, ...]:
    """The uncovered part of `inside`, cut into rectangles that don't overlap."""
    pieces = [inside]
    for rect in rects:
        pieces = [part for piece in pieces for part in _cut(piece, rect)]
    return tuple(pieces)


def covered_pieces(rects: tuple[Rect, ...], inside: Rect) -> tuple[Rect, ...]:
    """The covered part of `inside`, cut into rectangles that don't overlap."""
    found: list[Rect] = []
    for number, rect in enumerate(rects):
        cut = rect.within(inside)
        if cut is not None:
            found += free_pieces(rects[:number], cut)
    return tuple(found)


def _cut(piece: Rect, rect: Rect) -> list[Rect]:
    hole = rect.within(piece)
    if hole is None:
        return [piece]
    sides = (
        Rect(piece.x1, piece.y1, hole.x1, piece.y2),
        Rect(hole.x2, piece.y1, piece.x2, piece.y2),
        Rect(hole.x1, piece.y1, hole.x2, hole.y1),
        Rect(hole.x1, hole.y2, hole.x2, piece.y2),
    )
    return [side for side in sides if side.x1 < side.x2 and side.y1 < side.y2]
