"""One option under many designs at once, on one foil or on several: its geometry with an array for every number.

The joints and pairs that stand for their kinds become a `PartGeometry` of `assembly`, whose fields hold arrays (curves,
designs, 1); everything that the line makes of it is then `assembly`'s own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from landwise.assembly.geometry import (
    Deposited,
    JointGeometry,
    PairGeometry,
    PartGeometry,
    Resting,
    cold_slump_mm,
)
from landwise.assembly.partmodel import PartModel, lowest_of, part_at
from landwise.assembly.scatter import Scatter
from landwise.designing.curves import Curve
from landwise.designing.frame import Apart, Facing, Frame, Stand, Table
from landwise.joints.contact import dome_height
from landwise.printing.model import Powder, Technology
from landwise.printing.paste import LARGEST_PARTICLE_UM, paste_metal_fraction
from landwise.untyped import Fields, Number

Array = NDArray[np.float64]
TALLEST_MM = 0.4  # of solder over its land, up to which domes are tabled


@dataclass(frozen=True)
class Line:
    """What prints: the foil's technology, the powder, and what scatters."""

    scatter: Scatter
    technology: Technology = "laser-cut"
    powder: Powder = "T4"


@lru_cache(maxsize=512)
def _domes(length_mm: float, width_mm: float) -> tuple[Array, Array]:
    """Heights of molten deposits on one land over their volumes. [mm, mm³]"""
    volumes = np.linspace(0.0, 1.0, 33) ** 2 * length_mm * width_mm * TALLEST_MM
    return volumes, np.array([dome_height(length_mm, width_mm, float(v)) for v in volumes])


def stacked(
    frame: Frame,
    table: Table,
    foil_um: float | Array,
    line: Line,
    pastes: Sequence[Curve],
    *,
    balance: float | Array = 1.0,
    scatter: Scatter | None = None,
) -> PartModel:
    """The option under every design and every curve of transfer, as one model.

    Parameters
    ----------
    frame, table
        The option, and what its designs measure.
    foil_um : float, or array (curves, 1)
        The foil that all are printed with, or that of each curve. [µm]
    line : Line
    pastes : sequence of callable
        Mean transfer and spread over area ratio.
    balance : float, or array (curves, 1, 1)
        Height by the balance of forces over what the solder alone would fill, from the print held against.
    scatter : Scatter, optional
        In place of the line's: its terms may be arrays that broadcast against (curves, designs, 1).
    """
    metal = paste_metal_fraction(line.powder)
    known: dict[int, Deposited] = {}
    order = {number: k for k, number in enumerate(frame.stands)}
    joints = []
    for stand in frame.stands.values():
        if stand.alike not in known:
            known[stand.alike] = _deposited(frame.stands[stand.alike], table, foil_um, (pastes, metal))
        joints.append(_joint(frame, stand, table, known[stand.alike]))
    pairs = tuple(_pair(facing, apart, order) for facing, apart in zip(frame.facing, table.pairs, strict=True))
    base = frame.base
    foil: Fields = {"foil_um": foil_um[..., None] if isinstance(foil_um, np.ndarray) else foil_um}
    geometry = PartGeometry(
        name=base.name,
        family=base.family,
        **foil,
        least_um=LARGEST_PARTICLE_UM[line.powder],
        diagonal_mm=base.diagonal_mm,
        rest=_rest(frame, table, joints, balance),
        joints=tuple(joints),
        pairs=pairs,
        skew=base.skew,
        sides=frame.sides,
        span_mm=base.span_mm,
        pair_classes=tuple((k, facing.count, 0) for k, facing in enumerate(frame.facing)),
        joint_classes=tuple((order[n], stand.count, 0) for n, stand in frame.stands.items() if stand.count),
    )
    model = part_at(geometry, scatter or line.scatter)
    if base.rest.kind != "lead":
        return model
    # Leads rest on the lowest of all of them, not of those that stand for their kinds.
    lowest = lowest_of(len(base.joints))
    return replace(model, joints=tuple(replace(one, lift_um=one.lift_sd_um * lowest) for one in model.joints))


def _deposited(stand: Stand, table: Table, foil_um: float | Array, paste: tuple[Sequence[Curve], float]) -> Deposited:
    """What all deposits have in common whose openings measure the same."""
    sizes = table.sizes[stand.number]
    curves, metal = paste
    ratio = sizes.slender / foil_um * 1000
    transfer, cv, low, high = _transfer(curves, ratio)
    solder = sizes.area * foil_um / 1000 * transfer * metal
    land = stand.land.place.shape
    volumes, domes = _domes(land.length_mm, land.width_mm)
    several: Fields = {
        "transfer": transfer[..., None],
        "low": low[..., None],
        "high": high[..., None],
        "cv": cv[..., None],
        "metal_mm3": solder[..., None],
        "height_um": (solder / land.area_mm2 * 1000)[..., None],
        "dome_um": 1000 * np.interp(solder, volumes, domes)[..., None],
        "slump_mm": cold_slump_mm(sizes.narrow, foil_um)[..., None],
        "area_ratio": ratio[..., None],
    }
    return Deposited(**several)


def _transfer(curves: Sequence[Curve], ratio: Array) -> Array:
    """Transfer, spread and the band's ends of every curve at its own area ratios, (4, curves, designs)."""
    ratio = np.broadcast_to(ratio, (len(curves), ratio.shape[-1]))
    found = np.empty((4, *ratio.shape))
    rows: dict[Curve, list[int]] = {}
    for k, at in enumerate(curves):
        rows.setdefault(at, []).append(k)
    for at, its in rows.items():
        found[:, its] = at(ratio[its])
    return found


def _joint(frame: Frame, stand: Stand, table: Table, deposit: Deposited) -> JointGeometry:
    base, sizes = frame.base.joints[stand.number], table.sizes[stand.number]
    pressed: Fields = {"pressed_mm2": sizes.pressed[..., None], "pressed_edge_mm": sizes.pressed_edge[..., None]}
    foot = base.foot if frame.base.rest.kind == "ball" else replace(base.foot, **pressed)
    return replace(base, deposit=deposit, foot=foot)


def _pair(facing: Facing, apart: Apart, order: Mapping[int, int]) -> PairGeometry:
    several: Fields = {
        "gap_mm": apart.gap[..., None],
        "nx": apart.nx[..., None],
        "ny": apart.ny[..., None],
        "terminal_beyond": tuple(one[..., None] for one in apart.terminal),
        "land_beyond": tuple(one[..., None] for one in apart.land),
    }
    return PairGeometry(order[facing.first], order[facing.second], holds=facing.holds, **several)


def _rest(frame: Frame, table: Table, joints: Sequence[JointGeometry], balance: float | Array) -> Resting:
    base = frame.base.rest
    if base.kind in ("lead", "ball"):
        return base
    stands = list(frame.stands.values())
    height: Number
    apart: Number
    if base.kind == "float":
        pad = next(joint for joint in joints if not joint.counts)
        height = balance * pad.deposit.height_um
        stand = next(stand for stand in stands if stand.kind == "pad")
        coverage = table.sizes[stand.number].area / stand.land.place.shape.area_mm2
        apart = height / np.minimum(1.0, coverage)[..., None]
        return Resting("float", height, apart, pad.deposit.cv, base.coplanarity_um, pad.deposit.area_ratio)
    total = sum(stand.count for stand in stands)
    height = balance * sum(s.count * joint.deposit.height_um for s, joint in zip(stands, joints, strict=True)) / total
    first = next(joint for stand, joint in zip(stands, joints, strict=True) if stand.count)
    return Resting("film", height, height, first.deposit.cv, base.coplanarity_um, first.deposit.area_ratio)
