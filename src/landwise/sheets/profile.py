"""The side view below the top view: body, lead shape, standoff, lands, board and solder, to scale.

Seen along y from the bottom row (third-angle arrangement), so x runs as in the top view; z is the height
above the lands' upper face. Sizes come from the outline; what an outline doesn't say (how a lead bends
between body and foot, how thick a leadless terminal is) is drawn in usual proportions, and those are only
there to be recognised: nothing is dimensioned from them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from landwise.lands.model import Land, LandPattern
from landwise.outlines.model import GRIDS, Outline
from landwise.printing.model import Print
from landwise.sheets.look import BODY, FINE, HAIR, HIDDEN, NARROW, OUTLINE, THIN, Stroke
from landwise.sheets.marks import thinned
from landwise.sheets.profilelines import break_line, columns, hollow, lead_profile
from landwise.sheets.svg import Area, Mark, Picture, line, points, rectangle

DRAFT_DEG = 7.0  # slope of a moulded body's sides, common practice, no source
COPPER_MM = 0.035  # one-ounce copper, the usual outer layer
BOARD_MM = 1.6
SHOWN_BOARD_MM = 3.0  # of board on paper below a part that does not go through it
PLATE_SHARE = 0.22  # height of a leadless terminal over the body's, where the outline gives none
WIDE_BODY_MM = 2.0  # on paper; a thinner body takes the narrow line
SCHEMATIC = "solder: schematic, not to scale"


@dataclass(frozen=True)
class SolderProfile:
    """Computed outlines of the solder in the side view's plane.

    Parameters
    ----------
    contours : tuple of polylines
        Closed; x from the body's middle, z above the lands' upper face. [mm]
    lift_mm : float
        Height of the terminals' undersides above the lands. [mm]
    """

    contours: tuple[tuple[tuple[float, float], ...], ...]
    lift_mm: float = 0.0


@dataclass(frozen=True)
class SideView:
    """A side view and the heights a dimension needs, all on paper with z = 0 at the lands' upper face. [mm]

    `schematic` says that the solder's shape was not computed.
    """

    picture: Picture
    top: float
    underside: float
    seat: float
    bottom: float
    half_body: float
    half_span: float
    schematic: bool


def side_view(
    outline: Outline,
    pattern: LandPattern,
    print_: Print | None = None,
    *,
    magnification: float,
    solder: SolderProfile | None = None,
    board_mm: float = BOARD_MM,
) -> SideView:
    """The part on the board, seen from the side of its bottom row.

    Parameters
    ----------
    outline, pattern
    print_ : Print, optional
        Gives the height of the schematic solder: printed metal over land area.
    magnification : float
        Paper over part.
    solder : SolderProfile, optional
        Computed solder; without it the solder is a schematic, and the view says so.
    board_mm : float
        Thickness of the board, drawn whole for leads that go through it. [mm]
    """
    view = _Side(outline, pattern, print_, magnification, solder, board_mm)
    picture = Picture((*view.board(), *view.lands(), *view.solder_marks(), *view.leads(), *view.body()))
    m = magnification
    return SideView(
        picture,
        top=-(view.lift + outline.height_mm.nom) * m,
        underside=-(view.lift + outline.standoff_mm.nom) * m,
        seat=-view.lift * m,
        bottom=picture.box[3],
        half_body=outline.body_width_mm.nom / 2 * m,
        half_span=view.reach * m,
        schematic=solder is None,
    )


@dataclass(frozen=True)
class SidePieces:
    """A side view in pieces, for a caller that keeps those which do not change with the print.

    Parameters
    ----------
    still : callable
        Draws board and lands.
    solder : callable
        Draws the solder.
    part : callable
        Draws the part as if it lay on the lands; it stands over the solder.
    lift : float
        How far the part is raised on paper. [mm]
    """

    still: Callable[[], Picture]
    solder: Callable[[], Picture]
    part: Callable[[], Picture]
    lift: float


def side_pieces(
    outline: Outline,
    pattern: LandPattern,
    print_: Print | None = None,
    *,
    magnification: float,
    solder: SolderProfile | None = None,
) -> SidePieces:
    """What `side_view` draws, piece by piece; the part raised by `lift` over the others is the same picture."""
    view = _Side(outline, pattern, print_, magnification, solder, BOARD_MM)

    def part() -> Picture:
        lying = _Side(outline, pattern, print_, magnification, solder, BOARD_MM)
        lying.lift = 0.0
        return Picture((*lying.leads(), *lying.body()))

    return SidePieces(
        lambda: Picture((*view.board(), *view.lands())),
        lambda: Picture(tuple(view.solder_marks())),
        part,
        view.lift * magnification,
    )


class _Side:
    def __init__(
        self,
        outline: Outline,
        pattern: LandPattern,
        print_: Print | None,
        magnification: float,
        solder: SolderProfile | None,
        board_mm: float,
    ) -> None:
        self.outline, self.pattern, self.print, self.m = outline, pattern, print_, magnification
        self.solder, self.board_mm = solder, board_mm
        self.columns = columns(outline)
        self.thickness = outline.terminal_thickness_mm.nom if outline.terminal_thickness_mm else 0.0
        if outline.family.startswith("leadless") and not self.thickness:
            body = outline.height_mm.nom - outline.standoff_mm.nom
            self.thickness = min(0.2, PLATE_SHARE * body)
        self.lift = self._lift()

    def _lift(self) -> float:
        if self.solder is not None:
            return self.solder.lift_mm
        if self.outline.drilled or self.outline.family in GRIDS or self.print is None:
            return 0.0
        # Printed metal spread over its land: the most that can stand under the terminal.
        areas = {land.terminal: land.place.shape.area_mm2 for land in self.pattern.lands}
        heights = [
            deposit.solder_mm3 / areas[deposit.terminal]
            for deposit in self.print.deposits
            if areas.get(deposit.terminal)
        ]
        return min(heights) if heights else 0.0

    @property
    def reach(self) -> float:
        """Half of the widest extent of body and leads. [mm]"""
        ends = [abs(x) + length / 2 for x, length, _ in self.columns] or [0.0]
        return max(self.outline.body_width_mm.nom / 2, *ends)

    def paper(self, xz: Sequence[tuple[float, float]] | NDArray[np.float64]) -> NDArray[np.float64]:
        """From (x, z) of the part to paper."""
        flipped: NDArray[np.float64] = np.asarray(xz, dtype=float) * [self.m, -self.m]
        return flipped

    def box(self, x1: float, z1: float, x2: float, z2: float, fill: str, pen: Stroke | None) -> Area:
        return rectangle((x1 * self.m, -z2 * self.m, x2 * self.m, -z1 * self.m), fill, pen)

    # The board and its copper.

    def board(self) -> list[Mark]:
        half = self.pattern.courtyard_mm[0] / 2
        top = -COPPER_MM
        if not self.outline.drilled:
            deep = top - SHOWN_BOARD_MM / self.m
            edge = self.paper([(-half, top), (half, top)])
            return [
                self.box(-half, deep, half, top, "board", None),
                line(edge, THIN),
                break_line(-half * self.m, half * self.m, -deep * self.m),
            ]
        deep = top - self.board_mm
        marks: list[Mark] = []
        holes = sorted((x, hole) for x, _, hole in self._land_columns if hole)
        start = -half
        for x, hole in [*holes, (half, 0.0)]:
            end = x - hole / 2
            marks.append(self.box(start, deep, end, top, "board", None))
            marks.append(self.box(start, deep, end, top, "hatch/slate", THIN))
            start = x + hole / 2
        return marks

    @cached_property
    def _land_columns(self) -> list[tuple[float, float, float]]:
        """x, extent along x, hole of the lands of the front row, one for each column. [mm]"""
        front: dict[float, Land] = {}
        for land in self.pattern.lands:
            key = round(land.place.x_mm, 4)
            if key not in front or land.place.y_mm < front[key].place.y_mm:
                front[key] = land
        found = [(land.place.box, land.hole_mm or 0.0) for _, land in sorted(front.items())]
        return [((x1 + x2) / 2, x2 - x1, hole) for (x1, _, x2, _), hole in found]

    def lands(self) -> list[Mark]:
        marks: list[Mark] = []
        for x, wide, hole in self._land_columns:
            for z in (-COPPER_MM, -2 * COPPER_MM - self.board_mm) if hole else (-COPPER_MM,):
                if hole:
                    marks.append(self.box(x - wide / 2, z, x - hole / 2, z + COPPER_MM, "ochre", None))
                    marks.append(self.box(x + hole / 2, z, x + wide / 2, z + COPPER_MM, "ochre", None))
                else:
                    marks.append(self.box(x - wide / 2, z, x + wide / 2, z + COPPER_MM, "ochre", None))
        return marks

    # Solder.

    def solder_marks(self) -> list[Mark]:
        if self.solder is not None:
            small = min((np.ptp(np.asarray(c)[:, 1]) for c in self.solder.contours), default=0.0) * self.m
            pen = thinned(OUTLINE, float(small)) or Stroke("ink", FINE)
            return [points(self.paper(contour), "solder", pen) for contour in self.solder.contours]
        if self.outline.drilled:
            return self._barrels()
        if self.outline.family in GRIDS:
            return []
        return [
            points(self.paper(shape), "solder", Stroke("graphite", FINE))
            for x, wide, _ in self._land_columns
            for shape in self._fillet(x, wide)
        ]

    def _fillet(self, x: float, wide: float) -> list[list[tuple[float, float]]]:
        """Solder of one land: flat below the terminal, hollow slopes up its ends."""
        near = [column for column in self.columns if abs(column[0] - x) < (wide + column[1]) / 2]
        if not near:
            return []
        at, length, _ = near[0]
        left, right = at - length / 2, at + length / 2
        rise = self.lift + 0.7 * self.thickness
        start, end = x - wide / 2, x + wide / 2
        up = hollow((start, 0.0), (left, rise)) if start < left - 1e-6 else [(left, 0.0), (left, self.lift)]
        down = hollow((end, 0.0), (right, rise))[::-1] if end > right + 1e-6 else [(right, self.lift), (right, 0.0)]
        return [[*up, *down]]

    def _barrels(self) -> list[Mark]:
        marks: list[Mark] = []
        top, deep = 0.0, -2 * COPPER_MM - self.board_mm
        half_lead = self.thickness / 2
        for x, wide, hole in self._land_columns:
            if not hole:
                continue
            cone = 0.8 * (wide / 2 - half_lead)
            shape = [
                *hollow((x - wide / 2, top), (x - half_lead, top + 0.35 * cone)),
                *hollow((x + wide / 2, top), (x + half_lead, top + 0.35 * cone))[::-1],
                (x + hole / 2, top),
                (x + hole / 2, deep),
                *hollow((x + wide / 2, deep), (x + half_lead, deep - cone)),
                *hollow((x - wide / 2, deep), (x - half_lead, deep - cone))[::-1],
                (x - hole / 2, deep),
                (x - hole / 2, top),
            ]
            marks.append(points(self.paper(shape), "solder", Stroke("graphite", FINE)))
        return marks

    # The part.

    def leads(self) -> list[Mark]:
        family = self.outline.family
        if family in GRIDS:
            return self._balls()
        if family.startswith("leadless"):
            return []  # they lie in the body's side and are drawn on it
        marks: list[Mark] = []
        pen = thinned(OUTLINE, self.thickness * self.m) or Stroke("ink", HAIR)
        for x, length, width in self.columns:
            if width:  # a lead of the front side, seen end on
                top = self.outline.standoff_mm.nom + (self.outline.height_mm.nom - self.outline.standoff_mm.nom) / 2
                if family == "flat-lead dual":
                    top = self.outline.standoff_mm.nom + self.thickness
                half = width / 2
                marks.append(self.box(x - half, self.lift, x + half, self.lift + top, "metal", pen))
                continue
            sign = 1.0 if x > 0 else -1.0
            profile = lead_profile(self.outline, self.thickness, self.lift, abs(x), length)
            marks.append(points(self.paper(profile * [sign, 1.0]), "metal", pen))
        return marks

    def _balls(self) -> list[Mark]:
        if self.solder is not None:
            return []  # the computed joints are the balls
        height = self.outline.standoff_mm.nom
        marks: list[Mark] = []
        for x, wide, _ in self.columns:
            # A ball squeezed between two faces: a circle's flanks, cut at both.
            radius = wide / 2
            cut = min(height / 2, radius * 0.98)
            angles = np.linspace(-math.asin(cut / radius), math.asin(cut / radius), 17)
            flank = np.column_stack(
                [radius * np.cos(angles), height / 2 + radius * np.sin(angles) * (height / 2 / cut)]
            )
            shape = np.vstack([flank, flank[::-1] * [-1, 1]]) + np.array([x, self.lift])
            pen = thinned(OUTLINE, min(height, wide) * self.m) or Stroke("ink", FINE)
            marks.append(points(self.paper(shape), "solder", pen))
        return marks

    def body(self) -> list[Mark]:
        outline, m = self.outline, self.m
        half = outline.body_width_mm.nom / 2
        low, high = self.lift + outline.standoff_mm.nom, self.lift + outline.height_mm.nom
        pen = BODY if min(high - low, 2 * half) * m >= WIDE_BODY_MM else Stroke(BODY.colour, NARROW)
        if outline.family.startswith(("leadless", "wafer", "ball")):
            marks: list[Mark] = [self.box(-half, low, half, high, "body", pen)]
            return marks + self._plates()
        middle = (low + high) / 2
        if outline.family == "flat-lead dual":
            middle = low + self.thickness
        up, down = (
            (high - middle) * math.tan(math.radians(DRAFT_DEG)),
            (middle - low) * math.tan(math.radians(DRAFT_DEG)),
        )
        up, down = min(up, 0.2 * half), min(down, 0.2 * half)
        shape = [
            (-half + down, low),
            (half - down, low),
            (half, middle),
            (half - up, high),
            (-half + up, high),
            (-half, middle),
        ]
        return [points(self.paper(shape), "body", pen)]

    def _plates(self) -> list[Mark]:
        """Terminals of a leadless part, flush with the side of its body."""
        if self.outline.family in GRIDS:
            return []
        marks: list[Mark] = []
        pen = thinned(OUTLINE, self.thickness * self.m) or Stroke("ink", HAIR)
        for x, length, width in self.columns:
            half = (width or length) / 2
            fill, edge = ("metal", pen)
            marks.append(self.box(x - half, self.lift, x + half, self.lift + self.thickness, fill, edge))
        exposed = self.outline.exposed_width_mm
        if exposed is not None:
            half = exposed.nom / 2
            marks.append(
                self.box(
                    -half, self.lift, half, self.lift + self.thickness, "", Stroke(HIDDEN.colour, NARROW, (1.0, 0.6))
                )
            )
        return marks
