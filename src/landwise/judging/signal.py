"""Figures of the signal side: ground bounce and how near the capacitor must sit."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from landwise.evidence.figures import Figure, Step, Verdict, figure
from landwise.evidence.trails import Given, earlier, worked
from landwise.joints.standing import BallStand
from landwise.judging.leaves import of_outline, of_part, of_rule, of_study, part_step
from landwise.lately import Lately
from landwise.outlines import GRIDS, Outline, terminals
from landwise.quantities import several
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
    case = _case(geometry, part, family)
    return _bounce(case), _decoupling(case, bench)


def inductance_of(outline: Outline, grounds: tuple[str, ...], stand: BallStand | None) -> PackageInductance:
    """A package's inductance, its molten balls included."""
    height = stand.height_mm if stand and outline.family in GRIDS else 0.0
    # Its terminals and grounds are the same under every shared decision.
    return _KNOWN.of((outline,), (grounds, height), lambda: package_inductance(outline, grounds, height))


_KNOWN: Lately[PackageInductance] = Lately(most=512)


def effective_middle(package: PackageInductance) -> float:
    """Middle of the effective ground inductance's band. [nH]"""
    return math.sqrt(package.effective_low * package.effective_high)


def outputs_of(part: PartTable, outline: Outline) -> int:
    """How many outputs it has, as stated or as its function and terminals say."""
    return outputs_in(part.function, outline.terminals)[0] if part.outputs is None else part.outputs


def family_named(name: str) -> Family:
    """A logic family that is in the table."""
    family = family_of(name)
    if family is None:
        raise ValueError(f"no family {name}")
    return family


def bounce_of(package: PackageInductance, part: PartTable, outputs: int, edges_of: str) -> electrical.Bounce:
    """Ground bounce with the edges of a family, all outputs but one switching."""
    supply = part.supply or family_named(part.family).supply_v
    inductance = (package.effective_low, package.effective_high)
    edges = family_named(edges_of).edge_ns
    return electrical.bounce_band(max(1, outputs - 1), inductance, part.load, supply, edges)


def loop_per_mm(layers: int) -> float:
    """Inductance of each mm of track to the capacitor, over a plane or beside its return. [nH/mm]"""
    if layers >= 4:
        return electrical.track_plane_nh_mm(TRACK_MM, PLANE_MM)
    return electrical.track_pair_nh_mm(TRACK_MM, COPPER_MM, APART_MM)


def capacitor_reach(
    package: PackageInductance, outline: Outline, part: PartTable, outputs: int, layers: int
) -> tuple[float, float, float]:
    """How far the supply's capacitor may sit: low, value, high. [mm]"""
    family, per_mm = family_named(part.family), loop_per_mm(layers)
    supply = part.supply or family.supply_v
    # Without a plane the loop also runs from the supply terminal to the ground terminal.
    across = 0.0 if layers >= 4 else _supply_to_ground(outline, package) * per_mm
    low, value, high = (
        electrical.decoupling_distance(
            outputs, 2 * each + across, part.load, supply, edge * 1e-9, SAG_SHARE * supply, 2 * per_mm
        )
        for each, edge in (
            (package.effective_high, family.edge_ns[0]),
            (effective_middle(package), math.sqrt(family.edge_ns[0] * family.edge_ns[1])),
            (package.effective_low, family.edge_ns[1]),
        )
    )
    return low, value, high


@dataclass(frozen=True)
class _Case:
    """One part in one package: what both figures need, as values and as steps."""

    geometry: Geometry
    part: PartTable
    family: Family
    found: PackageInductance
    outputs: int
    read: bool
    package: Step
    table: Step
    counted: Step

    @property
    def given(self) -> dict[str, Given]:
        """Package, part and outputs as inputs of a step."""
        return {"package": earlier(self.package), "part": earlier(self.table), "outputs": earlier(self.counted)}


def _case(geometry: Geometry, part: PartTable, family: Family) -> _Case:
    outline = geometry.outline
    package = worked(
        "inductance of the package from its drawing",
        inductance_of,
        {
            "outline": of_outline(outline),
            "grounds": of_part(part, "ground", value=tuple(part.ground)),
            "stand": earlier(geometry.stations["balls"]),
        },
        key="package",
        sources=PACKAGE_SOURCES,
    )
    table = part_step(part)
    counted = worked("outputs", outputs_of, {"part": earlier(table), "outline": of_outline(outline)}, key="outputs")
    read = part.outputs is not None or outputs_in(part.function, outline.terminals)[1]
    return _Case(geometry, part, family, package.result, counted.result, read, package, table, counted)


def _package_step(case: _Case) -> Step:
    found = case.found
    whose = ", ".join(found.grounds[:4]) + ("…" if len(found.grounds) > 4 else "")
    return worked(
        f"ground terminal {whose}{' (usual for standard logic)' if found.guessed else ''}: {found.ground_low:.2f} to"
        f" {found.ground_high:.2f} nH from the drawing, {found.effective_low:.2f} to {found.effective_high:.2f} nH with"
        " returns and neighbours; no measurement of logic packages backs it",
        effective_middle,
        {"package": earlier(case.package)},
        inputs={
            "all terminals": f"{found.least:.2f}…{found.most:.2f} nH",
            "coupling of neighbours": f"{found.coupling:.2f}",
        },
        unit="nH",
        formula="package-inductance",
        valid="die and bond wires assumed as a band",
        sources=PACKAGE_SOURCES,
    )


def _bounce(case: _Case) -> Figure:
    part, family, outputs, read = case.part, case.family, case.outputs, case.read
    supply = part.supply or family.supply_v
    limit = family.threshold(supply)
    switching = max(1, outputs - 1)
    edges = of_rule(part.family, "table of families", FAMILY_SOURCE)
    step = worked(
        f"{several(switching, 'output')} switch into {part.load:g} pF with {part.family} edges of"
        f" {family.edge_ns[0]:g} to {family.edge_ns[1]:g} ns, one stays low; rounded current of the slow edge to"
        " triangle of the fast one, held below the swing",
        bounce_of,
        {**case.given, "edges_of": edges},
        inputs={"supply": f"{supply:g} V", "outputs": f"{outputs}{'' if read else ' (guessed from the terminals)'}"},
        unit="V",
        formula="ground-bounce",
        valid="compares packages; above a third of the swing only a flag",
        sources=("ti-ground-bounce", FAMILY_SOURCE),
    )
    band: electrical.Bounce = step.result
    verdict: Verdict = "holds" if band.high <= limit else "fails" if band.low > limit else "marginal"
    steps = [_package_step(case), step]
    quicker = family_of(family.faster) if family.faster else None
    if quicker is not None:
        hard = of_rule(family.faster, "table of families", FAMILY_SOURCE)
        steps.append(
            worked(
                f"the faster {family.faster} in this package",
                bounce_of,
                {**case.given, "edges_of": hard},
                unit="V",
                formula="ground-bounce",
                sources=("ti-ground-bounce", FAMILY_SOURCE),
            )
        )
    why = f"{switching} of {outputs} outputs against inputs that take up to {limit:.2g} V as low"
    if band.raw_high > supply / 3:
        why += "; its upper end is a flag, not a prediction"
    return figure(
        step,
        key="bounce",
        title="ground bounce",
        better="less",
        limit=limit,
        limit_source=FAMILY_SOURCE,
        verdict=verdict,
        why=why,
        trail=tuple(steps),
    )


def _decoupling(case: _Case, bench: Bench) -> Figure:
    family, outputs, layers = case.family, case.outputs, bench.content.board.layers
    planes, per_mm = layers >= 4, loop_per_mm(layers)
    low, value, high = capacitor_reach(case.found, case.geometry.outline, case.part, outputs, layers)
    verdict: Verdict = "holds" if low >= NEAR_MM else "marginal"  # no capacitor mends a package: the bounce judges that
    kind = "over a plane" if planes else "beside its return, no plane"
    step = worked(
        f"loop of two sides {kind}, {per_mm:.2f} nH per mm each, and both supply terminals; sag up to {SAG_SHARE:.0%}"
        " of the supply",
        capacitor_reach,
        {
            **case.given,
            "outline": of_outline(case.geometry.outline),
            "layers": of_study(bench.content, "board.layers"),
        },
        result=(low, value, high),
        inputs={"outputs": str(outputs), "edge": f"{family.edge_ns[0]:g}…{family.edge_ns[1]:g} ns"},
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
    return figure(
        step,
        key="decoupling",
        title="farthest supply capacitor",
        better="more",
        limit=NEAR_MM,
        limit_source="landwise-rule",
        verdict=verdict,
        why=why,
        trail=(_package_step(case), step),
    )


def _supply_to_ground(outline: Outline, found: PackageInductance) -> float:
    """From the ground terminal to the farthest-numbered one, which is the supply on standard parts. [mm]"""
    places = {place.number: place for place in terminals(outline) if place.number != "EP"}
    last = places[list(places)[-1]]
    return min(math.hypot(last.x_mm - places[g].x_mm, last.y_mm - places[g].y_mm) for g in found.grounds)
