"""What inspection and test have to do with one option: its joints by sight, and its expected defects by kind."""

from __future__ import annotations

from landwise.access.inspection import SIGHTS, Sight, Sights
from landwise.access.plans import DefectKind
from landwise.assembly.partrates import PartRates
from landwise.costs.control import Controlled
from landwise.judging.bench import Geometry

DRILLED_JOINT_DEFECTS = 46e-6  # median of 380 wave batches of about 1,000 joints each
DRILLED_SOURCE = "wave-batches"
ABOVE: Sight = "from above"


def controlled(geometry: Geometry) -> Controlled:
    """Joints of one option by where they can be seen from, and its expected defects before anything is found.

    Notes
    -----
    Defects under the body or at its edge are shared out by the number of joints there. A drilled part's joints carry
    the median level of published wave batches, as opens.
    """
    return controlled_from(geometry.sights, geometry.outline.terminals, geometry.rates)


def controlled_from(sights: Sights, terminals: int, rates: PartRates | None) -> Controlled:
    """The same from what can be seen of a part's joints, its terminals, and the rates of its defects."""
    joints: dict[Sight, int] = dict(
        zip(SIGHTS, (sights.from_above, sights.from_the_side, sights.not_at_all), strict=True)
    )
    if rates is None:
        return Controlled(joints, {(ABOVE, "open"): DRILLED_JOINT_DEFECTS * terminals})
    bridges, opens = rates.bridges.value, rates.opens.value
    kinds: dict[DefectKind, float] = {
        "bridge": bridges,
        "open": opens,
        "other": max(0.0, rates.defects.value - bridges - opens),
    }
    unseen = sights.from_the_side + sights.not_at_all
    shares: dict[Sight, float] = {ABOVE: 1 - rates.hidden if unseen else 1.0}
    if unseen:
        shares["from the side"] = rates.hidden * sights.from_the_side / unseen
        shares["not at all"] = rates.hidden * sights.not_at_all / unseen
    return Controlled(
        joints,
        {
            (sight, kind): expected * share
            for kind, expected in kinds.items()
            for sight, share in shares.items()
            if expected * share > 0
        },
    )
