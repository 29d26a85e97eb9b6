"""Mask openings: the margin around lands, the web between openings, and what to do where none fits.

Where the wanted margin leaves too narrow a web, in this order: a smaller margin, down to the least; lands
that the mask defines, for balls and around a terminal in the middle; one opening for neighbours of a row.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

from landwise.errors import InputError
from landwise.evidence.figures import Step
from landwise.lands.model import Bind, Land
from landwise.lands.rules import LandRules
from landwise.outlines import GRIDS, Outline
from landwise.shapes import Placed, least_gap_mm, rectangle

CLOSE_MM = 1e-9


def with_openings(
    outline: Outline, used: str, lands: list[Land], rules: LandRules, binds: list[Bind], trail: list[Step]
) -> list[Land]:
    """The lands with their mask openings, and with covered copper where the mask defines them.

    Raises
    ------
    InputError
        If mask-defined lands would come too close under the mask.
    """
    published = outline.published_land if used == "published" else None
    if published and published.mask_defined:
        trail.append(Step(says="lands that the mask defines, as the maker prints them", sources=(published.source,)))
        return _mask_defined(outline, lands, rules, binds)
    wanted, source = rules.mask_margin_mm, "mask-60um"
    if published and published.mask_margin_mm is not None:
        wanted, source = published.mask_margin_mm, published.source
    margin = _margin(lands, wanted, rules)
    if margin is not None:
        if margin < wanted:
            says = f"margin cut from {wanted:g} to {margin:.3f} mm: web {rules.least_mask_web_mm:g} mm"
            binds.append(Bind("mask web", says))
        trail.append(_margin_step(margin, source, rules))
        return _opened(lands, margin)
    gap = least_gap_mm([land.copper for land in lands])
    if outline.family in GRIDS or outline.centre_terminal:
        says = f"no web of {rules.least_mask_web_mm:g} mm fits lands {gap:.3f} mm apart: the mask defines the lands"
        binds.append(Bind("mask web", says))
        trail.append(Step(says="lands that the mask defines", sources=("spraa99c-lands",)))
        return _mask_defined(outline, lands, rules, binds)
    trail.append(_margin_step(wanted, source, rules))
    return _merged(_opened(lands, wanted), rules, binds)


def _margin_step(margin_mm: float, source: str, rules: LandRules) -> Step:
    return Step(
        says=f"mask stays {margin_mm:.3f} mm back from the lands",
        inputs={"least web": f"{rules.least_mask_web_mm:g} mm", "least margin": f"{rules.least_mask_margin_mm:g} mm"},
        value=margin_mm,
        unit="mm",
        formula=None,
        valid="",
        sources=(source, "mask-web-lab"),
    )


def _opened(lands: list[Land], margin_mm: float) -> list[Land]:
    return [replace(land, opening=land.place.with_shape(land.place.shape.grown(margin_mm))) for land in lands]


def _web(lands: list[Land], margin_mm: float) -> float:
    return least_gap_mm([land.opening for land in _opened(lands, margin_mm)])


def _margin(lands: list[Land], wanted_mm: float, rules: LandRules) -> float | None:
    """The wanted margin, or the largest smaller one that leaves a web; None if that is below the least."""
    web = rules.least_mask_web_mm
    if _web(lands, wanted_mm) >= web - CLOSE_MM:
        return wanted_mm
    gap = least_gap_mm([land.copper for land in lands])
    # Lands side by side lose two margins of their gap, lands corner to corner up to √2 times as much.
    for share in (2.0, 2 * math.sqrt(2)):
        margin = math.floor((gap - web) / share * 1e6 + CLOSE_MM) / 1e6
        if min(rules.least_mask_margin_mm, wanted_mm) - CLOSE_MM <= margin and _web(lands, margin) >= web - 1e-6:
            return margin
    return None


def _mask_defined(outline: Outline, lands: list[Land], rules: LandRules, binds: list[Bind]) -> list[Land]:
    """Openings as large as the lands, copper reaching under the mask as far as its gap allows."""
    gap = least_gap_mm([land.place for land in lands])
    room = (gap - rules.least_covered_gap_mm) / 2
    overlap = min(rules.mask_overlap_mm, math.floor(room * 1e4 + 1e-6) / 1e4)
    if overlap <= 0:
        raise InputError(
            "mask-defined lands leave no gap for the copper under the mask",
            place=outline.name,
            found=f"openings {gap:.3f} mm apart",
            expected=f"more than {rules.least_covered_gap_mm:g} mm",
        )
    if overlap < rules.mask_overlap_mm:
        says = f"copper reaches {overlap:.3f} mm under the mask, not {rules.mask_overlap_mm:g} mm"
        binds.append(Bind("covered copper gap", f"{says}: covered copper keeps {rules.least_covered_gap_mm:g} mm"))
    return [
        replace(
            land,
            copper=land.place.with_shape(land.place.shape.grown(overlap)),
            opening=land.place,
            mask_defined=True,
        )
        for land in lands
    ]


def _merged(lands: list[Land], rules: LandRules, binds: list[Bind]) -> list[Land]:
    """Openings of neighbours in a row drawn together where no web fits between them."""
    openings = {land.terminal: land.opening for land in lands}
    rows: dict[tuple[float, float], list[Land]] = {}
    for land in lands:
        rows.setdefault((land.place.angle_deg, round(_out(land.place), 6)), []).append(land)
    merged, gaps = 0, []
    for row in rows.values():
        ordered = sorted(row, key=lambda land: _along(land.place))
        for first, second in pairwise(ordered):
            low, high = openings[first.terminal], openings[second.terminal]
            low_end, high_end = _along(low) + low.shape.width_mm / 2, _along(high) - high.shape.width_mm / 2
            if high_end - low_end >= rules.least_mask_web_mm - CLOSE_MM:
                continue
            middle = (low_end + high_end) / 2
            openings[first.terminal] = _reaching(low, _along(low) - low.shape.width_mm / 2, middle)
            openings[second.terminal] = _reaching(high, middle, _along(high) + high.shape.width_mm / 2)
            gaps.append(least_gap_mm([first.copper, second.copper]))
            merged += 1
    found = [replace(land, opening=openings[land.terminal]) for land in lands]
    if merged:
        says = f"no web of {rules.least_mask_web_mm:g} mm fits lands {min(gaps):.3f} mm apart in their rows"
        binds.append(Bind("mask web", f"{says}: each row shares its opening"))
    narrow = _web_between(list(rows.values()), openings)
    if narrow < rules.least_mask_web_mm - 1e-6:
        binds.append(
            Bind(
                "mask web", f"the web between rows or to the pad is {narrow:.3f} mm, not {rules.least_mask_web_mm:g} mm"
            )
        )
    return found


def _web_between(rows: list[list[Land]], openings: dict[str, Placed]) -> float:
    import shapely

    shapes = [shapely.union_all([openings[land.terminal].geometry() for land in row]) for row in rows]
    gaps = [float(shapely.distance(one, other)) for k, one in enumerate(shapes) for other in shapes[k + 1 :]]
    return min(gaps, default=math.inf)


def _along(place: Placed) -> float:
    """Place along its row, counterclockwise. [mm]"""
    angle = math.radians(place.angle_deg)
    return place.y_mm * math.cos(angle) - place.x_mm * math.sin(angle)


def _out(place: Placed) -> float:
    angle = math.radians(place.angle_deg)
    return place.x_mm * math.cos(angle) + place.y_mm * math.sin(angle)


def _reaching(opening: Placed, low_mm: float, high_mm: float) -> Placed:
    """The opening with other ends along its row."""
    angle, out, middle = math.radians(opening.angle_deg), _out(opening), (low_mm + high_mm) / 2
    return replace(
        opening,
        shape=rectangle(opening.shape.length_mm, high_mm - low_mm),
        x_mm=round(out * math.cos(angle) - middle * math.sin(angle), 9),
        y_mm=round(out * math.sin(angle) + middle * math.cos(angle), 9),
    )
