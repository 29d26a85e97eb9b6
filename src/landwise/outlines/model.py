"""An Outline: a package's drawing with tolerances, from which everything else on the line follows.

Axes: seen from above, x to the right, y up, origin in the middle of the body. Two-row parts stand upright:
their rows run along y at the left and the right, terminal 1 at the top left, numbers running
counterclockwise. `body_length_mm` is measured along y, `body_width_mm` along x.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from landwise.errors import InputError

Family = Literal[
    "dual in-line",
    "gull-wing dual",
    "gull-wing quad",
    "flat-lead dual",
    "J-lead quad",
    "leadless dual",
    "leadless quad",
    "ball grid",
    "wafer-level",
]
FAMILIES: tuple[Family, ...] = (
    "dual in-line",
    "gull-wing dual",
    "gull-wing quad",
    "flat-lead dual",
    "J-lead quad",
    "leadless dual",
    "leadless quad",
    "ball grid",
    "wafer-level",
)
LEADED = frozenset({"gull-wing dual", "gull-wing quad", "flat-lead dual", "J-lead quad"})
LEADLESS = frozenset({"leadless dual", "leadless quad"})
GRIDS = frozenset({"ball grid", "wafer-level"})
COPPER, ALLOY_42, UNKNOWN_METAL = "copper alloy", "iron-nickel 42", "not known"
LEAD_METALS = (COPPER, ALLOY_42, UNKNOWN_METAL)
SIDES = ("left", "bottom", "right", "top")  # the order in which numbers run


@dataclass(frozen=True)
class Range:
    """A dimension with its limits. [unit of the field's name]"""

    min: float
    nom: float
    max: float

    def __post_init__(self) -> None:
        if not self.min <= self.nom <= self.max:
            raise InputError(
                "limits out of order",
                found=f"{self.min:g}, {self.nom:g}, {self.max:g}",
                expected="min ≤ nom ≤ max",
            )

    @classmethod
    def exact(cls, value: float) -> Range:
        """A dimension without tolerance (basic or reference)."""
        return cls(value, value, value)

    @classmethod
    def between(cls, low: float, high: float) -> Range:
        """Two limits; the nominal is taken in the middle."""
        return cls(low, round((low + high) / 2, 9), high)

    @property
    def tolerance(self) -> float:
        """Maximum minus minimum."""
        return self.max - self.min

    def text(self) -> str:
        """`0.31…0.51`, or one value where there is no tolerance."""
        return f"{self.nom:g}" if self.min == self.max else f"{self.min:g}…{self.max:g}"


@dataclass(frozen=True)
class PublishedLand:
    """A land pattern that a maker prints for this outline, carried as data. [mm]

    `rows_mm` is the distance between the land centres of the left and right rows, `columns_mm` that of the
    top and bottom rows of a quad; `length_mm` runs outward, `width_mm` along the row. For balls `width_mm`
    is the land's diameter and `length_mm` repeats it. `foil_um` and the aperture are what the maker prints
    with it, where stated.
    """

    length_mm: float
    width_mm: float
    source: str
    rows_mm: float | None = None
    columns_mm: float | None = None
    chamfer_mm: float = 0.0
    exposed_length_mm: float | None = None
    exposed_width_mm: float | None = None
    mask_margin_mm: float | None = None
    mask_defined: bool = False
    foil_um: float | None = None
    aperture_length_mm: float | None = None
    aperture_width_mm: float | None = None
    exposed_aperture_mm: float | None = None
    note: str = ""


@dataclass(frozen=True)
class Outline:
    """One package. See the module's docstring for the axes; ranges are in the unit of the field's name.

    Parameters
    ----------
    name : str
        The catalogue's own short name, such as `TSSOP-14`.
    family : str
        One of `FAMILIES`; it decides how terminals are placed, shaped and numbered.
    terminals : int
        Numbered terminals (an exposed pad that carries no number is not counted).
    pitch_mm : float
        Distance between neighbouring terminals of a row. [mm]
    sides : mapping
        For rows: side name to occupancy from the row's first place to its last, in numbering order, such
        as `{"left": "111", "right": "101"}`. Empty for the plain dual and quad cases, where it follows
        from the count.
    start : str
        The side at whose first place the numbering begins.
    columns, rows : int
        For grids: places along x and along y.
    absent : tuple of str
        For grids: places without a ball, as `B2`.
    centre_terminal : str
        Number of a terminal in the body's middle, where the family has one that carries a signal.
    span_mm, span_length_mm : Range
        Tip to tip across the left-right rows, and across the top-bottom rows of a quad.
    foot_mm : Range
        The part of a terminal that lies on its land, measured outward.
    pull_back_mm : float
        How far a leadless terminal ends inside the body's edge.
    end_pitch_mm : float, optional
        Pitch of the top and bottom rows where it differs from that of the long rows. [mm]
    row_spacing_mm : Range
        Of drilled rows: between the centre lines of the leads where they enter the board, not at the shoulders.
    read : mapping
        Dimension to the keys of the texts it was read in (or follows from); see `outlines.marks`. Empty for an
        outline that states one mark and its sources for all dimensions together.
    drawn : mapping
        Where makers' drawings differ: dimension to each source's own limits. The outline's own limits span them
        all, so that a land serves every maker's part.
    lead_metal : str
        One of `LEAD_METALS`, where a text says so.
    coplanarity_mm, warpage_mm : float, optional
        How far a terminal may stand off the plane that the others stand on, and how far the body is bowed while
        solder is molten, both where the drawing says so.
    """

    name: str
    family: Family
    terminals: int
    pitch_mm: float
    body_length_mm: Range
    body_width_mm: Range
    height_mm: Range
    terminal_width_mm: Range
    mark: str
    sources: tuple[str, ...]
    read: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: MappingProxyType({}))
    drawn: Mapping[str, Mapping[str, Range]] = field(default_factory=lambda: MappingProxyType({}))
    standoff_mm: Range = Range(0.0, 0.0, 0.0)
    span_mm: Range | None = None
    span_length_mm: Range | None = None
    foot_mm: Range | None = None
    terminal_thickness_mm: Range | None = None
    row_spacing_mm: Range | None = None
    pull_back_mm: float = 0.0
    exposed_length_mm: Range | None = None
    exposed_width_mm: Range | None = None
    sides: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    start: str = "left"
    columns: int = 0
    rows: int = 0
    pitch_across_mm: float | None = None
    end_pitch_mm: float | None = None
    absent: tuple[str, ...] = ()
    centre_terminal: str = ""
    package_land_mm: Range | None = None
    coplanarity_mm: float | None = None
    warpage_mm: float | None = None
    weight_mg: float | None = None
    weight_mark: str = ""
    published_land: PublishedLand | None = None
    wettable_flank: bool = False
    lead_metal: str = UNKNOWN_METAL
    standard: str = ""
    also: tuple[str, ...] = ()
    note: str = ""

    @property
    def drilled(self) -> bool:
        """Whether the leads go through the board."""
        return self.family == "dual in-line"

    @property
    def body_area_mm2(self) -> float:
        """Nominal area of the body. [mm²]"""
        return self.body_length_mm.nom * self.body_width_mm.nom

    @property
    def has_exposed_pad(self) -> bool:
        """Whether a metal pad lies under the body, beside the numbered terminals."""
        return self.exposed_length_mm is not None and not self.centre_terminal


@dataclass(frozen=True)
class Terminal:
    """One terminal at its nominal place: the part that lies on the land (or goes through the board).

    Parameters
    ----------
    number : str
        `1`, `A1`, or `EP` for the exposed pad.
    side : {"left", "right", "top", "bottom", "grid", "centre"}
    x_mm, y_mm : float
        Centre. [mm]
    length_mm, width_mm : float
        Along the outward direction, and across it; diameters for a ball. [mm]
    outward_deg : float
        Direction from the body's middle to the tip, counterclockwise from +x. [deg]
    round : bool
        A ball or a pin of round section.
    """

    number: str
    side: str
    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float
    outward_deg: float
    round: bool = False
