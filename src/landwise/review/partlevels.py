"""Expected defects of every part of a side under one foil, as it came and as it is mended."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from landwise.assembly.knowledge import default_knowledge
from landwise.review.checks.situation import Situation
from landwise.review.levels import Levels
from landwise.review.mending.rejecting import rejects
from landwise.review.mending.sheet import Sheet
from landwise.review.mending.weighing import level_of
from landwise.review.model import Bools, Floats, carries_lead
from landwise.review.verdicts import HALF, under_middle


@dataclass(frozen=True)
class PartLevels:
    """One entry a part. [defects a board]

    `known` tells where the joints are counted; elsewhere the figures are prints of which less than half comes
    out of the foil, with no range of their own. `draws` are all parts together at every draw of what is not known.
    """

    defects: Floats
    low: Floats
    high: Floats
    known: Bools
    printed: Bools
    draws: Floats

    def summed(self) -> tuple[float, float, float]:
        """All parts together: mean, and 5 and 95 % of the draws, which are the same for all parts."""
        low, high = np.quantile(self.draws, (0.05, 0.95))
        mean = float(self.defects.sum())
        return mean, min(float(low), mean), max(float(high), mean)


def short_prints(given: Situation) -> Floats:
    """Chance, for each land, that less than half of what its openings hold comes out of them.

    A land's panes are one print. How much of the land is open is the designer's matter where nobody knows the part.
    """
    from scipy.special import ndtr

    lands, paste, matched, under = given.lands, given.paste, given.matched, given.under
    count = len(lands)
    at = np.flatnonzero(matched.land >= 0)
    land = matched.land[at]
    area = np.bincount(land, weights=paste.area_mm2[at], minlength=count)
    whole = np.maximum(area, 1e-12)
    mean = np.bincount(land, weights=paste.area_mm2[at] * under.mean[at], minlength=count) / whole
    sd = np.bincount(land, weights=paste.area_mm2[at] * under.sd[at], minlength=count) / whole
    little = ndtr((HALF - mean) / np.maximum(sd, 1e-3))
    little[under_middle(given.parts, count)] = 0.0
    found: Floats = np.where((matched.printed > 0) & ~carries_lead(lands), little, 0.0)
    return found


def part_levels(sheet: Sheet, levels: Levels, *, mended: bool) -> PartLevels:
    """The level of each part under the situation's foil.

    Parameters
    ----------
    sheet : Sheet
    levels : Levels
    mended : bool
        With the sheet's changes; else as the film came.
    """
    given = sheet.given
    own = sheet if mended else Sheet(given, sheet.package)
    count = len(given.parts)
    value, low, high = np.zeros(count), np.zeros(count), np.zeros(count)
    known, printed = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    counts = np.bincount(
        given.part_of_land[given.part_of_land >= 0],
        weights=given.matched.printed[given.part_of_land >= 0],
        minlength=count,
    )
    printed[:] = counts > 0
    per_land = short_prints(given)
    inside = given.part_of_land >= 0
    prints = np.bincount(given.part_of_land[inside], weights=per_land[inside], minlength=count)
    foil, powder = given.under.foil, given.under.powder
    total, drawn_mean = np.zeros(default_knowledge().draws), 0.0
    touched = {int(given.part_of[row]) for row in own.changed} | {int(given.part_of_land[k]) for k in own.added}
    for its in own.variants_of(np.flatnonzero(printed).tolist()).values():
        plain = [part for part in its if part not in touched]
        for some in ([plain] if plain else []) + _alike(own, [part for part in its if part in touched]):
            at = np.array(some)
            level = level_of(own, some[0], levels, foil)
            if level.known and level.draws is not None:
                total += len(some) * level.draws
                drawn_mean += len(some) * level.defects
            if level.known:
                value[at], low[at], high[at], known[at] = level.defects, level.low, level.high, True
            elif some is plain:
                value[at] = low[at] = high[at] = prints[at]
            else:
                lands = given.parts[some[0]].lands
                short = rejects(own, lands, foil, powder, short_only=True, spread=levels.line.scatter.spread)
                value[at] = low[at] = high[at] = short
    return PartLevels(value, low, high, known, printed, total + (value.sum() - drawn_mean))


def _alike(sheet: Sheet, parts: list[int]) -> list[list[int]]:
    """Changed parts that were changed alike: on the same lands of the pattern."""
    found: dict[tuple[bool, ...], list[int]] = {}
    moved = sheet.touched_lands
    for part in parts:
        found.setdefault(tuple(land in moved for land in sheet.given.parts[part].lands), []).append(part)
    return list(found.values())
