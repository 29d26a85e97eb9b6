"""Figures of the signal side: ground bounce and how near the capacitor must sit."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from landwise.evidence.figures import Figure, Step, Verdict
from landwise.outlines import GRIDS, Outline, terminals
from landwise.service import electrical
from landwise.service.families import SOURCE as FAMILY_SOURCE
from landwise.service.families import Family, family_of, outputs_in
from landwise.service.package_inductance import SOURCES as PACKAGE_SOURCES
from landwise.service.package_inductance import PackageInductance, package_inductance

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry
    from landwise.study.file import PartTable

SAG_SHARE = 0.1  # of the supply, while outputs switch; a rule of ours
NEAR_MM = 3.0  # a capacitor can always sit this near to a terminal; a rule of ours
TRACK_MM, PLANE_MM, APART_MM, COPPER_MM = 0.25, 0.25, 2.0, 0.035


def signal_figures(geometry: Geometry, part: PartTable, bench: Bench) -> tuple[Figure, ...]:
    """Bounce and decoupling of one option."""
    family = family_of(part.family)
    if family is None:
        said = f"the family {part.family} is not in the table" if part.family else "the logic family is not stated"
        return (
            Figure(
                key="bounce", title="ground bounce", value=None, unit="V", better="less", verdict="not known", why=said
            ),
            Figure(
                key="decoupling",
                title="farthest supply capacitor",
                value=None,
                unit="mm",
                better="more",
                verdict="not known",
                why=said,
            ),
        )
    height = geometry.stand.height_mm if geometry.stand and geometry.outline.family in GRIDS else 0.0
    found = package_inductance(geometry.outline, tuple(part.ground), height)
    outputs, read = part.outputs, True
    if outputs is None:
        outputs, read = outputs_in(part.function, geometry.outline.terminals)
    return _bounce(geometry, part, family, found, outputs, read), _decoupling(
        geometry, part, bench, family, found, outputs
    )


def _package_step(outline: Outline, found: PackageInductance) -> Step:
    whose = ", ".join(found.grounds[:4]) + ("…" if len(found.grounds) > 4 else "")
    return Step(
        says=f"ground terminal {whose}{' (usual for standard logic)' if found.guessed else ''}: {found.ground_low:.2f} to"
        f" {found.ground_high:.2f} nH from the drawing, {found.effective_low:.2f} to {found.effective_high:.2f} nH with"
        " returns and neighbours; no measurement of logic packages backs it",
        inputs={
            "all terminals": f"{found.least:.2f}…{found.most:.2f} nH",
            "coupling of neighbours": f"{found.coupling:.2f}",
        },
        value=math.sqrt(found.effective_low * found.effective_high),
        unit="nH",
        formula="package-inductance",
        valid="die and bond wires assumed as a band",
        sources=PACKAGE_SOURCES,
    )


def _bounce(
    geometry: Geometry, part: PartTable, family: Family, found: PackageInductance, outputs: int, read: bool
) -> Figure:
    supply = part.supply or family.supply_v
    limit = family.threshold(supply)
    switching = max(1, outputs - 1)
    inductance = (found.effective_low, found.effective_high)
    band = electrical.bounce_band(switching, inductance, part.load, supply, family.edge_ns)
    verdict: Verdict = "holds" if band.high <= limit else "fails" if band.low > limit else "marginal"
    step = Step(
        says=f"{switching} output{'s' if switching > 1 else ''} switch into {part.load:g} pF with {part.family} edges of"
        f" {family.edge_ns[0]:g} to {family.edge_ns[1]:g} ns, one stays low; rounded current of the slow edge to"
        " triangle of the fast one, held below the swing",
        inputs={"supply": f"{supply:g} V", "outputs": f"{outputs}{'' if read else ' (guessed from the terminals)'}"},
        value=band.value,
        unit="V",
        formula="ground-bounce",
        valid="compares packages; above a third of the swing only a flag",
        sources=("ti-ground-bounce", FAMILY_SOURCE),
    )
    steps = [_package_step(geometry.outline, found), step]
    quicker = family_of(family.faster) if family.faster else None
    if quicker is not None:
        hard = electrical.bounce_band(switching, inductance, part.load, supply, quicker.edge_ns)
        steps.append(
            Step(
                says=f"the faster {family.faster} in this package",
                value=hard.value,
                unit="V",
                formula="ground-bounce",
                sources=("ti-ground-bounce", FAMILY_SOURCE),
            )
        )
    why = f"{switching} of {outputs} outputs against inputs that take up to {limit:.2g} V as low"
    if band.raw_high > supply / 3:
        why += "; its upper end is a flag, not a prediction"
    return Figure(
        key="bounce",
        title="ground bounce",
        value=band.value,
        unit="V",
        low=band.low,
        high=band.high,
        better="less",
        limit=limit,
        limit_source=FAMILY_SOURCE,
        verdict=verdict,
        why=why,
        trail=tuple(steps),
    )


def _decoupling(
    geometry: Geometry, part: PartTable, bench: Bench, family: Family, found: PackageInductance, outputs: int
) -> Figure:
    supply = part.supply or family.supply_v
    planes = bench.content.board.layers >= 4
    per_mm = (
        electrical.track_plane_nh_mm(TRACK_MM, PLANE_MM)
        if planes
        else electrical.track_pair_nh_mm(TRACK_MM, COPPER_MM, APART_MM)
    )
    # Without a plane the loop also runs from the supply terminal to the ground terminal.
    across = 0.0 if planes else _supply_to_ground(geometry.outline, found) * per_mm
    reach = [
        electrical.decoupling_distance(
            outputs, 2 * each + across, part.load, supply, edge * 1e-9, SAG_SHARE * supply, 2 * per_mm
        )
        for each, edge in (
            (found.effective_high, family.edge_ns[0]),
            (math.sqrt(found.effective_low * found.effective_high), math.sqrt(family.edge_ns[0] * family.edge_ns[1])),
            (found.effective_low, family.edge_ns[1]),
        )
    ]
    low, value, high = reach
    verdict: Verdict = "holds" if low >= NEAR_MM else "marginal"  # no capacitor mends a package: the bounce judges that
    kind = "over a plane" if planes else "beside its return, no plane"
    step = Step(
        says=f"loop of two sides {kind}, {per_mm:.2f} nH per mm each, and both supply terminals; sag up to {SAG_SHARE:.0%}"
        " of the supply",
        inputs={"outputs": str(outputs), "edge": f"{family.edge_ns[0]:g}…{family.edge_ns[1]:g} ns"},
        value=value,
        unit="mm",
        formula="decoupling-distance",
        valid="ideal capacitor, rounded edge: the true distance is shorter",
        sources=("ti-ground-bounce", "track-plane-memory", "decoupling-sheets"),
    )
    if high <= 0:
        why = (
            "right beside each supply terminal, and even so package and loop let the supply sag by more: the bounce"
            " says what that does"
        )
    elif value < 0.5:
        why = f"0.1 µF right at each supply terminal, and slow edges ({kind})"
    else:
        why = f"0.1 µF at each supply terminal, no farther than {value:.2g} mm ({kind})"
    return Figure(
        key="decoupling",
        title="farthest supply capacitor",
        value=value,
        unit="mm",
        low=low,
        high=high,
        better="more",
        limit=NEAR_MM,
        limit_source="landwise-rule",
        verdict=verdict,
        why=why,
        trail=(_package_step(geometry.outline, found), step),
    )


def _supply_to_ground(outline: Outline, found: PackageInductance) -> float:
    """From the ground terminal to the farthest-numbered one, which is the supply on standard parts. [mm]"""
    places = {place.number: place for place in terminals(outline) if place.number != "EP"}
    last = places[list(places)[-1]]
    return min(math.hypot(last.x_mm - places[g].x_mm, last.y_mm - places[g].y_mm) for g in found.grounds)
