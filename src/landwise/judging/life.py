"""Figures of how hard a part holds, how long its joints last, and what moisture and reflow ask of it."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from landwise.errors import LandwiseError, ValidityError
from landwise.evidence.figures import Figure, Step, Verdict
from landwise.joints.lead import SOURCES as LEAD_BEAM_SOURCES
from landwise.judging.exact import exact
from landwise.quantities import significant
from landwise.service import moisture
from landwise.service.attachment import Attachment, attachment
from landwise.service.bands import Band
from landwise.service.chamber import SOURCES as CHAMBER_SOURCES
from landwise.service.chamber import USUAL_CYCLES, USUAL_TEST, chamber_cycles
from landwise.service.environments import SOURCE as TABLE_SOURCE
from landwise.service.environments import Cycles, Environment, environment
from landwise.service.lives import DEFAULT_SETS, Life, life
from landwise.service.lives import SOURCES as LIFE_SOURCES
from landwise.service.materials import BOARD_PPM_K, BOARD_SOURCES
from landwise.service.materials import SOURCES as MATERIAL_SOURCES
from landwise.service.sameness import Same
from landwise.service.strength import LEAD_SOURCES, LIMIT_SOURCE, PUSH_LIMIT_N, Strength, strength
from landwise.service.strength import SOURCES as STRENGTH_SOURCES
from landwise.service.thermal_cycling import FATIGUE_SETS
from landwise.service.underfill import SOURCES as UNDERFILL_SOURCES

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry
    from landwise.lands.model import LandPattern
    from landwise.outlines.model import Outline
    from landwise.printing.model import Print
    from landwise.study.file import PartTable, StudyFile, Use


def life_figures(geometry: Geometry, part: PartTable, bench: Bench) -> tuple[Figure, ...]:
    """Strength, life, moisture and reflow of one option."""
    held = strength_of(geometry, bench.content.use.land_bond)
    return (
        _pull(held, geometry),
        _push(held),
        _life(geometry, bench),
        _test_life(geometry, bench),
        _floor_life(geometry, part, bench),
        _reflow_peak(geometry, bench),
        _hang(held, geometry, bench),
    )


def strength_of(geometry: Geometry, land_bond_mpa: float | None = None) -> Strength:
    """Strength of an option, worked once for each land pattern and its openings."""
    return _strength(Same(geometry.outline), Same(geometry.pattern), Same(geometry.printed), land_bond_mpa)


@lru_cache(maxsize=2048)
def _strength(
    outline: Same[Outline], pattern: Same[LandPattern], printed: Same[Print], land_bond_mpa: float | None
) -> Strength:
    return strength(outline.what, pattern.what, printed.what, land_bond_mpa=land_bond_mpa)


@lru_cache(maxsize=2048)
def _attachment(geometry: Same[Geometry], underfill: bool) -> Attachment:
    one = geometry.what
    flat = None if one.outline.drilled else one.mounted.leadless
    return attachment(one.outline, one.pattern, one.printed, one.stand, flat, underfill=underfill)


def environment_of(use: Use) -> Environment:
    """Where the study's product lives: a row of the table, with what the study states in its place."""
    try:
        row = environment(use.environment)
    except LandwiseError as error:
        raise error.within(place="use, environment") from None
    cycles = tuple(Cycles(c.swing, c.dwell / 60, c.per_year, c.top) for c in use.cycles) or row.cycles
    name = "own cycles" if use.cycles else row.name
    says = f"{len(cycles)} kinds of cycle of the study's own" if use.cycles else row.says
    years = row.years if use.years is None else use.years
    failures = row.failures if use.failures is None else use.failures
    return Environment(name, says, cycles, years, failures)


def board_expansion(content: StudyFile) -> Band:
    """Expansion of the study's board. [ppm/K]"""
    stated = content.board.expansion
    # Boards differ by a few ppm/K from spot to spot and between x and y, even when their mean is known.
    return BOARD_PPM_K if stated is None else Band(stated - 1.5, stated, stated + 1.5)


def life_of(geometry: Geometry, content: StudyFile, place: Environment | None = None) -> tuple[Attachment, Life]:
    """The outermost joint of an option and its life, where the study's product lives or in another place.

    Raises
    ------
    ValidityError
        Where the methods don't reach.
    """
    joint = _attachment(Same(geometry), content.use.underfill)
    return joint, life(
        joint,
        place or environment_of(content.use),
        board_expansion(content),
        tuple(content.use.fatigue) or DEFAULT_SETS,
    )


def _pull(held: Strength, geometry: Geometry) -> Figure:
    lands = f"; its lands must bear {held.land_stress_mpa:.0f} MPa" if held.pull_link != "land" else ""
    return Figure(
        "pull",
        "pull that lifts it off",
        held.pull_n.value,
        "N",
        held.pull_n.low,
        held.pull_n.high,
        "more",
        verdict="holds",
        why=(
            f"{held.area_mm2:.2f} mm² of joint under a body of {held.body_mm2:.2f} mm² ({held.share:.0%}); gives first:"
            f" {held.pull_link}{lands}. No recognised limit exists, and no test of whole small parts backs it"
        ),
        trail=(_strength_step("straight up, all terminals sharing", held, held.pull_n, geometry.outline.family),),
    )


def _strength_step(says: str, held: Strength, found: Band, family: str) -> Step:
    leads = LEAD_SOURCES if "leadless" not in family and "ball" not in family and family != "wafer-level" else ()
    return Step(
        says,
        {"joint area": f"{held.area_mm2:.3f} mm²", "at": "0.5 mm/s, 20 °C"},
        found.value,
        "N",
        "joint-shear",
        "quasi-static, 20 to 100 °C; from geometry, for comparing packages",
        (*STRENGTH_SOURCES, *leads, "no-strength-limit"),
    )


def _push(held: Strength) -> Figure:
    found = held.push_n
    verdict: Verdict = "holds" if found.low >= PUSH_LIMIT_N else "fails" if found.high < PUSH_LIMIT_N else "marginal"
    return Figure(
        "push",
        "push that shears it off",
        found.value,
        "N",
        found.low,
        found.high,
        "more",
        PUSH_LIMIT_N,
        LIMIT_SOURCE,
        verdict,
        f"from the weaker side at half its height; gives first: {held.push_link}; the push test is {PUSH_LIMIT_N:g} N",
        (
            _strength_step("shear and tilt shared by the joints", held, found, ""),
            Step("push test", sources=(LIMIT_SOURCE,)),
        ),
    )


def _life(geometry: Geometry, bench: Bench) -> Figure:
    place = environment_of(bench.content.use)
    key, title = "life", "life of its joints in temperature cycles"
    try:
        joint, found = life_of(geometry, bench.content)
    except ValidityError as reason:
        return Figure(
            key, title, None, "years", better="more", limit=place.years, limit_source=TABLE_SOURCE, why=_reason(reason)
        )
    years = found.years_to(place.failures)
    verdict: Verdict = "holds" if years.low >= place.years else "fails" if years.high < place.years else "marginal"
    if verdict == "marginal" and years.value < place.years:
        word = "more likely short than not"
    else:
        word = {
            "holds": "wear-out is not what limits it",
            "marginal": (
                "the band reaches below" + ("" if bench.content.board.expansion else "; [board] expansion narrows it")
            ),
            "fails": "all of the band is below",
        }[verdict]
    return Figure(
        key,
        title,
        years.value,
        "years",
        years.low,
        years.high,
        "more",
        place.years,
        TABLE_SOURCE if bench.content.use.years is None else "study",
        verdict,
        f"until {place.failures:.3g} of them have failed, {place.name} ({place.says}), wanted {place.years:g} years:"
        f" {word}",
        _life_trail(joint, found, place, bench.content),
    )


def _reason(error: LandwiseError) -> str:
    parts = [error.message]
    if error.found:
        parts.append(f"found {error.found}")
    if error.expected:
        parts.append(f"the method covers {error.expected}")
    return "; ".join(parts)


def _life_trail(joint: Attachment, found: Life, place: Environment, content: StudyFile) -> tuple[Step, ...]:
    board, used = board_expansion(content), tuple(content.use.fatigue) or DEFAULT_SETS
    worst = max(range(len(place.cycles)), key=lambda n: found.damage[n])
    line = place.cycles[worst]
    leaded = joint.stiffness_n_mm is not None
    steps = [
        Step(
            "expansion between the part's middle and its outermost joint, from its layers",
            {"board": f"{board.value:g} ({board.low:g}…{board.high:g}) ppm/K"},
            joint.expansion_ppm_k.value,
            "ppm/K",
            "stack-expansion",
            "logic dice of 0.5 to 2.5 mm",
            (*MATERIAL_SOURCES, *BOARD_SOURCES),
        )
    ]
    if joint.stiffness_n_mm is not None:
        steps.append(
            Step(
                "stiffness of the free lead along the diagonal",
                {},
                joint.stiffness_n_mm.value,
                "N/mm",
                "lead-stiffness",
                "free foot, straight legs, sharp bends",
                (*LEAD_BEAM_SOURCES, "lead-form-practice"),
            )
        )
    if joint.relief < 1:
        steps.append(
            Step(
                "strain that the underfill leaves; its own expansion upward is not in the method",
                {},
                joint.relief,
                "",
                "underfill-relief",
                "below the underfill's glass transition, no bending",
                UNDERFILL_SOURCES,
            )
        )
    steps.append(
        Step(
            f"damage term of its severest cycle, {line.swing_k:g} K ({found.damage[worst]:.0%} of the damage)",
            {
                "distance": f"{joint.dnp_mm:.2f} mm",
                "solder height": f"{joint.height_mm.value * 1000:.0f} µm",
                "dwell": f"{line.dwell_min:g} min",
            },
            found.strain,
            "",
            "leaded-cycles" if leaded else "leadless-cycles",
            "dwells of a minute and longer, −55 to 150 °C; first order",
            (*LIFE_SOURCES, *(("leaded-fatigue-memory",) if leaded else ())),
        )
    )
    steps.append(Step("median life under that cycle alone", {}, found.cycles, "cycles", None, "", ("engelmaier-dfr",)))
    steps.append(
        Step(
            "all cycles of a year summed as damage, half of the parts failed",
            {
                "shape": f"{found.shape:g}",
                **{
                    f"by {name}": f"{significant(years)} years{'' if name in used else ' (not used)'}"
                    for name, years in found.by_set.items()
                },
            },
            found.median_years,
            "years",
            "weibull-life",
            "two-parameter Weibull",
            (TABLE_SOURCE, "weibull-dfr", *{FATIGUE_SETS[name].source for name in content.use.fatigue}),
        )
    )
    return tuple(steps)


def _test_life(geometry: Geometry, bench: Bench) -> Figure:
    chamber = USUAL_TEST
    title = f"life in a {chamber.low_c:g}/{chamber.high_c:g} °C test, first of a hundred"
    limit, source = float(USUAL_CYCLES), "ipc-9701-cycles-memory"
    try:
        joint, found = life_of(geometry, bench.content, chamber.as_environment)
    except ValidityError as reason:
        return Figure(
            "test-life", title, None, "cycles", better="more", limit=limit, limit_source=source, why=_reason(reason)
        )
    a_year = chamber.as_environment.cycles[0].per_year
    cycles = found.years_to(0.01).times(a_year)
    verdict: Verdict = "holds" if cycles.low >= limit else "fails" if cycles.high < limit else "marginal"
    wanted = chamber_cycles(environment_of(bench.content.use))
    asked = " or ".join(f"{worth:.0f} ({name})" for name, worth in wanted.by_set.items())
    leaded = joint.stiffness_n_mm is not None
    trail = (
        Step(
            "the same joint in the chamber, half of them failed",
            {"dwell": f"{chamber.dwell_min:g} min"},
            found.median_years * a_year,
            "cycles",
            "leaded-cycles" if leaded else "leadless-cycles",
            "first order",
            (*LIFE_SOURCES, "smt007-tc-profile"),
        ),
        Step(
            f"cycles of it that stand for the years wanted: {asked or 'no set covers them'}",
            dict(wanted.left_out),
            None,
            "",
            "cycle-acceleration",
            "",
            CHAMBER_SOURCES,
        ),
        Step("usual requirement", {}, limit, "cycles", sources=(source,)),
    )
    return Figure(
        "test-life",
        title,
        cycles.value,
        "cycles",
        cycles.low,
        cycles.high,
        "more",
        limit,
        source,
        verdict,
        f"usual requirement {limit:g}; "
        + (
            f"the life wanted in the field is worth {asked} such cycles"
            if asked
            else "no set of constants covers the field"
        ),
        trail,
    )


def _floor_life(geometry: Geometry, part: PartTable, bench: Bench) -> Figure:
    level, outline = part.moisture_level, geometry.outline
    key, title = "floor-life", "time out of the bag"
    if outline.drilled:
        return Figure(
            key, title, None, "h", better="more", verdict="holds", why="drilled: its body does not go through reflow"
        )
    if not level:
        why = "no moisture level in the study: read it off the bag (moisture_level of the part)"
        return Figure(key, title, None, "h", better="more", why=why)
    if level == "1":
        return Figure(
            key, title, None, "h", better="more", verdict="holds", why="level 1: no limit at 30 °C and 85 % humidity"
        )
    if level == "6":
        return Figure(
            key, title, None, "h", better="more", verdict="marginal", why="level 6: bake before use, time on the label"
        )
    time = moisture.floor_life(level)
    assert time is not None
    hours = time / moisture.HOUR
    baked = _bake_text(level, outline.height_mm.max)
    step = Step(
        f"level {level}",
        {},
        hours,
        "h",
        "floor-life",
        "30 °C, 60 % humidity",
        (moisture.FLOOR_SOURCE, moisture.BAKE_SOURCE),
    )
    exposure = bench.content.line.exposure / moisture.HOUR
    return exact(
        key,
        title,
        hours,
        "h",
        better="more",
        limit=exposure,
        limit_source="study",
        verdict="holds" if hours >= exposure else "fails",
        why=f"level {level}, {exposure:g} h between bag and last reflow; {baked}",
        trail=(step,),
    )


def _bake_text(level: str, thickness_mm: float) -> str:
    try:
        found = moisture.bake(level, thickness_mm)
    except ValidityError as reason:
        return f"bake after it: {_reason(reason)}"
    if found is None:
        return "no bake needed"
    return (
        f"after it bake {found.at_125_s / 3600:g} h at 125 °C or {found.at_40_s / 86400:g} days at 40 °C (reels stand"
        " no more)"
    )


def _reflow_peak(geometry: Geometry, bench: Bench) -> Figure:
    outline, peak = geometry.outline, bench.content.line.peak
    key, title = "reflow-peak", "body temperature it is classed for"
    if outline.drilled:
        why = "drilled: soldered by wave or by hand; do not send it through reflow unless its maker allows it"
        return Figure(key, title, None, "degC", better="more", verdict="holds", why=why)
    thickness = outline.height_mm.max - outline.standoff_mm.min
    volume = outline.body_area_mm2 * thickness
    classed = moisture.classification_temperature(thickness, volume)
    step = Step(
        f"body {thickness:.2f} mm thick, {volume:.0f} mm³",
        {},
        classed,
        "degC",
        "classification-temperature",
        "plastic packages, lead-free reflow; bare dice are classed by their maker",
        ("j-std-020c-classes",),
    )
    return exact(
        key,
        title,
        classed,
        "degC",
        better="more",
        limit=peak,
        limit_source="study",
        verdict="holds" if classed >= peak + 5 else "marginal" if classed >= peak else "fails",
        why=f"classed for {classed:g} °C, the hottest body of this board sees {peak:g} °C",
        trail=(step,),
    )


def _hang(held: Strength, geometry: Geometry, bench: Bench) -> Figure:
    outline = geometry.outline
    key, title = "hang", "weight on its molten joints upside down"
    unit, limit = "mg/mm2", moisture.HANG_MG_MM2
    if outline.drilled:
        return Figure(
            key, title, None, unit, better="less", verdict="holds", why="drilled: never upside down in reflow"
        )
    if outline.weight_mg is None:
        return Figure(
            key, title, None, unit, better="less", limit=limit, limit_source="hang-30g", why="its weight is not known"
        )
    found = moisture.hang(outline.weight_mg, held.area_mm2, held.outline_mm)
    once = "" if bench.content.board.sides == 2 else "; this board has parts on one side only"
    verdict: Verdict = "holds" if found.safe else "marginal" if found.holds else "fails"
    if bench.content.board.sides == 1:
        verdict = "holds"
    step = Step(
        "weight over wetted area and outline",
        {
            "weight": f"{outline.weight_mg:g} mg ({outline.weight_mark or 'stated'})",
            "outline": f"{held.outline_mm:.1f} mm",
        },
        found.per_area_mg_mm2,
        unit,
        "hang-on",
        "still air; no shock in the oven",
        moisture.HANG_SOURCES,
    )
    return exact(
        key,
        title,
        found.per_area_mg_mm2,
        unit,
        better="less",
        limit=limit,
        limit_source="hang-30g",
        verdict=verdict,
        why=(
            f"{found.per_area_mg_mm2:.1f} of {limit:.1f} mg/mm², {found.per_outline_mg_mm:.2f} of"
            f" {moisture.HANG_MG_MM:g} mg/mm{once}"
        ),
        trail=(step,),
    )
