"""Figures of vibration and shock."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from landwise.errors import InputError, LandwiseError, ValidityError
from landwise.evidence.figures import Figure, Step, Verdict
from landwise.judging.boardcase import MATERIAL_SOURCES, Shakes, places_of, shakes_of
from landwise.judging.held import strength_of
from landwise.outlines import GRIDS, LEADED, LEADLESS
from landwise.service import shaking as room
from landwise.service.strength import LEAD_SOURCES

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry
    from landwise.outlines import Outline
    from landwise.study.file import Board, PartTable, Use

VIBRATION_SOURCES = ("steinberg-limit", "miles-femci", *MATERIAL_SOURCES)
SHOCK_SOURCES = ("steinberg-limit", "steinberg-shock-memory", "half-sine-response", *MATERIAL_SOURCES)
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
    return (
        _vibration(geometry, part, bench, shakes),
        _shock(geometry, part, bench, shakes),
        _strain(geometry, part, bench, shakes),
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


def _banded(
    key: str,
    part: PartTable,
    geometry: Geometry,
    bench: Bench,
    shakes: Shakes,
    attribute: str,
    factor: float,
    sources: tuple[str, ...],
    step: Step,
) -> Figure:
    constant = room.package_constant(geometry.outline.family)
    allowed = allowed_of(geometry.outline, bench.content.board) * factor
    each = {
        name: _at(getattr(getattr(shakes, name), attribute), getattr(shakes, name), part)
        for name in ("taken", "soft", "stiff", "held")
    }
    taken = each["taken"]
    if taken <= 0:
        why = "the level has nothing at the board's own frequencies"
        return Figure(
            key=key,
            title=_TITLES[key],
            value=0.0,
            unit="",
            low=0.0,
            high=0.0,
            better="less",
            limit=1.0,
            limit_source=sources[0],
            verdict="holds",
            why=why,
            trail=(step,),
        )
    value = taken / allowed

    def apart(a: float, b: float) -> float:
        return math.log(a / b) if a > 0 and b > 0 else 0.0

    more = math.hypot(max(0.0, apart(each["soft"], taken)), math.log(constant.high / constant.value))
    less = math.hypot(
        max(0.0, apart(taken, each["stiff"])), apart(taken, each["held"]), math.log(constant.value / constant.low)
    )
    low, high = value * math.exp(-less), value * math.exp(more)
    field = getattr(shakes.taken, attribute)
    share = room.share_below(field, shakes.taken.modes, allowed)
    why = f"{value:.2g} of its limit {_where(part)}; it may sit on {share:.0%} of the board"
    if not constant.published:
        why += f"; {room.NO_MEASUREMENT}: {constant.says}"
    verdict = _verdict(low, high)
    if verdict == "fails" and not constant.published:
        verdict = "marginal"  # an assumption warns, it never rejects
    limit_step = Step(
        says=f"0.00022·B/(C·h·√L) for 20 million reversals{'' if factor == 1 else ', times six for a few shocks'}; C"
        f" {constant.value:g} ({constant.low:g} to {constant.high:g}): {constant.says}",
        inputs={"L": f"{length_of(geometry.outline):g} mm", "h": f"{bench.content.board.thickness:g} mm"},
        value=allowed,
        unit="mm",
        formula="vibration-limit",
        valid="thin large boards, small parts",
        sources=sources,
    )
    return Figure(
        key=key,
        title=_TITLES[key],
        value=value,
        unit="",
        low=low,
        high=high,
        better="less",
        limit=1.0,
        limit_source=sources[0],
        verdict=verdict,
        why=why,
        trail=(step, limit_step),
    )


def _vibration(geometry: Geometry, part: PartTable, bench: Bench, shakes: Shakes) -> Figure:
    use, taken = bench.content.use, shakes.taken
    if not (use.random or use.sine):
        return _unknown("vibration", "no vibration is stated in [use]")
    told = ", ".join(
        f"{f:.0f} Hz {z * 1000:.0f} µm × {n:.2g}"
        for f, z, n in zip(taken.modes.frequency_hz, taken.displacement_mm, taken.cycles, strict=True)
        if z > 1e-6
    )
    step = Step(
        says=f"board's modes with three-sigma displacement and reversals: {told or 'none driven'}; harm summed with"
        " exponent 6.4",
        inputs={"first frequency": f"{taken.modes.frequency_hz[0]:.0f} Hz", "Q": "√f"},
        value=float(taken.usage_mm.max()),
        unit="mm",
        formula="plate-modes",
        valid="thin plate, mass spread evenly, screws between pinned and holding",
        sources=VIBRATION_SOURCES,
    )
    return _banded("vibration", part, geometry, bench, shakes, "usage_mm", 1.0, VIBRATION_SOURCES, step)


def _pulse_words(use: Use) -> str:
    if use.shock_pulse:
        return f"measured pulse of {max(abs(level) for _, level in use.shock_pulse):g} g at most"
    return f"{use.shock_shape} of {use.shock:g} g and {use.shock_time * 1000:g} ms"


def _shock(geometry: Geometry, part: PartTable, bench: Bench, shakes: Shakes) -> Figure:
    use, taken = bench.content.use, shakes.taken
    if not (use.shock or use.shock_pulse):
        return _unknown("shock", "no shock is stated in [use]")
    step = Step(
        says=f"{_pulse_words(use)} on the board's modes, root of the sum of squares",
        inputs={"first frequency": f"{taken.modes.frequency_hz[0]:.0f} Hz"},
        value=float(taken.shock_mm.max()),
        unit="mm",
        formula="shock-response",
        valid="undamped, a few shocks",
        sources=SHOCK_SOURCES,
    )
    return _banded("shock", part, geometry, bench, shakes, "shock_mm", room.SHOCK_FACTOR, SHOCK_SOURCES, step)


def _strain(geometry: Geometry, part: PartTable, bench: Bench, shakes: Shakes) -> Figure:
    taken, outline, board = shakes.taken, geometry.outline, bench.content.board
    values = {
        name: _at(getattr(shakes, name).strain, getattr(shakes, name), part)
        for name in ("taken", "soft", "stiff", "held")
    }
    value = values["taken"]
    low, high = min(values.values()), max(values.values())
    steps = [
        Step(
            says="largest surface strain of the board's modes under the worse of vibration and shock",
            value=value * 1e6,
            unit="ppm",
            formula="plate-modes",
            sources=MATERIAL_SOURCES,
        )
    ]
    opening = room.opening_mm(value, length_of(outline), board.thickness)
    says = f"the board draws {opening * 1000:.2g} µm away from its ends"
    if outline.family in LEADED:
        says += _lead(geometry, bench, opening, steps)
    elif (height := _joint_height(geometry)) > 0:
        stretch = opening / height
        says += f", {stretch:.2%} of the height of its joints"
        steps.append(
            Step(
                says="stretch of the outermost joint if it alone gave way",
                inputs={"joint height": f"{height * 1000:.0f} µm"},
                value=stretch * 100,
                unit="%",
                valid="an upper bound: land, laminate and body give way too",
                sources=("kirchhoff-plate",),
            )
        )
    limit, verdict = None, "holds"
    if outline.family in GRIDS | LEADLESS and value > 0:
        rate = min(max(value * 1e6 * 2 * math.pi * float(taken.modes.frequency_hz[0]), 100.0), 1e6)
        try:
            limit = room.strain_limit(board.thickness, rate) * 1e6
        except ValidityError:
            limit = None
        # The guideline's formula is recalled: it warns, it never rejects.
        verdict = "not known" if limit is None else "holds" if high * 1e6 <= limit else "marginal"
        if limit is not None:
            steps.append(
                Step(
                    says=f"strain guideline at {rate:.2g} µε/s on {board.thickness:g} mm",
                    value=limit,
                    unit="ppm",
                    valid="an example formula for assembly and test, recalled; vibration is not its scope",
                    sources=("strain-guideline-memory",),
                )
            )
    return Figure(
        key="board-strain",
        title=_TITLES["board-strain"],
        value=value * 1e6,
        unit="ppm",
        low=low * 1e6,
        high=high * 1e6,
        better="less",
        limit=limit,
        limit_source="strain-guideline-memory" if limit else "",
        verdict=verdict,  # type: ignore[arg-type]
        why=f"{_where(part)}: {says}",
        trail=tuple(steps),
    )


def _joint_height(geometry: Geometry) -> float:
    """Height of a part's molten joints, zero where it isn't computed. [mm]"""
    if geometry.stand is not None:
        return geometry.stand.height_mm
    return geometry.mounted.leadless.height_mm if geometry.mounted.leadless is not None else 0.0


def _lead(geometry: Geometry, bench: Bench, opening: float, steps: list[Step]) -> str:
    outline = geometry.outline
    thickness = outline.terminal_thickness_mm.nom if outline.terminal_thickness_mm else 0.15
    span = outline.span_mm.nom if outline.span_mm else outline.body_width_mm.nom
    foot = outline.foot_mm.nom if outline.foot_mm else 0.0
    free = max((span - outline.body_width_mm.nom) / 2 - foot, 0.0) + outline.height_mm.nom / 2
    try:
        stress = room.lead_stress_mpa(opening, free, thickness)
        force = room.lead_force_n(opening, free, outline.terminal_width_mm.nom, thickness)
    except ValidityError as error:
        return f"; its leads are {error.message}: the joint takes it all"
    steps.append(
        Step(
            says="lead as a beam held in the body",
            inputs={"free length": f"{free:.2f} mm", "thickness": f"{thickness:g} mm"},
            value=stress,
            unit="MPa",
            formula="lead-stress",
            valid="copper of 120 GPa, no stress concentration",
            sources=("kirchhoff-plate",),
        )
    )
    each = strength_of(geometry, bench.content.use.land_bond).pull_n.value / outline.terminals
    steps.append(
        Step(
            says="force on the joint, against what pulls one lead off at once",
            inputs={"pull of one": f"{each:.2g} N"},
            value=force,
            unit="N",
            formula="lead-stress",
            valid="at once, not many times",
            sources=LEAD_SOURCES,
        )
    )
    return (
        f"; that bends a lead to {stress:.0f} MPa and pulls its joint with {force:.2g} N, {force / each:.1%} of what"
        " pulls it off"
    )
