"""Figures of the molten joints."""

from __future__ import annotations

from typing import TYPE_CHECKING

from landwise.evidence.figures import Figure, Step, Verdict
from landwise.joints.acceptance import SOURCE as CLASS_SOURCE
from landwise.joints.contact import ROBUST_SOURCE
from landwise.joints.contact import SOURCE as COPLANARITY_SOURCE
from landwise.joints.gullwing import SOURCES as FILLET_SOURCES
from landwise.joints.mounted import DrilledStand, LeadlessStand, LeadStand, Mounted
from landwise.joints.settling import OPEN_VIAS_SHARE, TARGET_SOURCE, TARGET_UM, via_solder
from landwise.joints.settling import SOURCE as STANDOFF_SOURCE
from landwise.joints.standing import SOURCES as GRID_SOURCES
from landwise.joints.standing import BallStand
from landwise.judging.exact import exact
from landwise.printing.holes import ENOUGH_FILL, FILL_SOURCE

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry
    from landwise.study.file import PartTable

VIA_MM = 0.3  # finished hole of a usual thermal via
WANTED_CLASS = 2  # dedicated-service electronics, the usual class of boards that are not toys


def joint_figures(geometry: Geometry, part: PartTable, bench: Bench) -> tuple[Figure, ...]:
    """How the part stands on its joints, what class its fillets meet, and whether every terminal is reached."""
    found: list[Figure] = []
    mounted = geometry.mounted
    if geometry.stand is not None:
        found += _grid(geometry.stand)
    if mounted.lead is not None:
        found += _lead(mounted.lead)
    if mounted.leadless is not None:
        found += _leadless(mounted.leadless, geometry, part, bench)
    if mounted.drilled is not None:
        found.append(_drilled(mounted.drilled))
    if mounted.contact is not None:
        found.append(_contact(mounted))
    return tuple(found)


def _grid(stand: BallStand) -> list[Figure]:
    weight = "" if stand.weight_known else "; the part's weight is not known and left out"
    step = Step(
        says=f"ball of {stand.before_mm:g} mm height melts together with its paste{weight}",
        inputs={"widest": f"{stand.max_diameter_mm:.3f} mm"},
        value=stand.height_mm * 1000,
        unit="um",
        formula="ball-joint",
        valid="edges pinned, part flat",
        sources=GRID_SOURCES,
    )
    collapse = 1 - stand.height_mm / stand.before_mm
    standoff = Figure(
        key="standoff",
        title="standoff after reflow",
        value=stand.height_mm * 1000,
        unit="um",
        low=stand.low_mm * 1000,
        high=stand.high_mm * 1000,
        better="neither",
        verdict="holds",
        why=f"the balls sink by {collapse:.0%}, from {stand.before_mm * 1000:.0f} µm",
        trail=(step,),
    )
    gap = exact(
        key="joint-gap",
        title="gap between molten joints",
        value=stand.gap_mm,
        unit="mm",
        better="more",
        limit=0.0,
        limit_source="young-laplace",
        verdict="holds" if stand.gap_mm > 0 else "fails",
        why=f"joints bulge to {stand.max_diameter_mm:.3f} mm",
        trail=(step,),
    )
    return [standoff, gap]


def _lead(stand: LeadStand) -> list[Figure]:
    foot, fillet = stand.foot, stand.fillet
    if fillet is None:
        why = f"{stand.solder_mm3 * 1000:.1f} nL of solder on a foot whose fillets hold {stand.most_mm3 * 1000:.1f} nL"
        return [Figure(key="fillet-class", title="class that the fillets meet", value=0.0, verdict="fails", why=why)]
    shape = Step(
        says="heel, toe and side fillets at one capillary pressure from the metal on the land",
        inputs={
            "foot": f"{foot.length_mm:.3f} × {foot.width_mm:.3f} mm, {foot.thickness_mm:.3f} mm thick",
            "land beyond": f"toe {foot.toe_mm:.3f}, heel {foot.heel_mm:.3f}, side {foot.side_mm[0]:.3f} mm",
            "solder": f"{stand.solder_mm3 * 1000:.2f} nL",
            "toe, side": f"{fillet.toe_mm * 1000:.0f}, {fillet.side_mm * 1000:.0f} µm",
        },
        value=fillet.heel_mm * 1000,
        unit="um",
        formula="gull-wing-fillet",
        valid="land and lead wetted; foot centred on its land",
        sources=FILLET_SOURCES,
    )
    lifted = f"; surplus solder lifts the foot by {foot.gap_mm * 1000:.0f} µm" if foot.gap_mm > 1e-4 else ""
    climbs = ", all the way up the leg" if fillet.reaches_shoulder else ""
    heel = Figure(
        key="heel-fillet",
        title="heel fillet" if foot.leg_deg is not None else "toe fillet",
        value=(fillet.heel_mm if foot.leg_deg is not None else fillet.toe_mm) * 1000,
        unit="um",
        low=stand.heel_low_mm * 1000 if foot.leg_deg is not None else None,
        high=stand.heel_high_mm * 1000 if foot.leg_deg is not None else None,
        better="more",
        limit=(foot.gap_mm + foot.thickness_mm / 2) * 1000 if foot.leg_deg is not None else None,
        limit_source=CLASS_SOURCE,
        verdict="holds" if stand.joint_class >= WANTED_CLASS else "fails",
        why=f"lead {foot.thickness_mm * 1000:.0f} µm thick{climbs}{lifted}",
        trail=(shape,),
    )
    least = min(stand.joint_class, stand.class_low)
    verdict: Verdict = "holds"
    if stand.joint_class < WANTED_CLASS:
        verdict = "fails"
    elif min(least, stand.class_raised) < WANTED_CLASS:
        verdict = "marginal"
    raised = f"class {stand.class_raised}" if stand.class_raised else "no class"
    rules = Step(
        says="heel, side joint, end joint and overhang against the acceptance criteria",
        inputs={"with the least paste": f"class {stand.class_low}", "raised by the coplanarity limit": raised},
        value=float(stand.joint_class),
        unit="",
        formula="gull-wing-fillet",
        valid="placement taken as centred",
        sources=(CLASS_SOURCE, COPLANARITY_SOURCE),
    )
    meets = Figure(
        key="fillet-class",
        title="class that the fillets meet",
        value=float(stand.joint_class),
        unit="",
        low=float(least),
        high=float(stand.joint_class),
        better="more",
        limit=float(WANTED_CLASS),
        limit_source=CLASS_SOURCE,
        verdict=verdict,
        why=f"class {stand.joint_class}; {raised} where the foot is raised by the coplanarity limit{lifted}",
        trail=(shape, rules),
    )
    return [heel, meets]


def _leadless(stand: LeadlessStand, geometry: Geometry, part: PartTable, bench: Bench) -> list[Figure]:
    rest, window = stand.rest, stand.window
    steps = []
    if window is not None and stand.coverage is not None and stand.coverage_wanted is not None:
        steps.append(
            Step(
                says=f"coverage × foil × metal × transfer ÷ (1 − void); {_wanted(stand.coverage_wanted)}",
                inputs={
                    "coverage": f"{stand.coverage:.0%}",
                    "full spread": f"{window.low_um:.0f} µm",
                    "no spread": f"{window.high_um:.0f} µm",
                },
                value=window.nominal_um,
                unit="um",
                formula="settle",
                valid="pad vias plugged or none; open vias lower it",
                sources=(STANDOFF_SOURCE,),
            )
        )
    if rest is not None:
        steps.append(
            Step(
                says="forces of pad, edge joints and weight balance",
                inputs={
                    "edge joints": f"{rest.state}, {rest.stretch:.2f} of their mean height",
                    "pad": f"{rest.pad_force_n * 1000:.2f} mN",
                    "edge": f"{rest.perimeter_force_n * 1000:.2f} mN",
                },
                value=rest.height_mm * 1000,
                unit="um",
                formula="settle",
                valid="part level, edges pinned",
                sources=("surface-energy-minimum",),
            )
        )
    verdict: Verdict = "holds"
    why = "edge joints carry the part" if window is None else "the centre pad sets it"
    if rest is None:
        verdict, why = "marginal", f"{why}; the edge joints lie outside the computed table, their forces are left out"
    elif rest.state == "open":
        verdict, why = (
            "fails",
            f"the part floats on its pad, {stand.dome_mm * 1000:.0f} µm of edge solder don't reach it",
        )
    elif rest.spills:
        verdict, why = "marginal", f"{why}; edge solder is squeezed onto the mask"
    elif window is not None and not TARGET_UM[0] - 1 <= stand.height_mm * 1000 <= TARGET_UM[1] + 1:
        verdict = "marginal"
        why = f"{why}, outside the {TARGET_UM[0]:.0f} to {TARGET_UM[1]:.0f} µm that serve"
    if rest is not None and rest.state != "open":
        why = f"{why}; edge joints are {rest.state}"
    low = stand.low_mm
    if window is not None and part.thermal_vias:
        low *= OPEN_VIAS_SHARE
        barrels = via_solder(part.thermal_vias, VIA_MM, bench.content.board.thickness)
        share = barrels / stand.pad_solder_mm3
        steps.append(
            Step(
                says=f"{part.thermal_vias} vias, if open, can take {share:.1f} times the pad's solder; measured parts with"
                f" open vias stood at {OPEN_VIAS_SHARE:.0%} of full spread and more",
                inputs={"hole": f"{VIA_MM:g} mm (assumed)"},
                value=low * 1000,
                unit="um",
                formula="settle",
                valid="plug or tent them",
                sources=(STANDOFF_SOURCE,),
            )
        )
        if verdict == "holds":
            verdict = "marginal"
        why = f"{why}; its {part.thermal_vias} vias must be plugged or tented, open they drain the pad"
    standoff = Figure(
        key="standoff",
        title="standoff after reflow",
        value=stand.height_mm * 1000,
        unit="um",
        low=low * 1000,
        high=stand.high_mm * 1000,
        better="neither",
        limit_source=TARGET_SOURCE if window is not None else "",
        verdict=verdict,
        why=why,
        trail=tuple(steps),
    )
    if rest is None:
        return [standoff]
    gap = geometry.pattern.least_copper_gap_mm - 2 * rest.bulge_mm
    bulges = Step(
        says="least gap between lands, less both bulges",
        inputs={"bulge": f"{rest.bulge_mm * 1000:.1f} µm", "lands": f"{geometry.pattern.least_copper_gap_mm:.3f} mm"},
        value=gap,
        unit="mm",
        formula="pad-joint",
        valid="part level and centred; the bulge of a long joint, which is the most",
        sources=("surface-energy-minimum",),
    )
    between = exact(
        key="joint-gap",
        title="gap between molten joints",
        value=gap,
        unit="mm",
        better="more",
        limit=0.0,
        limit_source="young-laplace",
        verdict="holds" if gap > 0 else "fails",
        why=f"joints bulge by {rest.bulge_mm * 1000:.1f} µm a side",
        trail=(*steps, bulges),
    )
    return [standoff, between]


def _wanted(coverage: float) -> str:
    """What it takes to stand in the middle of the wished range."""
    middle = f"{sum(TARGET_UM) / 2:.0f} µm"
    if coverage > 1:
        return f"even the whole pad printed gives less than {middle} under this foil"
    return f"{coverage:.0%} of the pad would give {middle}"


def _drilled(stand: DrilledStand) -> Figure:
    step = Step(
        says="capillary rise between lead and barrel",
        inputs={"board": f"{stand.board_mm:g} mm"},
        value=stand.rise_mm,
        unit="mm",
        formula="barrel-fill",
        valid="wetted barrel",
        sources=("young-laplace", "contact-angles"),
    )
    if stand.fill is None:
        why = (
            f"wave or hand: capillarity would lift solder {stand.rise_mm:.0f} mm, so heat and flux decide, "
            "which is not computed"
        )
        return Figure(key="barrel-fill", title="barrel fill", value=None, verdict="not known", why=why, trail=(step,))
    verdict: Verdict = "holds" if stand.fill >= 1 else "marginal" if stand.fill >= ENOUGH_FILL else "fails"
    return exact(
        key="barrel-fill",
        title="barrel fill",
        value=stand.fill,
        unit="",
        better="more",
        limit=ENOUGH_FILL,
        limit_source=FILL_SOURCE,
        verdict=verdict,
        why=f"printed paste fills {stand.fill:.0%} of barrel and lead gap",
        trail=(step,),
    )


def _contact(mounted: Mounted) -> Figure:
    found, rise = mounted.contact, mounted.rise_mm
    if found is None:
        return Figure(key="contact", title="reach to the highest terminal", value=None)
    verdict: Verdict = "holds"
    if found.stays_open:
        why = "neither paste nor molten solder reaches it"
        verdict = "fails" if found.margin_mm + rise / 2 < 0 else "marginal"
    elif found.margin_mm < 0:
        why, verdict = "paste touches it, but its joint is stretched", "marginal"
    elif not found.robust:
        why, verdict = "reached, yet by less than the quarter that a robust process keeps", "marginal"
    else:
        why = "reached with room to spare"
    step = Step(
        says=f"molten dome on the land, less the rise of a terminal by {mounted.raised_by}",
        inputs={"rise": f"{rise * 1000:.0f} µm"},
        value=found.margin_mm * 1000,
        unit="um",
        formula=None,
        valid="default limits are recalled; a drawing's own coplanarity or warpage outranks them",
        sources=(COPLANARITY_SOURCE, ROBUST_SOURCE, "young-laplace"),
    )
    return exact(
        key="contact",
        title="reach to the highest terminal",
        value=found.margin_mm * 1000,
        unit="um",
        better="more",
        limit=0.0,
        limit_source=COPLANARITY_SOURCE,
        verdict=verdict,
        why=f"a terminal raised by {rise * 1000:.0f} µm ({mounted.raised_by}): {why}",
        trail=(step,),
    )
