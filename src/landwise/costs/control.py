"""What controlling the joints of a part costs, and what its defects cost, under a plan of inspection and test."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from landwise.access.inspection import Sight
from landwise.access.plans import FIRST_PIECES, IN_CIRCUIT, PASTE, XRAY, DefectKind, Found, Plan, found_by
from landwise.costs.loads import Line, Load

ABOVE: Sight = "from above"


@dataclass(frozen=True)
class Controlled:
    """What inspection has to do with one part.

    Parameters
    ----------
    joints : mapping of Sight to int
        Joints by where they can be seen from.
    defects : mapping of (Sight, DefectKind) to float
        Expected defects of one part, before anything is found.
    """

    joints: Mapping[Sight, int]
    defects: Mapping[tuple[Sight, DefectKind], float]


def control_loads(part: Controlled, plan: Plan) -> tuple[Load, ...]:
    """What one part pays under a plan: looking at its joints, and what becomes of its defects.

    Parameters
    ----------
    part : Controlled
    plan : Plan

    Notes
    -----
    A defect found in the print is washed off; one found after reflow is mended (dearer where the joint does not show);
    one found at test is traced first; one that escapes comes back from the customer. A share of those found scraps
    the board. Mending is taken to succeed otherwise.

    Examples
    --------
    >>> part = Controlled({"from above": 14}, {("from above", "bridge"): 1e-4})
    >>> [load.line.value for load in control_loads(part, Plan(("optical", "functional")))]
    ['optical', 'rework', 'late', 'scrap', 'escapes']
    """
    looked: list[Load] = []
    above, side = part.joints.get(ABOVE, 0), part.joints.get("from the side", 0)
    if "optical" in plan.steps and above:
        looked.append(Load(Line.OPTICAL, ("optical",), float(above)))
    if "side-view" in plan.steps and side:
        looked.append(Load(Line.SIDE_VIEW, ("side_view",), float(side)))
    units: dict[tuple[Line, tuple[str, ...]], float] = {}
    for (sight, kind), expected in part.defects.items():
        for line, rates, share in _ends(sight, found_by(plan, sight, kind)):
            units[line, rates] = units.get((line, rates), 0.0) + expected * share
    return (*looked, *(Load(line, rates, value) for (line, rates), value in units.items() if value > 0))


def _ends(sight: Sight, found: Found) -> tuple[tuple[Line, tuple[str, ...], float], ...]:
    mended = found.inspected + found.tested
    mending = (Line.REWORK, ("rework",)) if sight == ABOVE else (Line.REWORK_HIDDEN, ("rework_hidden",))
    return (
        (Line.REPRINT, ("reprint",), found.in_print),
        (*mending, mended),
        (Line.LATE, ("late",), found.tested),
        (Line.SCRAP, ("scrap", "board_value"), mended),
        (Line.ESCAPES, ("escape",), found.escaped),
    )


def plan_loads(plan: Plan, *, xray_paid: float = 0.0) -> tuple[Load, ...]:
    """What a plan costs the board whatever its parts: X-ray, paste inspection, a fixture.

    Parameters
    ----------
    plan : Plan
    xray_paid : float
        Share of the boards that are looked at for other parts already, which costs these parts nothing more.

    Examples
    --------
    >>> from landwise.costs.rates import default_rates
    >>> from landwise.costs.loads import money
    >>> plan = Plan(("optical", "functional", "x-ray"), 0.01)
    >>> round(money(plan_loads(plan), default_rates(), 1000), 3)
    0.085
    """
    found = []
    if XRAY in plan.steps and plan.xray_share > xray_paid:
        found.append(Load(Line.XRAY, ("xray",), plan.xray_share - xray_paid))
    if XRAY in plan.steps and not xray_paid:
        found.append(Load(Line.XRAY, ("xray",), FIRST_PIECES * (1 - plan.xray_share), per_run=True))
        found.append(Load(Line.XRAY, ("xray_setup",), 1.0, per_run=True))
    if PASTE in plan.steps:
        found.append(Load(Line.PASTE, ("paste_inspection",), 1.0))
    if IN_CIRCUIT in plan.steps:
        found += [
            Load(Line.IN_CIRCUIT, ("in_circuit",), 1.0),
            Load(Line.IN_CIRCUIT, ("in_circuit_setup",), 1.0, per_run=True),
        ]
    return tuple(found)
