"""Two neighbours of a row, from plain sizes: what a single formula needs of a part's model."""

from __future__ import annotations

from dataclasses import dataclass

from landwise.assembly.capacity import land_hold
from landwise.assembly.geometry import (
    Deposited,
    Footing,
    JointGeometry,
    PairGeometry,
    PartGeometry,
    Resting,
    Seat,
    cold_slump_mm,
)
from landwise.assembly.partmodel import PartModel, part_at
from landwise.assembly.scatter import Scatter
from landwise.errors import InputError
from landwise.joints.contact import dome_height
from landwise.printing.model import Foil, Powder
from landwise.printing.paste import LARGEST_PARTICLE_UM, paste_metal_fraction
from landwise.printing.release import area_ratio
from landwise.printing.transfer import transfer
from landwise.shapes import rectangle

ROW_MM = 1.0  # distance of the row from the part's middle, through which a turn acts: a small part's


@dataclass(frozen=True)
class Neighbours:
    """Two equal joints side by side.

    Parameters
    ----------
    pitch_mm : float
        From middle to middle. [mm]
    land_mm, aperture_mm, terminal_mm : (length, width)
        Width along the row; all three share their middle. [mm]
    lead_um : float, optional
        Thickness of a lead that solder climbs; None for a terminal flush with its body. [µm]

    Raises
    ------
    InputError
        Where apertures or lands of the two would overlap, or a size isn't positive.
    """

    pitch_mm: float
    land_mm: tuple[float, float]
    aperture_mm: tuple[float, float]
    terminal_mm: tuple[float, float]
    lead_um: float | None = None

    def __post_init__(self) -> None:
        sizes = (self.pitch_mm, *self.land_mm, *self.aperture_mm, *self.terminal_mm)
        if not all(size > 0 for size in sizes):
            raise InputError(
                "sizes must be positive", place="bridge rate", found=", ".join(f"{size:g}" for size in sizes)
            )
        for what, width in (("apertures", self.aperture_mm[1]), ("lands", self.land_mm[1])):
            if width >= self.pitch_mm:
                raise InputError(
                    f"the {what} overlap", place="bridge rate", found=f"{width:g} mm on {self.pitch_mm:g} mm pitch"
                )


def pair_model(neighbours: Neighbours, foil: Foil, scatter: Scatter, *, powder: Powder = "T4") -> PartModel:
    """Two neighbours as a part of their own.

    Raises
    ------
    ValidityError
        For an aperture whose transfer isn't known.
    """
    pitch_mm, lead_um, foil_um = neighbours.pitch_mm, neighbours.lead_um, foil.thickness_um
    land_mm, aperture_mm, terminal_mm = neighbours.land_mm, neighbours.aperture_mm, neighbours.terminal_mm
    opening = rectangle(*aperture_mm)
    ratio = area_ratio(opening, foil_um)
    band = transfer(ratio, foil.technology, powder)
    land = land_mm[0] * land_mm[1]
    metal = opening.area_mm2 * foil_um / 1000 * band.mean * paste_metal_fraction(powder)
    film = metal / land * 1000
    held = min(land_mm[0], terminal_mm[0]) * min(land_mm[1], terminal_mm[1])
    pressed = tuple(min(a, t) for a, t in zip(aperture_mm, terminal_mm, strict=True))
    seat: Seat = "film" if lead_um is None else "lead"
    deposit = Deposited(
        transfer=band.mean,
        low=band.low,
        high=band.high,
        cv=band.sd / band.mean,
        metal_mm3=metal,
        height_um=film,
        dome_um=1000 * dome_height(*land_mm, metal),
        slump_mm=float(cold_slump_mm(min(aperture_mm), foil_um)),
        area_ratio=ratio,
    )
    foot = Footing(land, held, pressed[0] * pressed[1], 2 * sum(pressed))
    joints = tuple(
        JointGeometry(name, ROW_MM, y, False, deposit, foot) for name, y in (("1", -pitch_mm / 2), ("2", pitch_mm / 2))
    )
    lead = None if lead_um is None else (terminal_mm[1], lead_um / 1000)
    hold = land_hold(land_mm[1], pitch_mm - land_mm[1], land, held, lead_mm=lead)
    beyond, apart = (terminal_mm[1] - aperture_mm[1]) / 2, (land_mm[1] - aperture_mm[1]) / 2
    pair = PairGeometry(0, 1, pitch_mm - aperture_mm[1], 0.0, 1.0, (beyond, beyond), (apart, apart), (hold, hold))
    geometry = PartGeometry(
        name="two neighbours",
        family="leadless dual" if lead_um is None else "gull-wing dual",
        foil_um=foil_um,
        least_um=LARGEST_PARTICLE_UM[powder],
        diagonal_mm=0.0,
        rest=Resting(seat, film, film, band.sd / band.mean, 1e-3, ratio),
        joints=joints,
        pairs=(pair,),
        skew=(None, None),
        sides=((), ()),
        span_mm=0.0,
        pair_classes=((0, 1, 0),),
        joint_classes=((0, 2, 0),),
    )
    return part_at(geometry, scatter)
