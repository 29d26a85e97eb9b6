"""How a film prints its lands: openings are mostly drawn as the lands less an edge, or as so much of their sides.

An opening whose own size is lost is drawn that way, so that it prints as the rest of the film does.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from landwise.review.checks.situation import Situation
from landwise.review.frames import mixed, steps
from landwise.review.mending.likeness import LandPrints, sides_along
from landwise.review.model import Floats
from landwise.review.verdicts import under_middle
from landwise.shapes import Geometry

LEAST_SIZES = 5  # of land that must be printed in one way before it is the film's; common practice, no source
AGREE_SHARE = 0.6  # of the sizes
SOUND_COVER = (0.5, 1.2)  # of a land: prints outside are no witnesses
LEAST_SHARE, MOST_INSET_MM = 0.75, 0.1  # of a side, and of every edge: what is taken off more is a design of its own
NOTHING_MM = 0.001
WITHIN_MM = 0.04  # a side: what corners and single footprints drawn by hand differ by


@dataclass(frozen=True)
class FilmWay:
    """What a film's openings are against their lands: so much of each side, or so much off every edge.

    Parameters
    ----------
    share : float
        Of each side of the land. [-]
    inset_mm : float
        Off every edge. [mm]
    """

    share: float = 1.0
    inset_mm: float = 0.0

    @property
    def whole(self) -> bool:
        """Whether lands are printed as they are."""
        return self.share == 1.0 and self.inset_mm == 0.0

    def on(self, land: Geometry) -> Geometry:
        """The opening on a land, in the film's way; the land itself where nothing would be left.

        >>> import shapely
        >>> FilmWay(share=0.9).on(shapely.box(0, 0, 2, 1)).bounds
        (0.1, 0.05, 1.9, 0.95)
        >>> FilmWay(inset_mm=0.05).on(shapely.box(0, 0, 2, 1)).bounds
        (0.05, 0.05, 1.95, 0.95)
        """
        import shapely
        from shapely import affinity

        if self.whole:
            return land
        if self.inset_mm:
            made: Geometry = shapely.set_precision(land.buffer(-self.inset_mm, join_style="mitre"), 1e-6)
            return made if made.geom_type == "Polygon" and not made.is_empty else land
        scaled: Geometry = shapely.set_precision(affinity.scale(land, self.share, self.share), 1e-6)
        return scaled

    @property
    def says(self) -> str:
        """How an opening is drawn, in words."""
        if self.whole:
            return "drawn as the land"
        if self.inset_mm:
            return f"drawn as the land less {1000 * self.inset_mm:.0f} µm an edge, like the rest of the film"
        return f"drawn as {100 * self.share**2:.0f} % of the land, like the rest of the film"


def film_way(given: Situation, prints: LandPrints) -> FilmWay:
    """The way in which most sizes of land are printed; the lands themselves where there is none.

    Parameters
    ----------
    given : Situation
    prints : LandPrints

    Notes
    -----
    Witnesses are lands of parts whose kind is told, with one opening each, not under the middle and not of balls, which
    are printed by rules of their own. Every size of land has one vote: a rule is what holds for many sizes. Shares of
    the sides and edges taken off are both tried, at their medians; an opening agrees where its sides come out within
    40 µm. The one on which more agree holds, if three in five do; lands printed larger than they are count as whole.
    """
    lands, own = given.lands, given.part_of_land
    told = np.array([part.kind not in ("odd", "single", "grid") for part in given.parts] or [False], dtype=bool)
    sound = (prints.cover > SOUND_COVER[0]) & (prints.cover < SOUND_COVER[1])
    rows = np.flatnonzero((own >= 0) & (prints.count == 1) & sound & ~under_middle(given.parts, len(lands)))
    rows = rows[told[own[rows]]]
    if not len(rows):
        return FilmWay()
    turn = prints.outward_rad[rows]
    land = np.column_stack(sides_along(lands.length_mm[rows], lands.width_mm[rows], lands.angle_deg[rows], turn))
    opening = land + np.column_stack([prints.along_mm[rows], prints.across_mm[rows]])
    _, size, many = np.unique(
        mixed(steps(lands.length_mm[rows]), steps(lands.width_mm[rows])), return_inverse=True, return_counts=True
    )
    if len(many) < LEAST_SIZES:
        return FilmWay()
    each = 1.0 / many[size]  # every size one vote
    share = _middle((opening / land).ravel(), np.repeat(each, 2))
    inset = _middle(((land - opening) / 2).ravel(), np.repeat(each, 2))

    ways = {}
    for name, expected in (("share", share * land), ("inset", land - 2 * inset)):
        off = np.abs(opening - expected).max(axis=1)
        ways[name] = float(each[off <= WITHIN_MM].sum()), -_middle(off, each)
    best = max(ways, key=lambda name: ways[name])  # the one on which more agree, of equals the one that fits closer
    if ways[best][0] < AGREE_SHARE * len(many):
        return FilmWay()
    if best == "share":
        return FilmWay(share=round(share, 3)) if LEAST_SHARE <= share < 1 - NOTHING_MM else FilmWay()
    return FilmWay(inset_mm=round(inset, 4)) if NOTHING_MM < inset <= MOST_INSET_MM else FilmWay()


def _middle(values: Floats, weights: Floats) -> float:
    """The weighted median."""
    order = np.argsort(values, kind="stable")
    sums = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(sums, sums[-1] / 2)])
