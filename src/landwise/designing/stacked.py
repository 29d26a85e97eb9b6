"""One option under many designs at once: its joints and pairs with an array in place of every number."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from types import SimpleNamespace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from landwise.assembly.geometry import NARROWEST_TESTED, WIDEST_TESTED
from landwise.assembly.partbuild import TILTING
from landwise.assembly.partmodel import PartModel
from landwise.assembly.scatter import Scatter
from landwise.designing.curves import Curve
from landwise.designing.frame import Apart, Frame, Sizes, Stand, Table
from landwise.joints.contact import dome_height
from landwise.printing.model import Powder, Technology
from landwise.printing.paste import LARGEST_PARTICLE_UM, paste_metal_fraction, slump_spacing

Array = NDArray[np.float64]
TALLEST_MM = 0.4  # of solder over its land, up to which domes are tabled


@dataclass(frozen=True)
class Line:
    """What prints: the foil's technology, the powder, and what scatters."""

    scatter: Scatter
    technology: Technology = "laser-cut"
    powder: Powder = "T4"

    def at(self, ends: Mapping[str, str]) -> Line:
        """The same line with some terms of its scatter at an end of their range."""
        return replace(self, scatter=self.scatter.at(ends))


@lru_cache(maxsize=512)
def _domes(length_mm: float, width_mm: float) -> tuple[Array, Array]:
    """Heights of molten deposits on one land over their volumes. [mm, mm³]"""
    volumes = np.linspace(0.0, 1.0, 33) ** 2 * length_mm * width_mm * TALLEST_MM
    return volumes, np.array([dome_height(length_mm, width_mm, float(v)) for v in volumes])


def stacked(
    frame: Frame, table: Table, foil_um: float, line: Line, pastes: Sequence[Curve]
) -> tuple[Any, dict[int, SimpleNamespace]]:
    """The option's model with a row for every design, (curves, designs, 1) in place of each number."""
    base = frame.base.with_scatter(line.scatter)
    metal = paste_metal_fraction(line.powder)
    slump = slump_spacing(WIDEST_TESTED * foil_um / 1000, foil_um, hot=False) / (WIDEST_TESTED * foil_um / 1000)
    joints: dict[int, SimpleNamespace] = {}
    known: dict[int, dict[str, Any]] = {}
    for number, stand in frame.stands.items():
        if stand.alike not in known:
            known[stand.alike] = _alike(frame.stands[stand.alike], table, foil_um, (pastes, metal, slump))
        joints[number] = _joint(base, stand, known[stand.alike])
    counted = [(stand.count, joints[number]) for number, stand in frame.stands.items() if stand.count]
    total = sum(count for count, _ in counted)
    wet = foil_um * sum(count * np.sqrt(joint.transfer) for count, joint in counted) / total
    seat_um, seat_cv = _seat(frame, table, joints, counted, line.scatter)
    for number, stand in frame.stands.items():
        joint = joints[number]
        joint.film_mm3 = 0.0
        joint.flux_share = line.scatter["least_paste"] / np.maximum(joint.transfer, 1e-9)
        if base.seat in ("film", "float"):
            joint.film_mm3 = joint.held_mm2 * np.minimum(seat_um, joint.solder_um) / 1000
        if base.seat == "ball":
            dip = foil_um / 1000 * np.sqrt(joint.transfer) * (1 - line.scatter["remaining_share"])
            rim = np.sqrt(np.maximum(0.0, 2 * stand_radius(stand) * dip - dip**2))
            joint.pressed_mm2, joint.pressed_edge_mm = math.pi * rim**2 / 2, 2 * math.pi * rim
    pairs, classes = [], []
    for number, (facing, apart) in enumerate(zip(frame.facing, table.pairs, strict=True)):
        pairs.append(
            SimpleNamespace(
                first=facing.first,
                second=facing.second,
                gap_mm=apart.gap[:, None],
                nx=apart.nx[:, None],
                ny=apart.ny[:, None],
                terminal_beyond=tuple(one[:, None] for one in apart.terminal),
                land_beyond=tuple(one[:, None] for one in apart.land),
                capacity_mm3=facing.capacity_mm3,
            )
        )
        classes.append((number, facing.count, 0))
    first = counted[0][1]
    model = SimpleNamespace(
        scatter=line.scatter,
        foil_um=foil_um,
        wet_um=wet,
        least_um=LARGEST_PARTICLE_UM[line.powder],
        seat=base.seat,
        rows=(len(pastes), len(table.designs)) if np.ndim(seat_um) else (1, 1),
        seat_um=seat_um,
        seat_cv=seat_cv,
        diagonal_mm=base.diagonal_mm,
        joints=_Numbered(joints, first),
        pairs=pairs,
        skew=base.skew,
        pair_classes=tuple(classes),
        joint_classes=tuple((number, stand.count, 0) for number, stand in frame.stands.items() if stand.count),
        float_joint=joints[base.joint_classes[0][0]],
    )
    return model, joints


class _Numbered(dict[int, SimpleNamespace]):
    """Joints by number; the first of them, whose spread the seat takes, where no kind stands for it."""

    def __init__(self, joints: Mapping[int, SimpleNamespace], first: SimpleNamespace) -> None:
        super().__init__(joints)
        self.first = first

    def __missing__(self, number: int) -> SimpleNamespace:
        return self.first


def stand_radius(stand: Stand) -> float:
    """Radius of a ball. [mm]"""
    return float(np.ptp(stand.foot_points[:, 0])) / 2


def _alike(stand: Stand, table: Table, foil_um: float, paste: tuple[Sequence[Curve], float, float]) -> dict[str, Any]:
    """What all joints have in common whose openings measure the same."""
    sizes = table.sizes[stand.number]
    curves, metal, slump = paste
    ratio = sizes.slender / foil_um * 1000
    found = [at(ratio) for at in curves]
    transfer, cv = np.array([one[0] for one in found]), np.array([one[1] for one in found])
    solder = sizes.area * foil_um / 1000 * transfer * metal
    land = stand.land.place.shape
    volumes, domes = _domes(land.length_mm, land.width_mm)
    foil_mm = foil_um / 1000
    tested = np.clip(sizes.narrow, NARROWEST_TESTED * foil_mm, WIDEST_TESTED * foil_mm)
    return {
        "transfer": transfer[..., None],
        "cv": cv[..., None],
        "metal_mm3": solder[..., None],
        "solder_um": (solder / land.area_mm2 * 1000)[..., None],
        "dome_um": 1000 * np.interp(solder, volumes, domes)[..., None],
        "pressed_mm2": sizes.pressed[:, None],
        "pressed_edge_mm": sizes.pressed_edge[:, None],
        "slump_mm": (slump * tested / 2)[:, None],
    }


def _joint(model: PartModel, stand: Stand, known: Mapping[str, Any]) -> SimpleNamespace:
    base = model.joints[stand.number]
    return SimpleNamespace(
        x_mm=base.x_mm,
        y_mm=base.y_mm,
        ball_mm3=base.ball_mm3,
        held_mm2=base.held_mm2,
        lift_um=base.lift_um,
        lift_sd_um=base.lift_sd_um,
        bow=base.bow,
        counts=base.counts,
        **known,
    )


def _seat(
    frame: Frame, table: Table, joints: Mapping[int, SimpleNamespace], counted: Any, scatter: Scatter
) -> tuple[Any, Any]:
    """What the part rests on, and its spread; the balance of forces is taken as that of the print as the lands."""
    base, rest = frame.base, frame.base.geometry.rest
    if base.seat == "lead":
        return scatter["lead_film"], 0.0
    if base.seat == "ball":
        return base.seat_um, 0.0
    if base.seat == "float":
        number, stand = next((n, s) for n, s in frame.stands.items() if s.kind == "pad")
        balance = rest.height_um / base.geometry.joints[number].deposit.height_um
        cover = (table.sizes[number].area / stand.land.place.shape.area_mm2)[:, None]
        pad = joints[number]
        gas = np.minimum(1 / (1 - scatter["void_share"]), 1 / np.minimum(1.0, cover))
        return pad.solder_um * balance * gas, pad.cv
    total = sum(count for count, _ in counted)
    numbers = [number for number, joint in enumerate(base.geometry.joints) if joint.counts]
    balance = rest.height_um / float(np.mean([base.geometry.joints[n].deposit.height_um for n in numbers]))
    return balance * sum(count * joint.solder_um for count, joint in counted) / total, counted[0][1].cv


def float_chance(model: Any, numbers: Array) -> Any:
    """Chance that a centre pad carries its part out of reach, with its own spread integrated."""
    from scipy.special import ndtr

    if model.seat != "float":
        return 0.0
    joint, scatter, common = model.float_joint, model.scatter, numbers[3]
    shared = scatter["volume_common"] * common
    seat = model.seat_um * np.maximum(1e-3, 1 + model.seat_cv * shared)
    tears = scatter["tear_factor"] * joint.metal_mm3 * np.maximum(1e-3, 1 + joint.cv * shared)
    return ndtr(np.log(seat / (tears / joint.held_mm2 * 1000)) / scatter["float_spread"])


def tilt_chance(frame: Frame, model: Any, joints: Mapping[int, SimpleNamespace], shape: tuple[int, int]) -> Array:
    from scipy.special import ndtr

    base = frame.base
    if not base.tilt_um or len(base.joints) > TILTING:
        return np.zeros(shape)
    own = math.sqrt(1 - model.scatter["volume_common"] ** 2)
    numbers = {
        k: next((n for n in joints if base.geometry.joints[n].kind == base.geometry.joints[k].kind), None)
        for k in {k for side in base.sides for k in side}
    }
    variance: Any = 0.0
    for side in base.sides:
        for k in side:
            stands_for = numbers[k]
            cv = model.joints.first.cv if stands_for is None else joints[stands_for].cv
            variance = variance + (model.seat_um * cv * own / len(side)) ** 2
    return np.broadcast_to(2 * ndtr(-base.tilt_um / np.sqrt(np.maximum(variance, 1e-12)))[..., 0], shape)


def first_of(table: Table) -> Table:
    """The table of the first design alone."""
    sizes = {
        number: Sizes(one.area[:1], one.slender[:1], one.narrow[:1], one.pressed[:1], one.pressed_edge[:1])
        for number, one in table.sizes.items()
    }
    pairs = tuple(
        Apart(
            one.gap[:1],
            one.nx[:1],
            one.ny[:1],
            (one.terminal[0][:1], one.terminal[1][:1]),
            (one.land[0][:1], one.land[1][:1]),
        )
        for one in table.pairs
    )
    return Table(table.designs[:1], sizes, pairs)
