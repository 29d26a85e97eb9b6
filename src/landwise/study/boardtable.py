"""[board] of the study file: size, build-up, how it is held, what else is on it."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

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
    drilled_anyway: bool = default(
        False,
        "are other parts drilled already, so that a second soldering process runs anyway",
        "unless the bill shows connectors or other drilled parts, nothing is",
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
    def area_is_money(self) -> bool:
        """Whether saved area saves money: where the board may shrink, or its size is not stated."""
        return self.length is None or self.width is None if self.may_shrink is None else self.may_shrink

    @model_validator(mode="after")
    def _makes_sense(self) -> Board:
        """The placement check's inputs agree with the board's size."""
        for name in ("edge_clearance", "reserved", "parts_mass", "other_power"):
            require_number(self, name, zero=True)
        for name in ("thickness", "copper", "modulus"):
            require_number(self, name, zero=False)
        for name, size in (("length", self.length), ("width", self.width)):
            if size is not None and not MICRON_MM <= size <= LARGEST_BOARD_MM:
                limits = f"more than 0, at most {LARGEST_BOARD_MM:g} mm"
                raise InputError("no size of a board", place=name, found=f"{size:g} mm", expected=limits)
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
