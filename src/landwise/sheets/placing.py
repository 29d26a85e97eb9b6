"""The packing check drawn to scale: the board, what is kept free of it, and each part on its lands."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from landwise.access.probing import DEFAULT_PROFILE, PROFILES
from landwise.board.placing import UM, Placing
from landwise.choosing.packing import BOTTOM, Placed, Rect
from landwise.judging.results import OptionResult
from landwise.quantities import some_of
from landwise.sheets.dimensions import Dimensioned
from landwise.sheets.lettering import line_mm, width_mm, wrapped
from landwise.sheets.look import (
    BODY,
    COURTYARD,
    FINE,
    FINE_DASHED,
    HAIR,
    LIGHT,
    MM_PER_PT,
    NARROW,
    OUTLINE,
    SMALL,
    THIN,
    Stroke,
    Theme,
)
from landwise.sheets.marks import mm_text, scale_text, thinned
from landwise.sheets.scatterchart import place_labels
from landwise.sheets.svg import Box, Disc, Many, Mark, Picture, Text, joined, points, rectangle, write_svg

PAGE_MM = (170.0, 205.0)  # room for the picture on a page, which is 172 wide with its edge
TRACKS_MM = 9.0  # of it for the dimensions
BETWEEN_MM = 12.0  # from one side to the next
SCALES = (10.0, 8.0, 6.0, 5.0, 4.0, 3.0, 2.5, 2.0, 1.8, 1.6, 1.4, 1.2, 1.0, 0.8, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 0.05)
CLEARANCE = Stroke("graphite", FINE, FINE_DASHED)
ZONE = Stroke("slate", NARROW, FINE_DASHED)
MOST_LABELS = 60  # references set beside small courtyards; beyond it they would hide the drawing
DASHED_FROM_MM = 12.0  # shorter courtyards would show no more than a dash or two on an edge
FIGURE_MM = SMALL * MM_PER_PT
SIDE_SAYS = ("top side", "bottom side, seen from above through the board")


def placing_svg(placing: Placing, prefix: str = "placing", theme: Theme = LIGHT) -> str:
    """The placement that was found, or the best attempt, true to the scale it names."""
    picture, scale = placing_picture(placing)
    x1, y1, x2, y2 = picture.box
    return write_svg(
        picture,
        (min(x1, 0.0) - 1, y1 - 1, max(x2, PAGE_MM[0]) + 1, y2 + 1),
        title=f"a packing check, not a layout, {scale_text(scale)}",
        description=placing.says,
        prefix=prefix,
        theme=theme,
    )


def placing_picture(placing: Placing) -> tuple[Picture, float]:
    """The marks of `placing_svg`, and the scale."""
    room = placing.room
    length, width = room.length / UM, room.width / UM
    high = (PAGE_MM[1] - TRACKS_MM - (room.sides - 1) * BETWEEN_MM) / room.sides
    wide = PAGE_MM[0] - TRACKS_MM
    scale = next((s for s in SCALES if length * s <= wide and width * s <= high), SCALES[-1])
    pictures, top, unnamed = [], 0.0, False
    for side in range(room.sides):
        if room.sides > 1:
            pictures.append(Picture((Text(TRACKS_MM, top + 0.76 * FIGURE_MM, SIDE_SAYS[side], font="bold"),)))
            top += line_mm(SMALL) + 1.0
        view = _Side(placing, side, scale)
        unnamed |= len(view.small()) > MOST_LABELS
        pictures.append(view.picture().moved(TRACKS_MM, top))
        top = pictures[-1].box[3] + 4.0
    return joined([*pictures, _foot(placing, scale, unnamed).moved(0.0, top)]), scale


class _Side:
    """One side of the board on paper: y turns, because paper's runs down."""

    def __init__(self, placing: Placing, side: int, scale: float) -> None:
        self.placing, self.room, self.side, self.scale = placing, placing.room, side, scale
        self.places = [p for p in placing.answer.placement if p.item.through or p.side == side]

    def picture(self) -> Picture:
        board = self.box(self.room.board)
        marks: list[Mark] = [rectangle(board, "board", OUTLINE)]
        if self.room.edge:
            marks.append(rectangle(self.box(self.room.inside), "", CLEARANCE))
        for strip in self.placing.answer.strips:
            if strip.side == self.side:
                marks.append(rectangle(self.box(strip.rect), "dots/steel", Stroke("steel", FINE)))
        for keepout in self.room.keepouts:
            if self.side in keepout.sides:
                box = self.box(keepout.rect)
                marks += [rectangle(box, "board"), rectangle(box, "cross/graphite", THIN)]
        marks += self._zones()
        for place in self.places:
            marks += self._part(place) if place.item.kind == "part" else self._test_land(place)
        dimensioned = Dimensioned(Picture((*marks, *self._names(board))), board)
        x1, y1, x2, y2 = board
        dimensioned.below.add(x1, x2, y2, mm_text(self.room.length / UM))
        dimensioned.left.add(y1, y2, x1, mm_text(self.room.width / UM))
        return dimensioned.picture()

    def box(self, rect: Rect) -> Box:
        """A rectangle of the board on paper."""
        k, top = self.scale / UM, self.room.width
        return rect.x1 * k, (top - rect.y2) * k, rect.x2 * k, (top - rect.y1) * k

    def _part(self, place: Placed) -> list[Mark]:
        option = self.placing.options[place.item.name]
        x1, y1, x2, y2 = court = self.box(place.rect)
        x, y = (x1 + x2) / 2, (y1 + y2) / 2
        body = self._body(place)
        small = min(body[2] - body[0], body[3] - body[1])
        edge = COURTYARD if min(x2 - x1, y2 - y1) >= DASHED_FROM_MM else Stroke(COURTYARD.colour, FINE)
        under = place.item.through and place.side != self.side
        return [
            *self._lands(place, option, (x, y)),
            rectangle(body, "" if under else "body", CLEARANCE if under else thinned(BODY, small), opacity=0.85),
            rectangle(court, "", edge),
        ]

    def _body(self, place: Placed) -> Box:
        outline = self.placing.options[place.item.name].geometry.outline
        x1, y1, x2, y2 = self.box(place.rect)
        half = outline.body_width_mm.nom / 2 * self.scale, outline.body_length_mm.nom / 2 * self.scale
        if place.turned:
            half = half[::-1]
        x, y = (x1 + x2) / 2, (y1 + y2) / 2
        return x - half[0], y - half[1], x + half[0], y + half[1]

    def _lands(self, place: Placed, option: OptionResult, at: tuple[float, float]) -> list[Mark]:
        shapes = [land.copper.points for land in option.geometry.pattern.lands]
        if not shapes:
            return []
        xy: NDArray[np.float64] = np.concatenate(shapes)
        if self.side == BOTTOM and place.side == BOTTOM:
            xy = xy * [-1, 1]  # seen through the board
        if place.turned:
            xy = np.column_stack([-xy[:, 1], xy[:, 0]])
        starts = np.cumsum([0, *(len(shape) for shape in shapes[:-1])]).astype(np.int64)
        return [Many(xy * [self.scale, -self.scale] + np.array(at), starts, "ochre")]

    def _test_land(self, place: Placed) -> list[Mark]:
        x1, y1, x2, y2 = self.box(place.rect)
        radius = PROFILES[DEFAULT_PROFILE].land_mm / 2 * self.scale
        return [
            rectangle((x1, y1, x2, y2), "", Stroke("grid", HAIR)),
            Disc((x1 + x2) / 2, (y1 + y2) / 2, radius, "ochre"),
        ]

    def _zones(self) -> list[Mark]:
        """Step zones with their clear margin, neighbours of one foil joined."""
        import shapely

        marks: list[Mark] = []
        for foil in range(1, len(self.placing.foils_um)):
            margin = self.room.gap(0, foil)
            boxes = [self.box(place.rect.grown(margin)) for place in self.places if place.item.foil == foil]
            for zone in shapely.get_parts(shapely.union_all([shapely.box(*box) for box in boxes])):
                marks.append(points(list(zone.exterior.coords)[:-1], "", ZONE))
        return marks

    def small(self) -> list[tuple[str, Box]]:
        """Parts whose reference has no room within the body, with their courtyards on paper."""
        parts = [place for place in self.places if place.item.kind == "part"]
        return [
            (place.item.name, self.box(place.rect))
            for place in parts
            if _inside(place.item.name, self._body(place)) is None
        ]

    def _names(self, board: Box) -> list[Mark]:
        """References: within the body where they have room, else beside it; names of keep-outs and the stretch."""
        marks: list[Mark] = []
        boxes, outside = [self.box(place.rect) for place in self.places], self.small()
        for place in self.places:
            if place.item.kind == "part":
                marks += _inside(place.item.name, self._body(place)) or []
        for strip in self.placing.answer.strips:
            if strip.side == self.side:
                name = _inside("kept for all else", self.box(strip.rect), bare=True)
                marks += name or []
        for keepout in self.room.keepouts:
            if self.side in keepout.sides:
                boxes.append(self.box(keepout.rect))
                marks += _inside(keepout.name, boxes[-1], bare=True) or []
        taken = [mark.box for mark in marks if isinstance(mark, Text)]
        if 0 < len(outside) <= MOST_LABELS:
            spots = [((x1 + x2) / 2, (y1 + y2) / 2) for _, (x1, y1, x2, y2) in outside]
            reach = max(max(x2 - x1, y2 - y1) / 2 for _, (x1, y1, x2, y2) in outside)
            for mark in place_labels([name for name, _ in outside], spots, board, [*boxes, *taken], reach=reach):
                marks += [_backing(mark), mark] if isinstance(mark, Text) else [mark]
        return marks


def _inside(name: str, box: Box, *, bare: bool = False) -> list[Mark] | None:
    """A name in the middle of a box, along its longer edge; None where it has no room."""
    x1, y1, x2, y2 = box
    wide, high = width_mm(name, SMALL) + 0.6, FIGURE_MM
    x, y = (x1 + x2) / 2, (y1 + y2) / 2
    if wide <= x2 - x1 and high <= y2 - y1:
        text = Text(x, y + 0.36 * FIGURE_MM, name, anchor="middle")
    elif wide <= y2 - y1 and high <= x2 - x1:
        text = Text(x + 0.36 * FIGURE_MM, y, name, anchor="middle", upright=True)
    else:
        return None
    return [_backing(text), text] if bare else [text]


def _backing(text: Text) -> Mark:
    """Plain board below a text that would stand on a pattern."""
    x1, y1, x2, y2 = text.box
    return rectangle((x1 - 0.3, y1, x2 + 0.3, y2), "board")


def _foot(placing: Placing, scale: float, unnamed: bool) -> Picture:
    answer, room = placing.answer, placing.room
    said = [f"A packing check, not a layout. Drawn {scale_text(scale)}; thin lines around the bodies: courtyards"]
    if room.edge:
        said.append(f"dashes along the edge: {mm_text(room.edge / UM)}\u2009mm clearance")
    if room.keepouts:
        said.append("crossed: keep-outs")
    if answer.strips:
        said.append(f"dots: {room.reserved / UM / UM:.4g}\u2009mm² kept for all else")
    steps = [(n, um) for n, um in enumerate(placing.foils_um) if n and any(p.item.foil == n for p in answer.placement)]
    if steps:
        told = ", ".join(f"{um:g}\u2009µm with {room.gap(0, n) / UM:.3g}\u2009mm around" for n, um in steps)
        said.append(f"fine dashes: stepped to {told}")
    if any(place.item.kind == "test land" for place in answer.placement):
        said.append(f"discs: test lands on the {DEFAULT_PROFILE} grid")
    if unnamed:
        said.append("the references of small parts stand in result.json")
    lines = wrapped("; ".join(said) + ".", PAGE_MM[0], SMALL)
    if answer.left_out:
        lines += wrapped("No place in the best attempt: " + _few([i.name for i in answer.left_out]), PAGE_MM[0], SMALL)
    return Picture(
        tuple(Text(0.0, (n + 0.76) * line_mm(SMALL), text, colour="graphite") for n, text in enumerate(lines))
    )


def _few(names: Sequence[str], most: int = 12) -> str:
    return some_of(names, most) + "."
