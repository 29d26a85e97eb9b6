"""Lives of options as the study has them: surroundings, tests of the user's own, and what is shown."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from landwise.errors import LandwiseError, ValidityError
from landwise.joints.mounted import Mounted
from landwise.joints.standing import BallStand
from landwise.judging.missions import OWN, mission_of
from landwise.lands import LandPattern, land_pattern
from landwise.outlines import Outline, find
from landwise.printing import Foil, print_part
from landwise.printing.model import Print
from landwise.service.attachment import Attachment, attachment
from landwise.service.bands import Band
from landwise.service.chamber import Chamber, Wanted, cycles_wanted
from landwise.service.contamination import coat_reach
from landwise.service.environments import Cycles, Environment, environment
from landwise.service.lifeverdict import LifeVerdict, State, life_verdict
from landwise.service.lives import COMMON_DRAWS, DEFAULT_SETS, Life, life
from landwise.service.materials import BOARD_PPM_K
from landwise.service.mission import Stated, contradictions, environment_of_mission
from landwise.service.owntests import OwnTest, Shown, draw_weights
from landwise.service.qualification import GRADES
from landwise.service.sameness import Same
from landwise.service.surroundings import Surroundings

if TYPE_CHECKING:
    from landwise.judging.bench import Geometry
    from landwise.study.file import StudyFile, Use

Array = NDArray[np.float64]
USUAL_FOIL_UM = 100.0  # of a user's test board that nothing else is known of


def environment_of(use: Use) -> Environment:
    """Where the study's product lives: a row of the table, with what the study states in its place."""
    try:
        row = environment(use.environment)
        cycles = tuple(Cycles(c.swing, c.dwell / 60, c.per_year, c.top, c.rise) for c in use.cycles) or row.cycles
    except LandwiseError as error:
        raise error.within(place="use, environment") from None
    name = "own cycles" if use.cycles else row.name
    says = (
        f"{len(cycles)} {'kind' if len(cycles) == 1 else 'kinds'} of cycle of the study's own"
        if use.cycles
        else row.says
    )
    years = row.years if use.years is None else use.years
    failures = row.failures if use.failures is None else use.failures
    place = Environment(name, says, cycles, years, failures)
    mission = mission_of(use)
    if mission is None:
        return place
    found = environment_of_mission(mission, place)
    hours = "the study's own hours" if mission.name == OWN else f"the hours of {mission.name}"
    return Environment(f"{name} with {hours}", says, found.cycles, years, failures)


def board_expansion(content: StudyFile) -> Band:
    """Expansion of the study's board. [ppm/K]"""
    stated = content.board.expansion
    # Boards differ by a few ppm/K from spot to spot and between x and y, even when their mean is known.
    return BOARD_PPM_K if stated is None else Band(stated - 1.5, stated, stated + 1.5)


def surroundings_of(geometry: Geometry, content: StudyFile) -> Surroundings:
    """What stands around an option's joints."""
    return around(geometry.outline, geometry.stand, content)


def around(outline: Outline, stand: BallStand | None, content: StudyFile) -> Surroundings:
    """What stands around the joints of an outline on its molten balls, if it has any."""
    use = content.use
    gap_um = stand.low_mm * 1000 if stand is not None else outline.standoff_mm.min * 1000
    fills = use.coat != "none" and coat_reach(max(gap_um, 0.0), use.coat, True).verdict != "holds"
    return Surroundings(
        board_mm=content.board.thickness,
        mirrored=use.mirrored,
        coat=use.coat,
        fills_gap=fills,
        underfill=use.underfill,
        potting=use.potting,
        void_share=use.voids,
    )


@lru_cache(maxsize=2048)
def _attachment(geometry: Same[Geometry], place: Surroundings) -> Attachment:
    one = geometry.what
    flat = None if one.outline.drilled else one.mounted.leadless
    return attachment(one.outline, one.pattern, one.printed, one.stand, flat, underfill=place.underfill, around=place)


def joint_from(
    outline: Outline, pattern: LandPattern, printed: Print, joints: Mounted, stand: BallStand | None, study: StudyFile
) -> Attachment:
    """The outermost joint of an outline as it is printed, in the study's surroundings.

    Raises
    ------
    ValidityError
        Where the methods don't reach.
    """
    flat = None if outline.drilled else joints.leadless
    place = around(outline, stand, study)
    return attachment(outline, pattern, printed, stand, flat, underfill=place.underfill, around=place)


def life_from(joint: Attachment, place: Environment, study: StudyFile) -> Life:
    """Life of a joint in a place, weighed by the study's own tests."""
    found = life(joint, place, board_expansion(study), sets_of(study))
    learnt = own_tests(study)
    return found if learnt is None or joint.family not in learnt.families else found.weighed(learnt.weights)


def joint_of(geometry: Geometry, content: StudyFile) -> Attachment:
    """The outermost joint of an option.

    Raises
    ------
    ValidityError
        Where the methods don't reach.
    """
    return _attachment(Same(geometry), surroundings_of(geometry, content))


def sets_of(content: StudyFile) -> tuple[str, ...]:
    """Fatigue constants the study takes."""
    return tuple(content.use.fatigue) or DEFAULT_SETS


def life_of(geometry: Geometry, content: StudyFile, place: Environment | None = None) -> tuple[Attachment, Life]:
    """The outermost joint of an option and its life, where the study's product lives or in another place.

    Weighed by the user's own tests where the study has some.

    Raises
    ------
    ValidityError
        Where the methods don't reach.
    """
    joint = joint_of(geometry, content)
    return joint, life_from(joint, place or environment_of(content.use), content)


@dataclass(frozen=True, eq=False)
class Learnt:
    """What own tests say: weights of the common draws, the kinds of joint they speak of, before and after."""

    weights: Array
    families: frozenset[str]
    shown: tuple[Shown, ...]


def own_tests(content: StudyFile) -> Learnt | None:
    """The study's own tests, taken in; None without any.

    Raises
    ------
    LandwiseError
        For an unknown package, or tests that contradict the method.
    """
    if not content.use.tests:
        return None
    tests = tuple(
        OwnTest(t.package, Chamber(t.low, t.high, t.dwell / 60, t.per_day), t.cycles, t.samples, t.failures)
        for t in content.use.tests
    )
    try:
        return _learnt(tests, board_expansion(content), sets_of(content), content.board.thickness)
    except LandwiseError as error:
        raise error.within(place="use, tests") from None


@lru_cache(maxsize=16)
def _learnt(tests: tuple[OwnTest, ...], board: Band, sets: tuple[str, ...], board_mm: float) -> Learnt:
    from landwise.joints.mounted import mounted
    from landwise.joints.standing import ball_stand
    from landwise.outlines import GRIDS

    joints = []
    for test in tests:
        outline = find(test.package)
        pattern = land_pattern(outline)
        printed = print_part(pattern, Foil(USUAL_FOIL_UM), outline=outline)
        stand = ball_stand(outline, pattern, printed) if outline.family in GRIDS else None
        flat = None if outline.drilled or stand is not None else mounted(outline, pattern, printed).leadless
        joints.append(attachment(outline, pattern, printed, stand, flat, around=Surroundings(board_mm=board_mm)))
    weights, shown = draw_weights(list(zip(tests, joints, strict=True)), board, sets)
    return Learnt(weights, frozenset(joint.family for joint in joints), shown)


@dataclass(frozen=True, eq=False)
class Judged:
    """An option's life for whoever weighs boards.

    Parameters
    ----------
    state : {"held", "broken", "not shown"}
        At the years and the share of failures that the study wants.
    years : array
        Until that share has failed, in draws whose order all options of all parts have in common; empty where no
        method reaches. [years]
    wanted : Wanted
        Test cycles that stand for the mission, or the usual ones where these are more.
    verdict : LifeVerdict or None
    """

    state: State
    years: Array
    wanted: Wanted
    verdict: LifeVerdict | None


def judged_life(
    geometry: Geometry, content: StudyFile, draws: int = COMMON_DRAWS, place: Environment | None = None
) -> Judged:
    """The life of an option as a search over boards takes it, where the study's product lives or in another place.

    Examples
    --------
    >>> from landwise.judging.bench import Bench
    >>> from landwise.outlines import find
    >>> from landwise.study.file import study_from
    >>> text = {"part": [{"refs": ["U1"], "terminals": 16}], "use": {"environment": "under-hood"}}
    >>> bench = Bench.of(study_from(text, file="x"))
    >>> found = judged_life(bench.geometry(find("SO-16")), bench.content)
    >>> found.state, found.years.shape
    ('not shown', (256,))
    """
    home = environment_of(content.use)
    place = home if place is None else place
    wanted = cycles_wanted(home)
    try:
        joint, found = life_of(geometry, content, place)
    except ValidityError:
        return Judged("not shown", np.empty(0), wanted, None)
    verdict = life_verdict(found, joint, place.years, place.failures)
    return Judged(verdict.state, found.common(place.failures, draws), wanted, verdict)


# What is asked where a study's statements can't both be true; by the question's key.
QUESTIONS = {
    "indoors-but-damp": "air is stated as {air}, but the place {environment} is a heated room: which is true?",
    "air-hotter-than-place": "air of {ambient:g} °C is hotter than the place {environment} ever is: which is true?",
    "grade-below-air": "the grade {grade} ends below air of {ambient:g} °C: which is true?",
    "hours-exceed-years": "the profile {profile} has more hours than the years wanted: which is true?",
    "junction-over-limit": "the profile {profile} is hotter than the junction limit of {limit:g} °C: which is true?",
}


PLACE_QUESTIONS = frozenset({"indoors-but-damp", "air-hotter-than-place"})


def asked_of(content: StudyFile) -> tuple[str, ...]:
    """What the study's statements of its place leave to be asked, in words; the assumed place is named too."""
    use = content.use
    assumed = "environment" not in use.model_fields_set and not use.cycles
    stated = Stated(
        use.environment,
        assumed,
        use.air,
        use.ambient if "ambient" in use.model_fields_set else None,
        GRADES[use.grade].high_c if use.grade else None,
        use.junction_limit,
        mission_of(use),
        use.years,
    )
    words = {
        "air": use.air,
        "environment": f"{use.environment}{' (assumed)' if assumed else ''}",
        "ambient": use.ambient,
        "grade": use.grade,
        "profile": use.profile or "your own hours",
        "limit": use.junction_limit,
    }
    try:
        # Own cycles state the place: what is known of the row that was not chosen contradicts nothing.
        silent = PLACE_QUESTIONS if use.cycles and "environment" not in use.model_fields_set else frozenset()
        found = [key for key in contradictions(stated) if key not in silent]
    except LandwiseError as error:
        raise error.within(place="use, environment") from None
    asked = [QUESTIONS[key].format(**words) for key in found]
    if assumed:
        asked.insert(0, f"where it lives is assumed: {use.environment} ([use] environment)")
    return tuple(asked)
