"""Terminals from lands: the land formula of the land-pattern standard, solved for the part.

A land is a limit of the part, plus the goal of the fillet, plus the root of the summed squares of the tolerances of
part, board and placement (`lands.goals`). Read backwards, with the tolerances that landwise draws its own lands with
(`LandRules`) and, for the part's own tolerance, the median over the catalogue's outlines of the same family at the
nearest pitch, it gives the nominal terminal. It is an assumption: that the board's designer drew by the standard, at
its nominal level. Chips are not in the catalogue; theirs are read with no tolerance of the part, which moves a width
by less than 0.02 mm for tolerances up to 0.2 mm, since half of it is added as the root takes it away.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from statistics import median

from landwise.lands.goals import Goals
from landwise.lands.rules import LandRules
from landwise.outlines import catalogue
from landwise.outlines.model import Family, Outline, Range

LEAST_WIDTH = 0.5  # of a land that a terminal covers at least, in width and
LEAST_FOOT = 0.3  # in length (gull wings on long lands): below it no joint would have been meant
STEP_MM = 0.01  # lands are rounded to it
THICK_MM = 0.15  # of a lead where the catalogue's outlines of a form name none
SHORTEST_CHIP_MM = 0.15  # terminal of the smallest chips, common practice, no source
RULES = LandRules()


@dataclass(frozen=True)
class Usual:
    """What outlines of one family and pitch have in common: medians over the catalogue. [mm]

    `span_mm`, `foot_mm` and `width_mm` are tolerances (largest less smallest), `nominal_mm` the width of a terminal,
    `least_foot_mm` its shortest foot.
    """

    span_mm: float
    foot_mm: float
    width_mm: float
    nominal_mm: float
    least_foot_mm: float
    thick_mm: float
    standoff_mm: float


@dataclass(frozen=True)
class Read:
    """A terminal read from its land, nominal. [mm]"""

    span_mm: float
    foot_mm: float
    width_mm: float


def _median(values: Iterable[float], otherwise: float = 0.0) -> float:
    found = list(values)
    return float(median(found)) if found else otherwise


@cache
def usual(family: Family, pitch_mm: float) -> Usual:
    """Medians over the catalogue's outlines of a family, of those at the pitch nearest to the one given.

    Raises
    ------
    ValueError
        For a family of which the catalogue has no outline with feet.

    Examples
    --------
    >>> found = usual("gull-wing dual", 0.4)
    >>> round(found.width_mm, 3), round(found.nominal_mm, 3), round(found.span_mm, 3)
    (0.1, 0.18, 0.4)
    """
    same = [one for one in catalogue().values() if one.family == family and one.foot_mm and not one.drilled]
    off = min(abs(one.pitch_mm - pitch_mm) for one in same)
    near = [one for one in same if abs(one.pitch_mm - pitch_mm) <= off + 1e-6]
    return Usual(
        span_mm=_median(_span(one).tolerance for one in near),
        foot_mm=_median(one.foot_mm.tolerance for one in near if one.foot_mm),
        width_mm=_median(one.terminal_width_mm.tolerance for one in near),
        nominal_mm=_median(one.terminal_width_mm.nom for one in near),
        least_foot_mm=_median(one.foot_mm.min for one in near if one.foot_mm),
        thick_mm=_median((one.terminal_thickness_mm.nom for one in near if one.terminal_thickness_mm), THICK_MM),
        standoff_mm=_median(one.standoff_mm.nom for one in near),
    )


NONE_KNOWN = Usual(0.0, 0.0, 0.0, 0.0, SHORTEST_CHIP_MM, THICK_MM, 0.0)


def _span(one: Outline) -> Range:
    return one.span_mm or one.body_width_mm


def terminal_of_land(
    middle_mm: float, out_mm: float, wide_mm: float, goal: Goals, its: Usual, pitch_mm: float | None
) -> Read:
    r"""The nominal terminal under a land of a row.

    Parameters
    ----------
    middle_mm : float
        From the body's middle to the land's. [mm]
    out_mm, wide_mm : float
        The land's length outward and its width along the row. [mm]
    goal : Goals
    its : Usual
    pitch_mm : float or None
        None where lands have no neighbour that could have narrowed them.

    Notes
    -----
    Width :math:`W = X - 2J_S - \sqrt{C_W^2 + F^2 + P^2} + C_W/2`, span likewise from the outer distance, the gap
    between opposite feet :math:`S = G + 2J_H + \sqrt{C_S^2 + F^2 + P^2} - C_S/2` with
    :math:`C_S = \sqrt{C_L^2 + 2C_T^2}`; sources `ipc-sm-782a-method`, `ipc-7351b-goals`. A land that leaves no more
    copper gap than the house keeps may have been narrowed to it: its terminal is no narrower than the catalogue's
    median. Heels may have been drawn back from the body: a foot is no shorter than the median of the shortest.

    Examples
    --------
    >>> from landwise.lands.goals import goals
    >>> read = terminal_of_land(2.905, 1.51, 0.43, goals("gull-wing"), usual("gull-wing dual", 0.65), 0.65)
    >>> abs(read.width_mm - 0.245) < 0.15 * 0.245
    True
    """

    def spread(own: float) -> float:
        return math.sqrt(own**2 + RULES.fabrication_mm**2 + RULES.placement_mm**2) - own / 2

    width = wide_mm - 2 * goal.side_mm - spread(its.width_mm)
    if pitch_mm and pitch_mm - wide_mm <= RULES.row_gap_mm(pitch_mm) + STEP_MM:
        width = max(width, its.nominal_mm)
    width = min(max(width, LEAST_WIDTH * wide_mm), wide_mm)
    outer, inner = 2 * middle_mm + out_mm, 2 * middle_mm - out_mm
    span = outer - 2 * goal.toe_mm - spread(its.span_mm)
    gap = inner + 2 * goal.heel_mm + spread(math.hypot(its.span_mm, math.sqrt(2) * its.foot_mm))
    least = min(max(LEAST_FOOT * out_mm, its.least_foot_mm), out_mm)
    span = max(span, inner + 2 * least)  # a short land: the toe's share is what the foot leaves
    return Read(span, min(max((span - gap) / 2, least), out_mm), width)
