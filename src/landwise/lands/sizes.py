"""Land sizes of one row by the three styles, and what minimum gaps take from them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from landwise.errors import InputError
from landwise.evidence.figures import Step
from landwise.lands.goals import form_of, goals, inner_gap, inner_gap_limits, land_width, outer_span
from landwise.lands.model import Bind, Level
from landwise.lands.rules import LandRules, round_down, round_near, round_up
from landwise.outlines import Outline, Range
from landwise.outlines.patterns import tip_to_tip

# Opposite rows are equal, so sizes are found once per axis; `left` and `top` stand for both rows of theirs.
AXES: Mapping[str, str] = MappingProxyType({"left": "left", "right": "left", "bottom": "top", "top": "top"})
ACROSS: Mapping[str, str] = MappingProxyType({"left": "left to right", "top": "top to bottom"})


@dataclass(frozen=True)
class LandSize:
    """Lands of one axis: length outward, width along the row, distance of the centre from the body's middle. [mm]"""

    length_mm: float
    width_mm: float
    centre_mm: float

    @property
    def inner_mm(self) -> float:
        """From the body's middle to the heel end. [mm]"""
        return self.centre_mm - self.length_mm / 2

    @property
    def outer_mm(self) -> float:
        """From the body's middle to the toe end. [mm]"""
        return self.centre_mm + self.length_mm / 2

    def with_inner(self, inner_mm: float) -> LandSize:
        """The same toe with another heel end."""
        return replace(
            self,
            length_mm=round(self.outer_mm - inner_mm, 6),
            centre_mm=round((self.outer_mm + inner_mm) / 2, 9),
        )


def published_size(outline: Outline, axis: str) -> LandSize:
    """The land a maker prints, for the rows of one axis.

    Raises
    ------
    InputError
        Without a published land, or without the distance of that axis' rows.
    """
    land = outline.published_land
    rows = None if land is None else land.rows_mm if axis == "left" else land.columns_mm
    if land is None or rows is None:
        raise InputError(
            "the published land does not say how far its rows are apart",
            place=f"outline {outline.name}, published_land",
            expected="rows_mm" if axis == "left" else "columns_mm",
        )
    return LandSize(land.length_mm, land.width_mm, rows / 2)


def pad_for_pad_size(outline: Outline, axis: str, rules: LandRules) -> LandSize:
    """The terminal's own size, longer at the toe."""
    foot = _foot(outline)
    tip = tip_to_tip(outline, axis).nom / 2
    return LandSize(
        foot.nom + rules.pad_for_pad_toe_mm,
        outline.terminal_width_mm.nom,
        tip - foot.nom / 2 + rules.pad_for_pad_toe_mm / 2,
    )


def goal_size(
    outline: Outline, axis: str, level: Level, rules: LandRules, binds: list[Bind], trail: list[Step]
) -> LandSize:
    """Toe, heel and side by the goals of the outline's terminal form."""
    goal = goals(form_of(outline), level)
    span, foot, width = tip_to_tip(outline, axis), _foot(outline), outline.terminal_width_mm
    tolerances = (rules.fabrication_mm, rules.placement_mm)
    low, high = inner_gap_limits(span.min, span.max, foot.min, foot.max, rms=rules.rms)
    outer = round_up(float(outer_span(span.min, span.max, goal.toe_mm, *tolerances)), rules)
    inner = round_down(float(inner_gap(low, high, goal.heel_mm, *tolerances)), rules)
    land = round_near(float(land_width(width.min, width.max, goal.side_mm, *tolerances)), rules)
    body = outline.body_width_mm if axis == "left" else outline.body_length_mm
    if rules.trim_heels and outline.family.startswith("gull-wing") and inner < body.min:
        says = f"inner gap {ACROSS[axis]} raised from {inner:.2f} to the smallest body's {body.min:.2f} mm"
        binds.append(Bind("heel under the body", says))
        inner = body.min
    if not 0 < inner < outer:
        raise InputError(
            "the goals leave no gap between opposite lands",
            place=outline.name,
            found=f"inner gap {inner:g} mm, outer span {outer:g} mm",
            expected="0 < inner < outer",
        )
    trail.append(
        Step(
            says=f"lands {ACROSS[axis]}: outer {outer:.2f}, inner {inner:.2f}, width {land:.2f} mm",
            inputs={
                "form": goal.form,
                "level": level,
                "span": f"{span.text()} mm",
                "foot": f"{foot.text()} mm",
                "width": f"{width.text()} mm",
                "goals": f"toe {goal.toe_mm:g}, heel {goal.heel_mm:g}, side {goal.side_mm:g} mm",
                "tolerances": f"boards {rules.fabrication_mm:g}, placement {rules.placement_mm:g} mm",
            },
            value=outer,
            unit="mm",
            formula="land-span",
            valid="opposite terminals of one form, before minimum gaps",
            sources=("ipc-sm-782a-method", goal.source),
        )
    )
    return LandSize(round((outer - inner) / 2, 6), land, (outer + inner) / 4)


def narrowed(outline: Outline, size: LandSize, rules: LandRules, binds: list[Bind]) -> LandSize:
    """The size with its width cut to keep the gap to the neighbouring land."""
    gap = rules.row_gap_mm(outline.pitch_mm)
    widest = round_down(outline.pitch_mm - gap, rules)
    if size.width_mm <= widest:
        return size
    if widest <= 0:
        raise InputError(
            "no land fits the pitch",
            place=outline.name,
            found=f"pitch {outline.pitch_mm:g} mm",
            expected=f"more than the copper gap {gap:g} mm",
        )
    says = f"width cut from {size.width_mm:.3f} to {widest:.3f} mm: copper gap {outline.pitch_mm - widest:.3f} mm"
    bind = Bind("copper gap", says)
    if bind not in binds:
        binds.append(bind)
    return replace(size, width_mm=widest)


def clear_of_pad(
    outline: Outline, sizes: Mapping[str, LandSize], rules: LandRules, binds: list[Bind]
) -> dict[str, LandSize]:
    """Heels drawn back from a large exposed pad, at most to the nominal terminal's own inner end."""
    if not outline.has_exposed_pad or outline.exposed_length_mm is None or outline.exposed_width_mm is None:
        return dict(sizes)
    found = dict(sizes)
    for axis, size in sizes.items():
        pad = outline.exposed_width_mm if axis == "left" else outline.exposed_length_mm
        wanted = pad.max / 2 + rules.exposed_gap_mm
        inner = min(wanted, foot_end_mm(outline, axis))
        if inner <= size.inner_mm + 1e-9:
            continue
        found[axis] = size.with_inner(inner)
        says = f"inner gap {ACROSS[axis]} raised from {2 * size.inner_mm:.2f} to {2 * inner:.2f} mm"
        binds.append(Bind("exposed pad gap", f"{says}: the pad's land is {pad.max:.2f} mm"))
    return found


def foot_end_mm(outline: Outline, axis: str) -> float:
    """From the body's middle to the inner end of the nominal foot. [mm]"""
    return tip_to_tip(outline, axis).nom / 2 - _foot(outline).nom


def _foot(outline: Outline) -> Range:
    if outline.foot_mm is None:
        raise InputError(f"a {outline.family} outline needs foot_mm", place=f"outline {outline.name}")
    return outline.foot_mm
