"""Foils, apertures and deposits: what the stencil is, and what it leaves on the lands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from landwise.errors import InputError
from landwise.evidence.figures import Verdict
from landwise.shapes import Placed, least_gap_mm

Technology = Literal["laser-cut", "laser-polished", "electroformed", "nano-coated", "etched"]
TECHNOLOGIES: tuple[Technology, ...] = (
    "laser-cut",
    "laser-polished",
    "electroformed",
    "nano-coated",
    "etched",
)
Powder = Literal["T3", "T4", "T5", "T6", "T7"]
POWDERS: tuple[Powder, ...] = ("T3", "T4", "T5", "T6", "T7")


def powder_of(text: str) -> Powder:
    """A powder by its name, in letters of either size.

    Raises
    ------
    InputError

    Examples
    --------
    >>> powder_of("t5")
    'T5'
    """
    for powder in POWDERS:
        if powder == text.upper():
            return powder
    raise InputError("unknown powder", found=text, expected=" | ".join(POWDERS))


@dataclass(frozen=True)
class Foil:
    """A stencil sheet: its thickness and how its apertures were made. [µm]"""

    thickness_um: float
    technology: Technology = "laser-cut"

    def __post_init__(self) -> None:
        if not 20 <= self.thickness_um <= 400:
            raise InputError("no such foil", found=f"{self.thickness_um:g} µm", expected="20 to 400 µm", about="foil")
        if self.technology not in TECHNOLOGIES:
            raise InputError("unknown foil technology", found=self.technology, expected=" | ".join(TECHNOLOGIES))


@dataclass(frozen=True)
class Aperture:
    """The opening or openings of the foil over one land (several for a window-pane pattern).

    `paste_wanted_mm3` is what a drilled joint needs; None for every other land.
    """

    terminal: str
    openings: tuple[Placed, ...]
    land_area_mm2: float
    paste_wanted_mm3: float | None = None

    @property
    def area_mm2(self) -> float:
        """Open area. [mm²]"""
        return sum(opening.shape.area_mm2 for opening in self.openings)

    @property
    def coverage(self) -> float:
        """Open area over land area."""
        return self.area_mm2 / self.land_area_mm2


@dataclass(frozen=True)
class Transfer:
    """What share of an aperture's volume stays on the land.

    `mean` with its 90 % interval between laboratories (`low`, `high`); `usual_low`, `usual_high`: the band
    of an ordinary well-kept line, from which verdicts are drawn; `sd`: spread from deposit to deposit. All
    as fractions of the aperture's volume.
    """

    mean: float
    low: float
    high: float
    usual_low: float
    usual_high: float
    sd: float


@dataclass(frozen=True)
class Deposit:
    """The paste one aperture leaves, and what it becomes.

    Volumes carry the interval of the transfer; `verdict` judges release (for a drilled land also whether
    enough paste is printed), `powder_verdict` whether the powder passes the smallest opening.
    `wet_height_um` is the mean height of the paste over its opening, `solder_height_um` the thickness of
    the solder if all of it stayed on the land. `fill` is the share of a drilled joint's paste that the
    usual band's lower edge prints.
    """

    terminal: str
    area_ratio: float
    aspect_ratio: float
    transfer: Transfer
    paste_mm3: float
    paste_low_mm3: float
    paste_high_mm3: float
    paste_sd_mm3: float
    solder_mm3: float
    verdict: Verdict
    powder_verdict: Verdict
    wet_height_um: float
    solder_height_um: float
    fill: float | None = None


@dataclass(frozen=True)
class Print:
    """All deposits of one part printed with one foil and powder, and the part's verdict."""

    foil: Foil
    powder: Powder
    apertures: tuple[Aperture, ...]
    deposits: tuple[Deposit, ...]
    least_area_ratio: float
    verdict: Verdict
    why: str

    @property
    def least_aperture_gap_mm(self) -> float:
        """The smallest clear distance between two openings; infinite for fewer than two. [mm]"""
        return least_gap_mm([one for aperture in self.apertures for one in aperture.openings])
