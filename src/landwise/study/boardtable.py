"""[board] of the study file: size, build-up, how it is held, what else is on it."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from landwise.costs.panels import Panel, images
from landwise.errors import InputError
from landwise.study.fields import (
    AreaMm2,
    Expansion,
    Length,
    Mass,
    Power,
    Stress,
    Table,
    ThinLength,
    default,
    require_number,
)

MICRON_MM = 0.001  # the placement check counts in whole micrometres
LARGEST_BOARD_MM = 2000.0  # larger than any board that is printed with paste


class BoardClass(Table):
    """A kind of board that can be bought: how fine, how many layers, at what price."""

    name: str
    layers: int = Field(default=2, gt=0)
    track: Length = 0.15
    space: Length = 0.15
    rate: float = Field(default=1.0, gt=0, description="its price per area, as a multiple of the board_area rate")
    panel_price: float | None = Field(
        default=None, gt=0, description="of one bare panel of this kind, where [board.panel] states a price"
    )


class PanelTable(Table):
    """The panel that boards come on, as it is bought."""

    length: Length = Field(description="of the whole panel")
    width: Length = Field(description="of the whole panel")
    border: Length = default(
        5.0,
        "kept free along every edge of the panel",
        "rails that conveyors and clamps hold by: 5 mm at least, many assemblers ask for more",
        "line-practice",
    )
    strip: Length = default(
        0.0,
        "kept free beside the border along both longer edges, for tooling holes and fiducials",
        "holes and fiducials go into the border unless this gives them room of their own",
    )
    gap: Length = default(
        2.0,
        "between neighbouring boards: the route; 0 where they are scored",
        "a routed slot is as wide as its bit, and 2 mm is the usual one",
        "line-practice",
    )
    mixed: bool = default(
        False,
        "may some rows lie turned against the others",
        "most assemblers want all boards of a panel one way round",
        "line-practice",
    )
    price: float | None = default(
        None,
        "of one bare panel, whole panels bought",
        "its whole area is paid at the rate board_area of the board's class",
    )

    def as_panel(self) -> Panel:
        """The panel as boards lie on it."""
        return Panel(self.length, self.width, self.border, self.strip, self.gap, self.mixed)

    @model_validator(mode="after")
    def _makes_sense(self) -> PanelTable:
        for name in ("length", "width", "price"):
            require_number(self, name, zero=False)
        for name in ("border", "strip", "gap"):
            require_number(self, name, zero=True)
        return self


class BoardKeepout(Table):
    """A rectangle of the board that no courtyard may enter: a screw, a connector, an antenna."""

    name: str = "keep-out"
    x: Length = Field(
        description="its left edge, from the board's left edge; the board's length runs from left to right"
    )
    y: Length = Field(description="its lower edge, from the board's lower edge")
    length: Length = Field(description="along the board's length")
    width: Length = Field(description="along the board's width")
    side: Literal["both", "top", "bottom"] = "both"


class Board(Table):
    """The board."""

    name: str = default("board", "what the board is called in reports", "only a label")
    length: Length | None = default(None, "longer edge", "not needed while parts are judged one by one")
    width: Length | None = default(None, "shorter edge", "not needed while parts are judged one by one")
    layers: int = default(2, "copper layers", "the cheapest board that carries logic on both sides", "line-practice")
    track: Length = default(
        0.15, "narrowest track", "what every board maker offers without extra charge", "line-practice"
    )
    space: Length = default(0.15, "narrowest gap between copper", "as for the track", "line-practice")
    xray_anyway: bool = default(
        False, "do other parts call for X-ray already", "unless the bill shows a part with hidden joints, nothing does"
    )
    thickest_foil: ThinLength | None = default(
        None,
        "the thickest foil that the board's other parts bear: it prints them too, and no thicker one is chosen",
        "not known unless the bill tells the finest pitch of the parts that are not studied",
        "pitch-foil-practice",
    )
    drilled_anyway: bool = default(
        False,
        "are other parts drilled already, so that a second soldering process runs anyway",
        "unless the bill shows connectors or other drilled parts, nothing is",
    )
    printed_anyway: bool = default(
        True,
        "are other parts printed, so that foil, print and reflow are there anyway; if not, the first printed part pays",
        "nearly every board carries printed chips; a bill without any is told from",
        "line-practice",
    )
    state: Literal["new", "existing"] = default(
        "new",
        "is the board being designed, or does it exist: then another package costs a change",
        "packages are asked for while a board is designed",
    )
    design: Literal["print", "lands"] = default(
        "print",
        "print | lands: only openings are designed, or each new package's lands too, inside the densest and leanest"
        " goals, where that gains",
        "nobody leaves a published land for nothing; see docs/designed_print.md",
    )
    may_shrink: bool | None = default(
        None,
        "may the board become smaller, so that saved area is money and not only room",
        "a stated size is a fixed outline; without one, area is money",
    )
    shrinks: Literal["either", "length", "width"] = default(
        "either",
        "either | length | width: which side gives way where the board may shrink on a stated panel",
        "the side that brings more boards a panel; name the one that connectors and the enclosure leave free",
    )
    panel: PanelTable | None = default(
        None,
        "the panel that it is bought on: saved area is then money in steps, as more boards fit",
        "where it is not stated, area is priced evenly",
    )
    sides: Literal[1, 2] = default(1, "sides that carry these parts", "a second side means a second print")
    thickness: Length = default(1.6, "board thickness", "the common board", "line-practice")
    copper: ThinLength = default(35.0, "copper of each layer", "one ounce, the common board", "line-practice")
    copper_share: list[float] = default(
        [],
        "share of connected copper on each layer from the top, for heat",
        "0.3 on outer layers, 0.8 on inner ones, 0.4 on both of two",
        "copper-share-practice",
    )
    modulus: Stress | None = default(
        None,
        "Young's modulus in bending, for vibration",
        "2.0e6 psi for plain epoxy glass, 3.0e6 with planes; 10 to 30 GPa were measured",
        "board-material",
    )
    parts_mass: Mass | None = default(
        None, "mass of all parts together", "half the bare board's, from a tenth to twice", "board-parts-practice"
    )
    edges: str = default(
        "ffff", "how the edges are held, from the left clockwise: s supported, x fixed, f free", "held by screws only"
    )
    screws: list[tuple[Length, Length]] | None = default(
        None, "screws, from the lower left corner", "four, 4 mm from the edges, where no edge is held"
    )
    other_power: Power = default(0.0, "heat of everything that is not a part of this study", "none unless stated")
    expansion: Expansion | None = default(
        None,
        "thermal expansion in the plane",
        "15 (12.5 to 18) ppm/K: a handbook's value for epoxy glass, and what was measured on boards",
        "mil-217-expansion",
    )
    edge_clearance: Length = default(
        0.5,
        "distance courtyards keep from the board's edge, in the placement check",
        "what a routed edge asks; clamps and conveyors ask for several mm more",
        "line-practice",
    )
    keepouts: list[BoardKeepout] = default(
        [], "rectangles that no courtyard may enter, in the placement check", "none unless stated"
    )
    reserved: AreaMm2 = default(
        0.0,
        "area for all else on the board, over all its sides, in the placement check",
        "none unless stated: the check then takes the board to carry these parts only",
    )
    classes: list[BoardClass] = default(
        [], "kinds of board to choose from, beside the one described here", "only the board as it is"
    )

    @property
    def gives_way(self) -> bool:
        """Whether the board follows what is on it: where it may shrink, or its size is not stated."""
        return self.length is None or self.width is None if self.may_shrink is None else self.may_shrink

    @property
    def area_is_money(self) -> bool:
        """Whether each square millimetre saved saves money: on a stated panel it does so in steps only."""
        return self.gives_way and self.panel is None

    @model_validator(mode="after")
    def _makes_sense(self) -> Board:
        """The placement check's inputs agree with the board's size."""
        for name in ("edge_clearance", "reserved", "parts_mass", "other_power"):
            require_number(self, name, zero=True)
        for name in ("thickness", "copper", "modulus", "thickest_foil"):
            require_number(self, name, zero=False)
        for name, size in (("length", self.length), ("width", self.width)):
            if size is not None and not MICRON_MM <= size <= LARGEST_BOARD_MM:
                limits = f"more than 0, at most {LARGEST_BOARD_MM:g} mm"
                raise InputError("no size of a board", place=name, found=f"{size:g} mm", expected=limits)
        self._panel_makes_sense()
        if self.length is None or self.width is None:
            if self.keepouts:
                wanted = "length and width of [board]"
                raise InputError("keep-outs need the board's size", place="keepouts", expected=wanted)
            return self
        if 2 * self.edge_clearance >= min(self.length, self.width):
            raise InputError(
                "the clearance from the edge leaves no board",
                place="edge_clearance",
                found=f"{self.edge_clearance:g} mm",
                expected=f"less than {min(self.length, self.width) / 2:g} mm",
            )
        for number, out in enumerate(self.keepouts, start=1):
            _require_on_board(out, f"keepouts, number {number} ({out.name})", self.length, self.width)
        return self

    def _panel_makes_sense(self) -> None:
        """A panel holds at least one board, and a stated price of it is stated for every class."""
        if self.panel is None:
            return
        if self.length is None or self.width is None:
            raise InputError(
                "boards on a panel can't be counted", place="panel", expected="length and width of [board] as it is"
            )
        if not images(self.panel.as_panel(), self.length, self.width):
            along, across = self.panel.as_panel().usable_mm
            raise InputError(
                "the panel holds no board",
                place="panel",
                found=f"{self.length:g} × {self.width:g} mm on {along:g} × {across:g} mm inside the border",
                expected="a panel, border and strips that leave room for one board at least",
            )
        if self.panel.price is not None:
            for number, kind in enumerate(self.classes, start=1):
                if kind.panel_price is None:
                    raise InputError(
                        "a class of board without a price of its panel",
                        place=f"classes, number {number} ({kind.name}), panel_price",
                        expected="the price of one bare panel, since [board.panel] states one for the board as it is",
                    )


def _require_on_board(out: BoardKeepout, place: str, length: float, width: float) -> None:
    if min(out.length, out.width) < MICRON_MM:
        size = f"{out.length:g} by {out.width:g} mm"
        raise InputError("a keep-out needs a length and a width", place=place, found=size)
    right, top = out.x + out.length, out.y + out.width
    if min(out.x, out.y) < 0 or right > length + MICRON_MM / 2 or top > width + MICRON_MM / 2:
        raise InputError(
            "leaves the board",
            place=place,
            found=f"x {out.x:g} to {right:g} mm, y {out.y:g} to {top:g} mm",
            expected=f"within 0 to {length:g} mm and 0 to {width:g} mm",
        )
