"""Assembling a land pattern: lands by style, minimum gaps held, mask openings, courtyard."""

from __future__ import annotations

from landwise.errors import InputError
from landwise.evidence.figures import Step
from landwise.lands.courtyard import courtyard
from landwise.lands.drilled import drilled_lands
from landwise.lands.grids import grid_lands
from landwise.lands.mask import with_openings
from landwise.lands.model import LEVELS, STYLES, Bind, LandPattern, Level, Style
from landwise.lands.rows import feet_off_lands, row_lands
from landwise.lands.rules import LandRules
from landwise.outlines import GRIDS, LEADLESS, Outline
from landwise.shapes import least_gap_mm


def land_pattern(
    outline: Outline, *, style: Style = "auto", level: Level = "nominal", rules: LandRules | None = None
) -> LandPattern:
    """The lands, mask openings, holes and courtyard for an outline.

    Parameters
    ----------
    outline : Outline
    style : {"auto", "goals", "pad-for-pad", "published"}
        `auto` takes the maker's printed land where the outline carries one, pad-for-pad for leadless bodies
        of the 1 mm class, and the goals otherwise. For grids `goals` means the ball-to-land table, for
        drilled leads the hole levels.
    level : {"most", "nominal", "least"}
        Density level of the goals and of the courtyard.
    rules : LandRules, optional
        Tolerances and minima; the defaults carry reasons in `RULE_REASONS`.

    Returns
    -------
    LandPattern
        `binds` names every minimum that decided a size, and every nominal foot that does not lie wholly on
        its land (a maker's land may be printed for other terminals).

    Raises
    ------
    InputError
        For an unknown style or level, a style the outline can't have, or gaps that can't be held.
    ValidityError
        For a ball outside the published table.

    Examples
    --------
    >>> from landwise.outlines import find
    >>> pattern = land_pattern(find("SSOP-14"))
    >>> pattern.style, len(pattern.lands), round(pattern.least_copper_gap_mm, 2)
    ('goals', 14, 0.2)
    """
    rules = rules or LandRules()
    if style not in STYLES:
        raise InputError("unknown land style", found=str(style), expected=" | ".join(STYLES))
    if level not in LEVELS:
        raise InputError("unknown density level", found=str(level), expected=" | ".join(LEVELS))
    used = style_in_effect(outline, style, rules)
    binds: list[Bind] = []
    trail: list[Step] = []
    if outline.drilled:
        lands = drilled_lands(outline, rules, binds, trail)
    elif outline.family in GRIDS:
        lands = grid_lands(outline, used, level, rules, binds, trail)
    else:
        lands = row_lands(outline, used, level, rules, binds, trail)
    lands = with_openings(outline, used, lands, rules, binds, trail)
    if not outline.drilled and outline.family not in GRIDS:
        binds.extend(feet_off_lands(outline, lands))
    return LandPattern(
        outline=outline.name,
        style=used,
        level=level,
        lands=tuple(lands),
        courtyard_mm=courtyard(outline, lands, level, rules, trail),
        least_copper_gap_mm=round(least_gap_mm([land.copper for land in lands]), 6),
        least_web_mm=round(least_gap_mm([land.opening for land in lands]), 6),
        binds=tuple(binds),
        trail=tuple(trail),
    )


def style_in_effect(outline: Outline, style: Style, rules: LandRules) -> str:
    """The style that `land_pattern` uses: never `auto`.

    Raises
    ------
    InputError
        For a style the outline can't have.
    """
    if style == "published" and outline.published_land is None:
        raise InputError(
            "no published land is known for this outline",
            place=outline.name,
            expected="another style, or add published_land",
        )
    if style == "pad-for-pad" and outline.family not in LEADLESS:
        raise InputError(
            "pad-for-pad lands are for leadless outlines",
            place=outline.name,
            found=outline.family,
            expected="style goals",
        )
    if style != "auto":
        return style
    if outline.published_land is not None:
        return "published"
    longest = max(outline.body_length_mm.nom, outline.body_width_mm.nom)
    return "pad-for-pad" if outline.family in LEADLESS and longest <= rules.pad_for_pad_longest_mm else "goals"
