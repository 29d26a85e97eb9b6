"""Figures of the molten joints."""

from __future__ import annotations

from typing import TYPE_CHECKING

from landwise.evidence.figures import Figure, Verdict, figure
from landwise.evidence.trails import Given, earlier, worked
from landwise.joints.acceptance import SOURCE as CLASS_SOURCE
from landwise.joints.contact import ROBUST_SOURCE
from landwise.joints.gullwing import SOURCES as FILLET_SOURCES
from landwise.joints.mounted import DrilledStand, LeadlessStand, LeadStand, Mounted
from landwise.joints.settling import OPEN_VIAS_SHARE, TARGET_SOURCE, TARGET_UM, via_solder
from landwise.joints.settling import SOURCE as STANDOFF_SOURCE
from landwise.joints.standing import SOURCES as GRID_SOURCES
from landwise.joints.standing import BallStand
from landwise.judging import jointvalues as values
from landwise.judging.leaves import of_part
from landwise.outlines.coplanarity import SOURCE as COPLANARITY_SOURCE
from landwise.printing.holes import ENOUGH_FILL, FILL_SOURCE

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry
    from landwise.study.file import PartTable

VIA_MM = 0.3  # finished hole of a usual thermal via
WANTED_CLASS = 2  # dedicated-service electronics, the usual class of boards that are not toys


def joint_figures(geometry: Geometry, part: PartTable, bench: Bench) -> tuple[Figure, ...]:
    """How the part stands on its joints, what class its fillets meet, and whether every terminal is reached."""
    found: list[Figure] = []
    mounted, joints = geometry.mounted, earlier(geometry.joints)
    if geometry.stand is not None:
        found += _grid(geometry.stand, earlier(geometry.stations["balls"]))
    if mounted.lead is not None:
        found += _lead(mounted.lead, joints)
    if mounted.leadless is not None:
        found += _leadless(mounted.leadless, geometry, part, bench)
    if mounted.drilled is not None:
        found.append(_drilled(mounted.drilled, joints))
    if mounted.contact is not None:
        found.append(_contact(mounted, joints))
    return tuple(found)


def _grid(stand: BallStand, given: Given) -> list[Figure]:
    weight = "" if stand.weight_known else "; the part's weight is not known and left out"
    molten = f"ball of {stand.before_mm:g} mm height melts together with its paste{weight}"
    height, between = (
        worked(
            molten,
            by,
            {"stand": given},
            inputs={"widest": f"{stand.max_diameter_mm:.3f} mm"},
            unit=unit,
            formula="ball-joint",
            valid="edges pinned, part flat",
            sources=GRID_SOURCES,
        )
        for by, unit in ((values.balls_standoff, "um"), (values.balls_gap, "mm"))
    )
    collapse = 1 - stand.height_mm / stand.before_mm
    standoff = figure(
        height,
        key="standoff",
        title="standoff after reflow",
        better="neither",
        verdict="holds",
        why=f"the balls sink by {collapse:.0%}, from {stand.before_mm * 1000:.0f} µm",
    )
    gap = figure(
        between,
        key="joint-gap",
        title="gap between molten joints",
        better="more",
        limit=0.0,
        limit_source="young-laplace",
        verdict="holds" if stand.gap_mm > 0 else "fails",
        why=f"joints bulge to {stand.max_diameter_mm:.3f} mm",
    )
    return [standoff, gap]


def _lead(stand: LeadStand, joints: Given) -> list[Figure]:
    foot, fillet = stand.foot, stand.fillet
    if fillet is None:
        why = f"{stand.solder_mm3 * 1000:.1f} nL of solder on a foot whose fillets hold {stand.most_mm3 * 1000:.1f} nL"
        none = worked("no class: the solder lifts the foot", values.class_met, {"joints": joints})
        title = "class that the fillets meet"
        return [figure(none, key="fillet-class", title=title, verdict="fails", why=why, interval=False)]
    heeled = foot.leg_deg is not None
    shape = worked(
        "heel, toe and side fillets at one capillary pressure from the metal on the land",
        values.heel_height if heeled else values.toe_height,
        {"joints": joints},
        inputs={
            "foot": f"{foot.length_mm:.3f} × {foot.width_mm:.3f} mm, {foot.thickness_mm:.3f} mm thick",
            "land beyond": f"toe {foot.toe_mm:.3f}, heel {foot.heel_mm:.3f}, side {foot.side_mm[0]:.3f} mm",
            "solder": f"{stand.solder_mm3 * 1000:.2f} nL",
            "toe, side": f"{fillet.toe_mm * 1000:.0f}, {fillet.side_mm * 1000:.0f} µm",
        },
        unit="um",
        formula="gull-wing-fillet",
        valid="land and lead wetted; foot centred on its land",
        sources=FILLET_SOURCES,
    )
    lifted = f"; surplus solder lifts the foot by {foot.gap_mm * 1000:.0f} µm" if foot.gap_mm > 1e-4 else ""
    climbs = ", all the way up the leg" if fillet.reaches_shoulder else ""
    heel = figure(
        shape,
        interval=heeled,
        key="heel-fillet",
        title="heel fillet" if heeled else "toe fillet",
        better="more",
        limit=(foot.gap_mm + foot.thickness_mm / 2) * 1000 if heeled else None,
        limit_source=CLASS_SOURCE,
        verdict="holds" if stand.joint_class >= WANTED_CLASS else "fails",
        why=f"lead {foot.thickness_mm * 1000:.0f} µm thick{climbs}{lifted}",
    )
    least = min(stand.joint_class, stand.class_low)
    verdict: Verdict = "holds"
    if stand.joint_class < WANTED_CLASS:
        verdict = "fails"
    elif min(least, stand.class_raised) < WANTED_CLASS:
        verdict = "marginal"
    raised = f"class {stand.class_raised}" if stand.class_raised else "no class"
    rules = worked(
        "heel, side joint, end joint and overhang against the acceptance criteria",
        values.class_met,
        {"joints": joints},
        inputs={"with the least paste": f"class {stand.class_low}", "raised by the coplanarity limit": raised},
        formula="gull-wing-fillet",
        valid="placement taken as centred",
        sources=(CLASS_SOURCE, COPLANARITY_SOURCE),
    )
    meets = figure(
        rules,
        key="fillet-class",
        title="class that the fillets meet",
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
    joints = earlier(geometry.joints)
    steps = []
    if window is not None and stand.coverage is not None and stand.coverage_wanted is not None:
        steps.append(
            worked(
                f"coverage × foil × metal × transfer ÷ (1 − void); {_wanted(stand.coverage_wanted)}",
                values.pad_spread,
                {"joints": joints},
                inputs={
                    "coverage": f"{stand.coverage:.0%}",
                    "full spread": f"{window.low_um:.0f} µm",
                    "no spread": f"{window.high_um:.0f} µm",
                },
                unit="um",
                formula="settle",
                valid="pad vias plugged or none; open vias lower it",
                sources=(STANDOFF_SOURCE,),
            )
        )
    if rest is not None:
        steps.append(
            worked(
                "forces of pad, edge joints and weight balance",
                values.rest_height,
                {"joints": joints},
                inputs={
                    "edge joints": f"{rest.state}, {rest.stretch:.2f} of their mean height",
                    "pad": f"{rest.pad_force_n * 1000:.2f} mN",
                    "edge": f"{rest.perimeter_force_n * 1000:.2f} mN",
                },
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
    if window is not None and part.thermal_vias:
        barrels = via_solder(part.thermal_vias, VIA_MM, bench.content.board.thickness)
        share = barrels / stand.pad_solder_mm3
        steps.append(
            worked(
                f"{part.thermal_vias} vias, if open, can take {share:.1f} times the pad's solder; measured parts with"
                f" open vias stood at {OPEN_VIAS_SHARE:.0%} of full spread and more",
                values.drained_height,
                {"joints": joints},
                inputs={"hole": f"{VIA_MM:g} mm (assumed)"},
                unit="um",
                formula="settle",
                valid="plug or tent them",
                sources=(STANDOFF_SOURCE,),
            )
        )
        if verdict == "holds":
            verdict = "marginal"
        why = f"{why}; its {part.thermal_vias} vias must be plugged or tented, open they drain the pad"
    stands = worked(
        "height on its joints",
        values.flat_standoff,
        {"joints": joints, "vias": of_part(part, "thermal_vias")},
        unit="um",
    )
    standoff = figure(
        stands,
        key="standoff",
        title="standoff after reflow",
        better="neither",
        limit_source=TARGET_SOURCE if window is not None else "",
        verdict=verdict,
        why=why,
        trail=(*steps, stands),
    )
    if rest is None:
        return [standoff]
    gap = geometry.pattern.least_copper_gap_mm - 2 * rest.bulge_mm
    bulges = worked(
        "least gap between lands, less both bulges",
        values.flat_gap,
        {"pattern": earlier(geometry.stations["lands"]), "joints": joints},
        inputs={"bulge": f"{rest.bulge_mm * 1000:.1f} µm", "lands": f"{geometry.pattern.least_copper_gap_mm:.3f} mm"},
        unit="mm",
        formula="pad-joint",
        valid="part level and centred; the bulge of a long joint, which is the most",
        sources=("surface-energy-minimum",),
    )
    between = figure(
        bulges,
        key="joint-gap",
        title="gap between molten joints",
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


def _drilled(stand: DrilledStand, joints: Given) -> Figure:
    step = worked(
        "capillary rise between lead and barrel",
        values.capillary_rise,
        {"joints": joints},
        inputs={"board": f"{stand.board_mm:g} mm"},
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
    filled = worked("printed paste over the volume of barrel and lead gap", values.barrel_fill, {"joints": joints})
    return figure(
        filled,
        trail=(step, filled),
        key="barrel-fill",
        title="barrel fill",
        better="more",
        limit=ENOUGH_FILL,
        limit_source=FILL_SOURCE,
        verdict=verdict,
        why=f"printed paste fills {stand.fill:.0%} of barrel and lead gap",
    )


def _contact(mounted: Mounted, joints: Given) -> Figure:
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
    step = worked(
        f"molten dome on the land, less the rise of a terminal by {mounted.raised_by}",
        values.reach_margin,
        {"joints": joints},
        inputs={"rise": f"{rise * 1000:.0f} µm"},
        unit="um",
        formula=None,
        valid="default limits are recalled; a drawing's own coplanarity or warpage outranks them",
        sources=(COPLANARITY_SOURCE, ROBUST_SOURCE, "young-laplace"),
    )
    return figure(
        step,
        key="contact",
        title="reach to the highest terminal",
        better="more",
        limit=0.0,
        limit_source=COPLANARITY_SOURCE,
        verdict=verdict,
        why=f"a terminal raised by {rise * 1000:.0f} µm ({mounted.raised_by}): {why}",
    )
