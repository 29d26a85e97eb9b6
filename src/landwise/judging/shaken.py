"""Figures of vibration and shock.

Longer than other modules: vibration, shock, strain and leads read one shaken board, and the trails in results name
their functions by this module.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from landwise.errors import InputError, LandwiseError, ValidityError
from landwise.evidence.figures import Figure, Step, Verdict, figure
from landwise.evidence.trails import earlier, worked
from landwise.joints.mounted import Mounted
from landwise.joints.standing import BallStand
from landwise.judging.boardcase import MATERIAL_SOURCES, Shakes, places_of, shakes_of
from landwise.judging.held import strength_of
from landwise.judging.leaves import of_outline, part_step
from landwise.outlines import GRIDS, LEADED, LEADLESS
from landwise.service import shaking as room
from landwise.service.strength import LEAD_SOURCES

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry
    from landwise.outlines import Outline
    from landwise.study.file import Board, PartTable, Use

VIBRATION_SOURCES = ("steinberg-limit", "miles-femci", *MATERIAL_SOURCES)
SHOCK_SOURCES = ("steinberg-limit", "steinberg-shock-memory", "half-sine-response", *MATERIAL_SOURCES)
Band = tuple[float, float, float]  # low, value, high
SIZE_WANTED = "the board's length and width are not stated"


def shaking_figures(geometry: Geometry, part: PartTable, bench: Bench) -> tuple[Figure, ...]:
    """Vibration, shock and board strain of one option."""
    board, use = bench.content.board, bench.content.use
    if board.length is None or board.width is None:
        return (_unknown("vibration", SIZE_WANTED), _unknown("shock", SIZE_WANTED))
    if not (use.random or use.sine or use.shock or use.shock_pulse):
        says = "neither vibration nor shock is stated in [use]"
        return (_unknown("vibration", says), _unknown("shock", says))
    try:
        shakes = shakes_of(board, use)
    except ValidityError as error:
        return (_unknown("vibration", str(error)), _unknown("shock", str(error)))
    except LandwiseError as error:
        raise error.within(place="[board], [use]") from None
    whole = shakes_step(bench, shakes)
    return (
        _vibration(geometry, part, bench, whole),
        _shock(geometry, part, bench, whole),
        _strain(geometry, part, bench, whole),
    )


_TITLES = {
    "vibration": "bending in vibration, over what it stands",
    "shock": "bending in shock, over what it stands",
    "board-strain": "board strain under it",
}


def _unknown(key: str, why: str) -> Figure:
    return Figure(key=key, title=_TITLES[key], value=None, unit="", better="less", verdict="not known", why=why)


def length_of(outline: Outline) -> float:
    """Length of a part as the displacement rule takes it: the longer of body and lead span. [mm]"""
    spans = [r.nom for r in (outline.span_mm, outline.span_length_mm, outline.row_spacing_mm) if r is not None]
    return max(outline.body_length_mm.nom, outline.body_width_mm.nom, *spans)


def allowed_of(outline: Outline, board: Board) -> float:
    """Displacement that an outline stands on a board, at the middle of its constant. [mm]"""
    edge = min(board.length or 0.0, board.width or 0.0)  # how it lies is not known: the shorter edge is the strict one
    constant = room.package_constant(outline.family)
    return room.allowed_mm(edge, length_of(outline), board.thickness, constant.value)


def length_and_edge(outline: Outline, board: Board) -> float:
    """Displacement that an outline stands on a board in vibration. [mm]"""
    return allowed_of(outline, board)


def allowed_in_shock(outline: Outline, board: Board) -> float:
    """Displacement that an outline stands on a board in a few shocks. [mm]"""
    return allowed_of(outline, board) * room.SHOCK_FACTOR


def most_bending(shakes: Shakes) -> float:
    """Three-sigma displacement where the board moves most, harm of all modes summed. [mm]"""
    return float(shakes.taken.usage_mm.max())


def most_shock(shakes: Shakes) -> float:
    """Displacement in the shock where the board moves most. [mm]"""
    return float(shakes.taken.shock_mm.max())


def vibration_over_limit(shakes: Shakes, outline: Outline, part: PartTable, allowed_mm: float) -> Band:
    """Bending in vibration over what the part stands, where it sits: low, value, high."""
    return _over(shakes, "usage_mm", outline, part, allowed_mm)


def shock_over_limit(shakes: Shakes, outline: Outline, part: PartTable, allowed_mm: float) -> Band:
    """Bending in the shock over what the part stands, where it sits: low, value, high."""
    return _over(shakes, "shock_mm", outline, part, allowed_mm)


def strain_under(shakes: Shakes, part: PartTable) -> Band:
    """Surface strain of the board under the part: low, value, high. [1e-6]"""
    values = _each(shakes, "strain", part)
    return min(values.values()) * 1e6, values["taken"] * 1e6, max(values.values()) * 1e6


def joint_stretch(strain_ppm: Band, outline: Outline, board: Board, height_mm: float) -> float:
    """Stretch of the outermost joint if it alone gave way. [%]"""
    return room.opening_mm(strain_ppm[1] / 1e6, length_of(outline), board.thickness) / height_mm * 100


def _each(shakes: Shakes, attribute: str, part: PartTable) -> dict[str, float]:
    return {
        name: _at(getattr(getattr(shakes, name), attribute), getattr(shakes, name), part)
        for name in ("taken", "soft", "stiff", "held")
    }


def _over(shakes: Shakes, attribute: str, outline: Outline, part: PartTable, allowed_mm: float) -> Band:
    constant, each = room.package_constant(outline.family), _each(shakes, attribute, part)
    taken = each["taken"]
    if taken <= 0:
        return 0.0, 0.0, 0.0
    value = taken / allowed_mm

    def apart(a: float, b: float) -> float:
        return math.log(a / b) if a > 0 and b > 0 else 0.0

    more = math.hypot(max(0.0, apart(each["soft"], taken)), math.log(constant.high / constant.value))
    less = math.hypot(
        max(0.0, apart(taken, each["stiff"])), apart(taken, each["held"]), math.log(constant.value / constant.low)
    )
    return value * math.exp(-less), value, value * math.exp(more)


def shakes_step(bench: Bench, shakes: Shakes) -> Step:
    """The board's modes and how far they move."""
    return worked(
        "the board as a plate that is held: its modes as taken, softer, stiffer, and held level by its screws",
        shakes_of,
        {"board": earlier(bench.board_step), "use": earlier(bench.use_step)},
        result=shakes,
        key="shakes",
        sources=MATERIAL_SOURCES,
    )


def _at(field: np.ndarray, shaken: room.Shaken, part: PartTable) -> float:
    places = places_of(part)
    if not places:
        return float(field.max())
    modes = shaken.modes
    for x, y in places:
        if not (0 <= x <= modes.x_mm[-1] and 0 <= y <= modes.y_mm[-1]):
            raise InputError(
                "a part off the board",
                place=part.refs[0],
                found=f"{x:g}, {y:g} mm",
                expected=f"within {modes.x_mm[-1]:g} × {modes.y_mm[-1]:g} mm",
            )
    return max(modes.at(field, x, y) for x, y in places)


def _where(part: PartTable) -> str:
    if not part.at:
        return "at the board's worst place"
    return "where it sits" if len(part.at) == len(part.refs) else "at the worst of the places stated"


def _verdict(low: float, high: float, limit: float = 1.0) -> Verdict:
    return "holds" if high <= limit else "fails" if low > limit else "marginal"


@dataclass(frozen=True)
class _Kind:
    """What vibration and shock do differently."""

    key: str
    field: str
    over: Callable[..., Band]
    allowed: Callable[..., float]
    sources: tuple[str, ...]
    few: bool


VIBRATION = _Kind("vibration", "usage_mm", vibration_over_limit, length_and_edge, VIBRATION_SOURCES, few=False)
SHOCK = _Kind("shock", "shock_mm", shock_over_limit, allowed_in_shock, SHOCK_SOURCES, few=True)


def _banded(kind: _Kind, part: PartTable, geometry: Geometry, bench: Bench, first: Step, whole: Step) -> Figure:
    outline, shakes = geometry.outline, whole.result
    constant = room.package_constant(outline.family)
    limit_step = worked(
        f"0.00022·B/(C·h·√L) for 20 million reversals{', times six for a few shocks' if kind.few else ''}; C"
        f" {constant.value:g} ({constant.low:g} to {constant.high:g}): {constant.says}",
        kind.allowed,
        {"outline": of_outline(outline), "board": earlier(bench.board_step)},
        inputs={"L": f"{length_of(outline):g} mm", "h": f"{bench.content.board.thickness:g} mm"},
        unit="mm",
        formula="vibration-limit",
        valid="thin large boards, small parts",
        sources=kind.sources,
    )
    over = worked(
        "bending where it sits, over what it stands",
        kind.over,
        {
            "shakes": earlier(whole),
            "outline": of_outline(outline),
            "part": earlier(part_step(part)),
            "allowed_mm": earlier(limit_step),
        },
        sources=kind.sources,
    )
    low, value, high = over.result
    if value <= 0:
        verdict: Verdict = "holds"
        why = "the level has nothing at the board's own frequencies"
    else:
        field = getattr(shakes.taken, kind.field)
        share = room.share_below(field, shakes.taken.modes, limit_step.value or 0.0)
        why = f"{value:.2g} of its limit {_where(part)}; it may sit on {share:.0%} of the board"
        if not constant.published:
            why += f"; {room.NO_MEASUREMENT}: {constant.says}"
        verdict = _verdict(low, high)
        if verdict == "fails" and not constant.published:
            verdict = "marginal"  # an assumption warns, it never rejects
    return figure(
        over,
        key=kind.key,
        title=_TITLES[kind.key],
        better="less",
        limit=1.0,
        limit_source=kind.sources[0],
        verdict=verdict,
        why=why,
        trail=(first, limit_step, over),
    )


def _vibration(geometry: Geometry, part: PartTable, bench: Bench, whole: Step) -> Figure:
    use, taken = bench.content.use, whole.result.taken
    if not (use.random or use.sine):
        return _unknown("vibration", "no vibration is stated in [use]")
    told = ", ".join(
        f"{f:.0f} Hz {z * 1000:.0f} µm × {n:.2g}"
        for f, z, n in zip(taken.modes.frequency_hz, taken.displacement_mm, taken.cycles, strict=True)
        if z > 1e-6
    )
    step = worked(
        f"board's modes with three-sigma displacement and reversals: {told or 'none driven'}; harm summed with"
        " exponent 6.4",
        most_bending,
        {"shakes": earlier(whole)},
        inputs={"first frequency": f"{taken.modes.frequency_hz[0]:.0f} Hz", "Q": "√f"},
        unit="mm",
        formula="plate-modes",
        valid="thin plate, mass spread evenly, screws between pinned and holding",
        sources=VIBRATION_SOURCES,
    )
    return _banded(VIBRATION, part, geometry, bench, step, whole)


def _pulse_words(use: Use) -> str:
    if use.shock_pulse:
        return f"measured pulse of {max(abs(level) for _, level in use.shock_pulse):g} g at most"
    return f"{use.shock_shape} of {use.shock:g} g and {use.shock_time * 1000:g} ms"


def _shock(geometry: Geometry, part: PartTable, bench: Bench, whole: Step) -> Figure:
    use, taken = bench.content.use, whole.result.taken
    if not (use.shock or use.shock_pulse):
        return _unknown("shock", "no shock is stated in [use]")
    step = worked(
        f"{_pulse_words(use)} on the board's modes, root of the sum of squares",
        most_shock,
        {"shakes": earlier(whole)},
        inputs={"first frequency": f"{taken.modes.frequency_hz[0]:.0f} Hz"},
        unit="mm",
        formula="shock-response",
        valid="undamped, a few shocks",
        sources=SHOCK_SOURCES,
    )
    return _banded(SHOCK, part, geometry, bench, step, whole)


def _strain(geometry: Geometry, part: PartTable, bench: Bench, whole: Step) -> Figure:
    shakes: Shakes = whole.result
    outline, board = geometry.outline, bench.content.board
    values = _each(shakes, "strain", part)
    value, high = values["taken"], max(values.values())
    strained = worked(
        "largest surface strain of the board's modes under the worse of vibration and shock",
        strain_under,
        {"shakes": earlier(whole), "part": earlier(part_step(part))},
        unit="ppm",
        formula="plate-modes",
        sources=MATERIAL_SOURCES,
    )
    steps = [strained]
    opening = room.opening_mm(value, length_of(outline), board.thickness)
    says = f"the board draws {opening * 1000:.2g} µm away from its ends"
    if outline.family in LEADED:
        says += _lead(geometry, bench, strained, steps)
    elif (height := _joint_height(geometry)) > 0:
        stretch = opening / height
        says += f", {stretch:.2%} of the height of its joints"
        steps.append(
            worked(
                "stretch of the outermost joint if it alone gave way",
                joint_stretch,
                {
                    "strain_ppm": earlier(strained),
                    "outline": of_outline(outline),
                    "board": earlier(bench.board_step),
                    "height_mm": earlier(_height_step(geometry)),
                },
                inputs={"joint height": f"{height * 1000:.0f} µm"},
                unit="%",
                valid="an upper bound: land, laminate and body give way too",
                sources=("kirchhoff-plate",),
            )
        )
    limit: float | None = None
    verdict: Verdict = "holds"
    if outline.family in GRIDS | LEADLESS and value > 0:
        rate = _rate(shakes, part)
        try:
            limit = room.strain_limit(board.thickness, rate) * 1e6
        except ValidityError:
            limit = None
        # The guideline's formula is recalled: it warns, it never rejects.
        verdict = "not known" if limit is None else "holds" if high * 1e6 <= limit else "marginal"
        if limit is not None:
            steps.append(
                worked(
                    f"strain guideline at {rate:.2g} µε/s on {board.thickness:g} mm",
                    guideline_ppm,
                    {"shakes": earlier(whole), "part": earlier(part_step(part)), "board": earlier(bench.board_step)},
                    result=limit,
                    unit="ppm",
                    valid="an example formula for assembly and test, recalled; vibration is not its scope",
                    sources=("strain-guideline-memory",),
                )
            )
    return figure(
        strained,
        key="board-strain",
        title=_TITLES["board-strain"],
        better="less",
        limit=limit,
        limit_source="strain-guideline-memory" if limit else "",
        verdict=verdict,
        why=f"{_where(part)}: {says}",
        trail=tuple(steps),
    )


def joint_height(stand: BallStand | None, joints: Mounted) -> float:
    """Height of a part's molten joints, zero where it isn't computed. [mm]"""
    if stand is not None:
        return stand.height_mm
    return joints.leadless.height_mm if joints.leadless is not None else 0.0


def _joint_height(geometry: Geometry) -> float:
    return joint_height(geometry.stand, geometry.mounted)


def _height_step(geometry: Geometry) -> Step:
    given = {"stand": earlier(geometry.stations["balls"]), "joints": earlier(geometry.joints)}
    return worked("height of its molten joints", joint_height, given, unit="mm")


def _rate(shakes: Shakes, part: PartTable) -> float:
    """Rate of the strain under a part at the board's first frequency, within the guideline's range. [1e-6/s]"""
    value = _each(shakes, "strain", part)["taken"]
    return min(max(value * 1e6 * 2 * math.pi * float(shakes.taken.modes.frequency_hz[0]), 100.0), 1e6)


def guideline_ppm(shakes: Shakes, part: PartTable, board: Board) -> float:
    """Strain that the guideline allows at the rate under a part. [1e-6]"""
    return room.strain_limit(board.thickness, _rate(shakes, part)) * 1e6


def _beam(outline: Outline) -> tuple[float, float]:
    """Free length and thickness of a lead as a beam held in the body. [mm]"""
    thickness = outline.terminal_thickness_mm.nom if outline.terminal_thickness_mm else 0.15
    span = outline.span_mm.nom if outline.span_mm else outline.body_width_mm.nom
    foot = outline.foot_mm.nom if outline.foot_mm else 0.0
    return max((span - outline.body_width_mm.nom) / 2 - foot, 0.0) + outline.height_mm.nom / 2, thickness


def _opening(strain_ppm: Band, outline: Outline, board: Board) -> float:
    return room.opening_mm(strain_ppm[1] / 1e6, length_of(outline), board.thickness)


def lead_stress(strain_ppm: Band, outline: Outline, board: Board) -> float:
    """Stress in a lead that the bent board draws at. [MPa]"""
    return room.lead_stress_mpa(_opening(strain_ppm, outline, board), *_beam(outline))


def lead_force(strain_ppm: Band, outline: Outline, board: Board) -> float:
    """Force with which that lead pulls at its joint. [N]"""
    free, thickness = _beam(outline)
    return room.lead_force_n(_opening(strain_ppm, outline, board), free, outline.terminal_width_mm.nom, thickness)


def _lead(geometry: Geometry, bench: Bench, strained: Step, steps: list[Step]) -> str:
    outline = geometry.outline
    free, thickness = _beam(outline)
    given = {
        "strain_ppm": earlier(strained),
        "outline": of_outline(outline),
        "board": earlier(bench.board_step),
    }
    each = strength_of(geometry, bench.content.use.land_bond).pull_n.value / outline.terminals
    try:
        stressed = worked(
            "lead as a beam held in the body",
            lead_stress,
            given,
            inputs={"free length": f"{free:.2f} mm", "thickness": f"{thickness:g} mm"},
            unit="MPa",
            formula="lead-stress",
            valid="copper of 120 GPa, no stress concentration",
            sources=("kirchhoff-plate",),
        )
        pulled = worked(
            "force on the joint, against what pulls one lead off at once",
            lead_force,
            given,
            inputs={"pull of one": f"{each:.2g} N"},
            unit="N",
            formula="lead-stress",
            valid="at once, not many times",
            sources=LEAD_SOURCES,
        )
    except ValidityError as error:
        return f"; its leads are {error.message}: the joint takes it all"
    steps += [stressed, pulled]
    force: float = pulled.result
    return (
        f"; that bends a lead to {stressed.value:.0f} MPa and pulls its joint with {force:.2g} N,"
        f" {force / each:.1%} of what pulls it off"
    )
