"""Figures of how long a part's joints last, in the product's life and in the test chamber."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from landwise.errors import ValidityError
from landwise.evidence.figures import Figure, Step, figure
from landwise.evidence.trails import earlier, worked
from landwise.joints.lead import SOURCES as LEAD_BEAM_SOURCES
from landwise.judging import lifevalues as values
from landwise.judging.held import hang_figure, pull_figure, push_figure, strength_of, strength_step
from landwise.judging.leaves import of_outline, of_rule
from landwise.judging.lifetime import board_expansion as board_expansion
from landwise.judging.lifetime import environment_of as environment_of
from landwise.judging.lifetime import joint_from, life_from
from landwise.judging.lifetime import life_of as life_of
from landwise.judging.oven import floor_life_figure, reflow_peak_figure
from landwise.judging.ownheat import place_step
from landwise.judging.reasons import reason_of
from landwise.quantities import significant
from landwise.service.attachment import SOURCES as JOINT_SOURCES
from landwise.service.attachment import Attachment
from landwise.service.bands import DRAWS
from landwise.service.chamber import SOURCES as CHAMBER_SOURCES
from landwise.service.chamber import USUAL_CYCLES, USUAL_TEST, chamber_cycles, cycles_wanted
from landwise.service.creep import SOURCES as CREEP_SOURCES
from landwise.service.environments import SOURCE as TABLE_SOURCE
from landwise.service.environments import Environment
from landwise.service.lifeverdict import life_verdict
from landwise.service.lives import DEFAULT_SETS, Life
from landwise.service.lives import SOURCES as LIFE_SOURCES
from landwise.service.materials import BOARD_SOURCES
from landwise.service.materials import SOURCES as MATERIAL_SOURCES
from landwise.service.mission import MINER_LIMITS, MINER_SOURCE
from landwise.service.thermal_cycling import FATIGUE_SETS
from landwise.service.underfill import SOURCES as UNDERFILL_SOURCES

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry
    from landwise.study.file import PartTable, StudyFile


def life_figures(geometry: Geometry, part: PartTable, bench: Bench) -> tuple[Figure, ...]:
    """Strength, life, moisture and reflow of one option."""
    held = strength_of(geometry, bench.content.use.land_bond)
    whole = strength_step(geometry, bench, held)
    at = place_step(geometry.outline, part, bench)
    return (
        pull_figure(held, geometry, whole),
        push_figure(held, whole),
        _life(geometry, at, bench),
        _test_life(geometry, at, bench),
        floor_life_figure(geometry, part, bench),
        reflow_peak_figure(geometry, bench),
        hang_figure(held, geometry, bench, whole),
    )


@dataclass(frozen=True)
class _Lived:
    """The steps of one life: the joint, the place, and the life there."""

    joint: Step
    place: Step
    life: Step


def _chamber_place() -> Step:
    chamber = USUAL_TEST
    source = "smt007-tc-profile"
    given = {
        "low_c": of_rule(chamber.low_c, "usual test", source, unit="degC"),
        "high_c": of_rule(chamber.high_c, "usual test", source, unit="degC"),
        "dwell_min": of_rule(chamber.dwell_min, "usual test", source, unit="min"),
        "per_day": of_rule(chamber.per_day, "usual test", source, unit="1/day"),
    }
    return worked("the usual test chamber", values.chamber_place, given, result=chamber.as_environment, key="chamber")


def _lived(geometry: Geometry, bench: Bench, joint: Attachment, found: Life, place: Step) -> _Lived:
    at = geometry.stations
    outermost = worked(
        "the outermost joint",
        joint_from,
        {
            "outline": of_outline(geometry.outline),
            "pattern": earlier(at["lands"]),
            "printed": earlier(at["print"]),
            "joints": earlier(geometry.joints),
            "stand": earlier(at["balls"]),
            "study": earlier(bench.study_step),
        },
        result=joint,
        key="joint",
    )
    lives = worked(
        f"its life there, in {DRAWS} draws of what is not known",
        life_from,
        {"joint": earlier(outermost), "place": earlier(place), "study": earlier(bench.study_step)},
        result=found,
        inputs={"size": f"{DRAWS} draws", "seed": "the same even points for every part"},
        sources=LIFE_SOURCES,
    )
    return _Lived(outermost, place, lives)


def place_of(life: Figure, content: StudyFile) -> Environment:
    """Where an option's joints live, from its life's trail: the study's place, and the cycles of its own heat."""
    for step in life.trail:
        place = step.given.get("place")
        if place is not None and isinstance(place.value, Environment):
            return place.value
    return environment_of(content.use)


def own_heat_of(life: Figure) -> str:
    """What a life's trail says of the part's own heat; empty where it isn't switched."""
    for step in life.trail:
        place = step.given.get("place")
        if place is not None and place.step is not None:
            return place.step.inputs.get("its own heat", "")
    return ""


def _life(geometry: Geometry, at: Step, bench: Bench) -> Figure:
    place: Environment = at.result
    key, title = "life", "life of its joints in temperature cycles"
    try:
        joint, found = life_of(geometry, bench.content, place)
    except ValidityError as reason:
        return Figure(
            key=key,
            title=title,
            value=None,
            unit="years",
            better="more",
            limit=place.years,
            limit_source=TABLE_SOURCE,
            why=reason_of(reason),
        )
    years = found.years_to(place.failures)
    judged = life_verdict(found, joint, place.years, place.failures)
    verdict = judged.verdict
    if judged.basis != "interval":
        word = judged.says
    elif verdict == "marginal" and years.value < place.years:
        word = "more likely short than not"
    else:
        word = {
            "holds": "wear-out is not what limits it",
            "marginal": (
                "the band reaches below" + ("" if bench.content.board.expansion else "; [board] expansion narrows it")
            ),
            "fails": "all of the band is below",
        }[verdict]
    lived = _lived(geometry, bench, joint, found, at)
    own = at.inputs.get("its own heat", "")
    untold = isinstance(at.given["heard"].value, str)
    if verdict == "holds" and untold:
        verdict, word = "not known", "without its own heat it holds"
    until = worked(
        f"until {place.failures:.3g} of them have failed",
        values.years_until,
        {"life": earlier(lived.life), "place": earlier(lived.place)},
        result=years,
        unit="years",
        formula="weibull-life",
        sources=("weibull-dfr",),
    )
    return figure(
        until,
        key=key,
        title=title,
        better="more",
        limit=place.years,
        limit_source=TABLE_SOURCE if bench.content.use.years is None else "study",
        verdict=verdict,
        measured=judged.measured and not untold,
        why=(
            f"until {place.failures:.3g} of them have failed, {place.name} ({place.says}), wanted {place.years:g}"
            f" years: {word}{'; ' + own if own else ''}"
        ),
        trail=(*_life_trail(joint, found, place, bench.content, lived), until),
    )


def _life_trail(
    joint: Attachment, found: Life, place: Environment, content: StudyFile, lived: _Lived
) -> tuple[Step, ...]:
    board, used = board_expansion(content), tuple(content.use.fatigue) or DEFAULT_SETS
    worst = max(range(len(place.cycles)), key=lambda n: found.damage[n])
    line = place.cycles[worst]
    leaded = joint.stiffness_n_mm is not None
    outermost, lives = {"joint": earlier(lived.joint)}, {"life": earlier(lived.life)}
    steps = [
        worked(
            "expansion between the part's middle and its outermost joint, from its layers",
            values.part_ppm_k,
            outermost,
            inputs={"board": f"{board.value:g} ({board.low:g}…{board.high:g}) ppm/K"},
            unit="ppm/K",
            formula="stack-expansion",
            valid="logic dice of 0.5 to 2.5 mm",
            sources=(*MATERIAL_SOURCES, *BOARD_SOURCES),
        )
    ]
    if joint.stiffness_n_mm is not None:
        steps.append(
            worked(
                "stiffness of the free lead along the diagonal",
                values.lead_stiffness,
                outermost,
                unit="N/mm",
                formula="lead-stiffness",
                valid="free foot, straight legs, sharp bends",
                sources=(*LEAD_BEAM_SOURCES, "lead-form-practice"),
            )
        )
    if joint.relief < 1:
        steps.append(
            worked(
                "strain that the underfill leaves; its own expansion upward is not in the method",
                values.strain_relief,
                outermost,
                formula="underfill-relief",
                valid="below the underfill's glass transition, no bending",
                sources=UNDERFILL_SOURCES,
            )
        )
    steps.append(
        worked(
            f"damage term of its severest cycle, {line.swing_k:g} K ({found.damage[worst]:.0%} of the damage)",
            values.worst_strain,
            lives,
            inputs={
                "distance": f"{joint.dnp_mm:.2f} mm",
                "solder height": f"{joint.height_mm.value * 1000:.0f} µm",
                "dwell": f"{line.dwell_min:g} min",
                **(_lead_words(found) if leaded else {}),
            },
            formula="leaded-cycles" if leaded else "leadless-cycles",
            valid="dwells of a minute and longer, −55 to 150 °C; first order",
            sources=(*LIFE_SOURCES, *(("leaded-fatigue-memory", *CREEP_SOURCES, *JOINT_SOURCES) if leaded else ())),
        )
    )
    steps.append(
        worked(
            "median life under that cycle alone",
            values.worst_cycles,
            lives,
            unit="cycles",
            sources=("engelmaier-dfr",),
        )
    )
    steps.append(
        worked(
            "damage of a year, each kind of cycle over the cycles it would take alone (Miner): nothing knows the order"
            f" of cycles or healing, and sums of {MINER_LIMITS[0]:g} to {MINER_LIMITS[1]:g} at failure are usual",
            values.damage_a_year,
            lives,
            inputs=values.damage_terms(found, place),
            unit="1/years",
            sources=(MINER_SOURCE,),
        )
    )
    steps.append(
        worked(
            "all cycles of a year summed as damage, half of the parts failed",
            values.half_failed,
            lives,
            inputs={
                "shape": f"{found.shape:g}",
                **{
                    f"by {name}": f"{significant(years)} years{'' if name in used else ' (not used)'}"
                    for name, years in found.by_set.items()
                },
            },
            unit="years",
            formula="weibull-life",
            valid="two-parameter Weibull",
            sources=(TABLE_SOURCE, "weibull-dfr", *{FATIGUE_SETS[name].source for name in content.use.fatigue}),
        )
    )
    return tuple(steps)


def _lead_words(found: Life) -> dict[str, str]:
    return {"creeps of the slip": f"{found.crept:.2g}", "by the foot": f"{found.foot_share:.0%}"}


def _test_life(geometry: Geometry, at: Step, bench: Bench) -> Figure:
    place: Environment = at.result
    chamber = USUAL_TEST
    title = f"life in a {chamber.low_c:g}/{chamber.high_c:g} °C test, first of a hundred"
    target = cycles_wanted(place)
    limit, source = target.cycles, "ipc-9701-cycles-memory" if target.by == "usual" else "norris-landzberg-pch"
    try:
        joint, found = life_of(geometry, bench.content, chamber.as_environment)
    except ValidityError as reason:
        return Figure(
            key="test-life",
            title=title,
            value=None,
            unit="cycles",
            better="more",
            limit=limit,
            limit_source=source,
            why=reason_of(reason),
        )
    a_year = chamber.as_environment.cycles[0].per_year
    cycles = found.years_to(0.01).times(a_year)
    judged = life_verdict(found, joint, limit / a_year, 0.01)
    wanted = chamber_cycles(place)
    asked = " or ".join(f"{worth:.0f} ({name})" for name, worth in wanted.by_set.items())
    own = at.inputs.get("its own heat", "")
    # A mission without a heat that nobody knows asks for too little.
    untold = isinstance(at.given["heard"].value, str)
    leaded = joint.stiffness_n_mm is not None
    lived = _lived(geometry, bench, joint, found, _chamber_place())
    there = {"life": earlier(lived.life), "place": earlier(lived.place)}
    first = worked(
        "until the first of a hundred has failed", values.first_of_a_hundred, there, result=cycles, unit="cycles"
    )
    trail = (
        worked(
            "the same joint in the chamber, half of them failed",
            values.half_failed_in_chamber,
            there,
            inputs={"dwell": f"{chamber.dwell_min:g} min"},
            unit="cycles",
            formula="leaded-cycles" if leaded else "leadless-cycles",
            valid="first order",
            sources=(*LIFE_SOURCES, "smt007-tc-profile"),
        ),
        Step(
            says=f"cycles of it that stand for the years wanted: {asked or 'no set covers them'}",
            inputs=dict(wanted.left_out),
            formula="cycle-acceleration",
            sources=CHAMBER_SOURCES,
        ),
        worked("cycles wanted", values.wanted_cycles, {"place": earlier(at)}, unit="cycles", sources=(source,)),
        first,
    )
    return figure(
        first,
        key="test-life",
        title=title,
        better="more",
        limit=limit,
        limit_source=source,
        verdict="not known" if untold and judged.verdict == "holds" else judged.verdict,
        measured=judged.measured and not untold,
        why=f"wanted {limit:.0f}, the larger of the usual {USUAL_CYCLES} and the mission's worth; "
        + (
            f"the life wanted in the field is worth {asked} such cycles"
            if asked
            else "no set of constants covers the field"
        )
        + (f"; its own heat counts: {own}" if own else ""),
        trail=trail,
    )
