"""Small made-up boards for the tests of the review: nothing here comes from a real one."""

from __future__ import annotations

import numpy as np
import shapely

from landwise.review.building import openings
from landwise.review.model import BoardInput, Hole, Openings, SideInput


def box(x: float, y: float, length: float, width: float) -> shapely.Polygon:
    """A rectangle around a middle: `length` along x."""
    return shapely.box(x - length / 2, y - width / 2, x + length / 2, y + width / 2)


def dual(
    x: float, y: float, count: int, pitch: float, span: float, length: float, width: float
) -> list[shapely.Polygon]:
    """Two facing columns of lands, `span` from middle to middle."""
    return [
        box(x + side * span / 2, y + (k - (count - 1) / 2) * pitch, length, width)
        for side in (-1, 1)
        for k in range(count)
    ]


def quad(
    x: float, y: float, count: int, pitch: float, span: float, length: float, width: float
) -> list[shapely.Polygon]:
    """Four rows of `count` lands each."""
    upright = dual(x, y, count, pitch, span, length, width)
    flat = [shapely.affinity.rotate(land, 90, origin=(x, y)) for land in upright]
    return upright + flat


def chip(x: float, y: float, span: float, length: float, width: float) -> list[shapely.Polygon]:
    """Two lands that face each other along x."""
    return [box(x - span / 2, y, length, width), box(x + span / 2, y, length, width)]


def grown(shapes: list[shapely.Polygon], by: float) -> list[shapely.Polygon]:
    """Every edge moved outwards."""
    return [shape.buffer(by, join_style="mitre") for shape in shapes]


def side(
    lands: list[shapely.Polygon], paste: list[shapely.Polygon] | None = None, mask_mm: float = 0.05, **more: object
) -> SideInput:
    """A top side: copper, mask openings around it, paste one to one unless given."""
    paste = lands if paste is None else paste
    return SideInput("top", openings(paste), openings(lands), openings(grown(lands, mask_mm)), **more)  # type: ignore[arg-type]


def board(one: SideInput, holes: Hole | None = None) -> BoardInput:
    """A board of one side."""
    return BoardInput("made up", (one,), holes)


def drilled(*places: tuple[float, float, float]) -> Hole:
    """Holes by x, y, diameter."""
    array = np.array(places)
    return Hole(array[:, 0], array[:, 1], array[:, 2])


def paste_of(shapes: list[shapely.Polygon]) -> Openings:
    """Openings of some outlines."""
    return openings(shapes)
