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
        f"ball of {stand.before_mm:g} mm height melts together with its paste{weight}",
        {"widest": f"{stand.max_diameter_mm:.3f} mm"},
        stand.height_mm * 1000,
        "um",
        "ball-joint",
        "edges pinned, part flat",
        GRID_SOURCES,
    )
    collapse = 1 - stand.height_mm / stand.before_mm
    standoff = Figure(
        "standoff",
        "standoff after reflow",
        stand.height_mm * 1000,
        "um",
        stand.low_mm * 1000,
        stand.high_mm * 1000,
        "neither",
        verdict="holds",
        why=f"the balls sink by {collapse:.0%}, from {stand.before_mm * 1000:.0f} µm",
        trail=(step,),
    )
    gap = exact(
        "joint-gap",
        "gap between molten joints",
        stand.gap_mm,
        "mm",
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
        return [Figure("fillet-class", "class that the fillets meet", 0.0, verdict="fails", why=why)]
    shape = Step(
        "heel, toe and side fillets at one capillary pressure from the metal on the land",
        {
            "foot": f"{foot.length_mm:.3f} × {foot.width_mm:.3f} mm, {foot.thickness_mm:.3f} mm thick",
            "land beyond": f"toe {foot.toe_mm:.3f}, heel {foot.heel_mm:.3f}, side {foot.side_mm[0]:.3f} mm",
            "solder": f"{stand.solder_mm3 * 1000:.2f} nL",
            "toe, side": f"{fillet.toe_mm * 1000:.0f}, {fillet.side_mm * 1000:.0f} µm",
        },
        fillet.heel_mm * 1000,
        "um",
        "gull-wing-fillet",
        "land and lead wetted; foot centred on its land",
        FILLET_SOURCES,
    )
    lifted = f"; surplus solder lifts the foot by {foot.gap_mm * 1000:.0f} µm" if foot.gap_mm > 1e-4 else ""
    climbs = ", all the way up the leg" if fillet.reaches_shoulder else ""
    heel = Figure(
        "heel-fillet",
        "heel fillet" if foot.leg_deg is not None else "toe fillet",
        (fillet.heel_mm if foot.leg_deg is not None else fillet.toe_mm) * 1000,
        "um",
        stand.heel_low_mm * 1000 if foot.leg_deg is not None else None,
        stand.heel_high_mm * 1000 if foot.leg_deg is not None else None,
        "more",
        (foot.gap_mm + foot.thickness_mm / 2) * 1000 if foot.leg_deg is not None else None,
        CLASS_SOURCE,
        "holds" if stand.joint_class >= WANTED_CLASS else "fails",
        f"lead {foot.thickness_mm * 1000:.0f} µm thick{climbs}{lifted}",
        (shape,),
    )
    least = min(stand.joint_class, stand.class_low)
    verdict: Verdict = "holds"
    if stand.joint_class < WANTED_CLASS:
        verdict = "fails"
    elif min(least, stand.class_raised) < WANTED_CLASS:
        verdict = "marginal"
    raised = f"class {stand.class_raised}" if stand.class_raised else "no class"
    rules = Step(
        "heel, side joint, end joint and overhang against the acceptance criteria",
        {"with the least paste": f"class {stand.class_low}", "raised by the coplanarity limit": raised},
        float(stand.joint_class),
        "",
        "gull-wing-fillet",
        "placement taken as centred",
        (CLASS_SOURCE, COPLANARITY_SOURCE),
    )
    meets = Figure(
        "fillet-class",
        "class that the fillets meet",
        float(stand.joint_class),
        "",
        float(least),
        float(stand.joint_class),
        "more",
        float(WANTED_CLASS),
        CLASS_SOURCE,
        verdict,
        f"class {stand.joint_class}; {raised} where the foot is raised by the coplanarity limit{lifted}",
        (shape, rules),
    )
    return [heel, meets]


def _leadless(stand: LeadlessStand, geometry: Geometry, part: PartTable, bench: Bench) -> list[Figure]:
    rest, window = stand.rest, stand.window
    steps = []
    if window is not None and stand.coverage is not None and stand.coverage_wanted is not None:
        steps.append(
            Step(
                f"coverage × foil × metal × transfer ÷ (1 − void); {_wanted(stand.coverage_wanted)}",
                {
                    "coverage": f"{stand.coverage:.0%}",
                    "full spread": f"{window.low_um:.0f} µm",
                    "no spread": f"{window.high_um:.0f} µm",
                },
                window.nominal_um,
                "um",
                "settle",
                "pad vias plugged or none; open vias lower it",
                (STANDOFF_SOURCE,),
            )
        )
    if rest is not None:
        steps.append(
            Step(
                "forces of pad, edge joints and weight balance",
                {
                    "edge joints": f"{rest.state}, {rest.stretch:.2f} of their mean height",
                    "pad": f"{rest.pad_force_n * 1000:.2f} mN",
                    "edge": f"{rest.perimeter_force_n * 1000:.2f} mN",
                },
                rest.height_mm * 1000,
                "um",
                "settle",
                "part level, edges pinned",
                ("surface-energy-minimum",),
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
                f"{part.thermal_vias} vias, if open, can take {share:.1f} times the pad's solder; measured parts with"
                f" open vias stood at {OPEN_VIAS_SHARE:.0%} of full spread and more",
                {"hole": f"{VIA_MM:g} mm (assumed)"},
                low * 1000,
                "um",
                "settle",
                "plug or tent them",
                (STANDOFF_SOURCE,),
            )
        )
        if verdict == "holds":
            verdict = "marginal"
        why = f"{why}; its {part.thermal_vias} vias must be plugged or tented, open they drain the pad"
    standoff = Figure(
        "standoff",
        "standoff after reflow",
        stand.height_mm * 1000,
        "um",
        low * 1000,
        stand.high_mm * 1000,
        "neither",
        limit_source=TARGET_SOURCE if window is not None else "",
        verdict=verdict,
        why=why,
        trail=tuple(steps),
    )
    if rest is None:
        return [standoff]
    gap = geometry.pattern.least_copper_gap_mm - 2 * rest.bulge_mm
    bulges = Step(
        "least gap between lands, less both bulges",
        {"bulge": f"{rest.bulge_mm * 1000:.1f} µm", "lands": f"{geometry.pattern.least_copper_gap_mm:.3f} mm"},
        gap,
        "mm",
        "pad-joint",
        "part level and centred; the bulge of a long joint, which is the most",
        ("surface-energy-minimum",),
    )
    between = exact(
        "joint-gap",
        "gap between molten joints",
        gap,
        "mm",
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
        "capillary rise between lead and barrel",
        {"board": f"{stand.board_mm:g} mm"},
        stand.rise_mm,
        "mm",
        "barrel-fill",
        "wetted barrel",
        ("young-laplace", "contact-angles"),
    )
    if stand.fill is None:
        why = (
            f"wave or hand: capillarity would lift solder {stand.rise_mm:.0f} mm, so heat and flux decide, "
            "which is not computed"
        )
        return Figure("barrel-fill", "barrel fill", None, verdict="not known", why=why, trail=(step,))
    verdict: Verdict = "holds" if stand.fill >= 1 else "marginal" if stand.fill >= ENOUGH_FILL else "fails"
    return exact(
        "barrel-fill",
        "barrel fill",
        stand.fill,
        "",
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
        return Figure("contact", "reach to the highest terminal", None)
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
        f"molten dome on the land, less the rise of a terminal by {mounted.raised_by}",
        {"rise": f"{rise * 1000:.0f} µm"},
        found.margin_mm * 1000,
        "um",
        None,
        "default limits are recalled; a drawing's own coplanarity or warpage outranks them",
        (COPLANARITY_SOURCE, ROBUST_SOURCE, "young-laplace"),
    )
    return exact(
        "contact",
        "reach to the highest terminal",
        found.margin_mm * 1000,
        "um",
        better="more",
        limit=0.0,
        limit_source=COPLANARITY_SOURCE,
        verdict=verdict,
        why=f"a terminal raised by {rise * 1000:.0f} µm ({mounted.raised_by}): {why}",
        trail=(step,),
    )
