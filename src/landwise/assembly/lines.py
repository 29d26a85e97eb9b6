"""The assembler's line: which foils lie there, what it prints and places, and what it can see."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

from landwise.assembly.scatter import Scatter, scatter
from landwise.errors import InputError, UnknownNameError
from landwise.printing.model import POWDERS, TECHNOLOGIES, Foil, Powder, Technology
from landwise.quantities import parse
from landwise.untyped import Table

if TYPE_CHECKING:
    from landwise.assembly.knowledge import Knowledge
    from landwise.assembly.partrates import OwnRate

Soldering = Literal["process", "by hand"]
View = Literal["optical", "side view", "x-ray", "paste"]
VIEWS: tuple[View, ...] = ("optical", "side view", "x-ray", "paste")

# Why each value of a preset stands where it does; `landwise defaults` prints these.
REASONS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "foils": ("thicknesses that foil suppliers keep as stock sheets", "stock-foils"),
        "foil": ("the thickest that prints the finest parts such a line is asked for", "pitch-foil-practice"),
        "technology": ("what such a line orders when nobody says otherwise", "stock-foils"),
        "powder": ("type 4 is the usual paste down to small chips and 0.4 mm pitch", "powder-use"),
        "steps_allowed": (
            "a stepped foil costs more and wears the blade; many lines avoid it",
            "line-practice",
        ),
        "least_pitch": ("about 0.4 mm is the least pitch of an ordinary line", "line-practice"),
        "least_ball_pitch": (
            "grids centre themselves, so lines accept the same pitch as for leads",
            "line-practice",
        ),
        "print_offset": ("wet print repeats within about ±25 µm on a good printer", "print-offset-memory"),
        "placement_offset": ("±50 µm is the tolerance a maker asks for its smallest part", "placement-50um"),
        "inspection": (
            "optical inspection is on nearly every line; sampled X-ray can be had, and is charged to who needs it",
            "aoi-surface-only",
        ),
        "drilled_parts": ("most lines still place drilled parts, by hand or by wave", "line-practice"),
        "drilled_soldering": (
            "a contract line runs a soldering process for them (wave or selective); a bench solders each hole by hand",
            "line-practice",
        ),
        "paste_in_hole": ("needs heat-proof drilled parts, so it is agreed part by part", "line-practice"),
    }
)


@dataclass(frozen=True)
class Learned:
    """What a line's own data say of it, for those who work without a study.

    Parameters
    ----------
    scatter : Scatter
    rates : tuple of OwnRate
        That it counts itself, by family.
    knowledge : Knowledge or None
        The draws of what is known after its own counts on packages; None without any.
    """

    scatter: Scatter
    rates: tuple[OwnRate, ...] = ()
    knowledge: Knowledge | None = None

    @property
    def says(self) -> str:
        """What of it was learned, in words."""
        line = self.scatter
        terms = [term.name for term in line.terms if term.source == "study"]
        told = {
            f"terms of scatter ({', '.join(terms)})": bool(terms),
            "its place in the transfer band": line.transfer_spread != 1.0 or line.transfer_score != 0.0,
            f"mean transfer {line.spread.says_transfer if line.spread else ''}": bool(
                line.spread and line.spread.places
            ),
            f"spread of deposits {line.spread.says if line.spread else ''}": line.spread is not None,
            "rates that it counts": bool(self.rates),
            "its counts on packages": self.knowledge is not None,
        }
        return "; ".join(text for text, is_so in told.items() if is_so)


@dataclass(frozen=True)
class Line:
    """What one assembler can do. Lengths in mm, foils in µm.

    Parameters
    ----------
    name, says : str
        Preset name and what kind of line it is.
    foils_um : tuple of float
        Foils on hand, thin to thick. [µm]
    foil_um : float
        The foil the study is worked under. [µm]
    technology, powder : str
        How its apertures are made, and the powder type of the paste.
    steps_allowed : bool
        Whether the foil may have step-down zones.
    least_pitch_mm, least_ball_pitch_mm : float
        Finest pitch it places, of rows and of grids. [mm]
    print_offset_mm, placement_offset_mm : float
        Offsets that 99.7 % of prints and placements stay within. [mm]
    inspection : tuple of str
        What it can look at: `optical` from above, `side view`, `x-ray`.
    drilled_soldering : "process" or "by hand"
        How drilled parts are soldered: by a second process, set up once a run, or hole by hole.
    learned : Learned, optional
        From a line file, where no study holds it.
    """

    name: str
    says: str
    foils_um: tuple[float, ...]
    foil_um: float
    technology: Technology
    powder: Powder
    steps_allowed: bool
    least_pitch_mm: float
    least_ball_pitch_mm: float
    print_offset_mm: float
    placement_offset_mm: float
    inspection: tuple[View, ...] = field(default=("optical",))
    drilled_parts: bool = True
    drilled_soldering: Soldering = "process"
    paste_in_hole: bool = False
    learned: Learned | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        if not self.foils_um:
            raise InputError(
                "the line has no foil", place="line, foils", expected="at least one thickness", about="foil"
            )
        for um in (*self.foils_um, self.foil_um):
            Foil(um, self.technology)
        if self.powder not in POWDERS:
            raise InputError("unknown powder", place="line, powder", found=self.powder, expected=" | ".join(POWDERS))
        for view in self.inspection:
            if view not in VIEWS:
                raise InputError("unknown inspection", place="line, inspection", found=view, expected=" | ".join(VIEWS))

    @property
    def scatter(self) -> Scatter:
        """What scatters on it: as learned, else the shipped terms with its own offsets."""
        return self.learned.scatter if self.learned else scatter(self.print_offset_mm, self.placement_offset_mm)

    @property
    def foil(self) -> Foil:
        """The foil the study is worked under."""
        return Foil(self.foil_um, self.technology)


@cache
def presets() -> Mapping[str, Line]:
    """The lines shipped, by name.

    >>> sorted(presets())
    ['bench', 'fine', 'ordinary']
    """
    text = resources.files("landwise.assembly").joinpath("lines.toml").read_text(encoding="utf-8")
    return MappingProxyType({name: line_from(name, row) for name, row in tomllib.loads(text).items()})


def line_from(name: str, row: Table) -> Line:
    """A line from a table whose quantities carry units."""
    place = f"line {name}"
    technology = row["technology"]
    if technology not in TECHNOLOGIES:
        raise InputError(
            "unknown foil technology", place=place, found=str(technology), expected=" | ".join(TECHNOLOGIES)
        )
    return Line(
        name=name,
        says=row["says"],
        foils_um=tuple(sorted(parse(text, "thin length", place=f"{place}, foils") for text in row["foils"])),
        foil_um=parse(row["foil"], "thin length", place=f"{place}, foil"),
        technology=technology,
        powder=row["powder"],
        steps_allowed=row["steps_allowed"],
        least_pitch_mm=parse(row["least_pitch"], "length", place=f"{place}, least_pitch"),
        least_ball_pitch_mm=parse(row["least_ball_pitch"], "length", place=f"{place}, least_ball_pitch"),
        print_offset_mm=parse(row["print_offset"], "length", place=f"{place}, print_offset"),
        placement_offset_mm=parse(row["placement_offset"], "length", place=f"{place}, placement_offset"),
        inspection=tuple(row["inspection"]),
        drilled_parts=row["drilled_parts"],
        drilled_soldering=row["drilled_soldering"],
        paste_in_hole=row["paste_in_hole"],
    )


def preset(name: str) -> Line:
    """One shipped line.

    Raises
    ------
    UnknownNameError
    """
    try:
        return presets()[name]
    except KeyError:
        raise UnknownNameError("no such line", found=name, expected=" | ".join(presets())) from None
