"""Which single foil serves a side best, and whether a step zone pays for itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from landwise.costs.rates import default_rates
from landwise.printing.foils import DEEPEST_STEP_UM, THICK_KEEP_OUT_MM, step_keep_out
from landwise.review.model import Bools, Floats, Ints, Openings
from landwise.review.verdicts import FAILS, MARGINAL, UnderFoil

MOST_ZONED = 0.6  # a zone around more than this share of the apertures is a thinner foil by another name
REWORK_MONEY = 1.0  # one starved or bridged print found and touched up; plausible 0.3 to 3; the trade, no source
REWORK_RANGE = (0.3, 3.0)


@dataclass(frozen=True)
class FoilRow:
    """One foil for the whole side.

    `fails`, `marginal`: apertures; `least_ratio`: least area ratio; `defects` with its interval: starved and
    touching prints expected on one board.
    """

    foil_um: float
    holds: int
    marginal: int
    fails: int
    least_ratio: float
    defects: float
    defects_low: float
    defects_high: float

    @property
    def key(self) -> tuple[int, float, int]:
        """Order of merit: fewest failing apertures, then fewest expected defects, then fewest marginal ones."""
        return self.fails, round(self.defects, 4), self.marginal


@dataclass(frozen=True)
class Step:
    """A foil with step-down zones.

    Parameters
    ----------
    base_um, thin_um : float
        The foil, and its thickness inside the zones. [µm]
    zones : tuple of shapely polygons
        Edges of the steps. [mm]
    apertures : array of bool
        Which apertures lie in a zone.
    keep_out_mm, keep_out_thick_mm : float
        From a step's edge to the first aperture inside, and outside. [mm]
    row : FoilRow
        What the side then counts.
    saves, saves_low, saves_high : float
        Rework saved over the run, less what the step costs more than a plain foil, in the cost rates' money.
    """

    base_um: float
    thin_um: float
    zones: tuple[Any, ...]
    apertures: Bools
    keep_out_mm: float
    keep_out_thick_mm: float
    row: FoilRow
    saves: float
    saves_low: float
    saves_high: float

    @property
    def pays(self) -> bool:
        """Whether the middle estimate comes out ahead."""
        return self.saves > 0


@dataclass(frozen=True)
class FoilChoice:
    """Foils of one side: a row each, the best, the best step if any improves, and the sentence."""

    rows: tuple[FoilRow, ...]
    best_um: float
    step: Step | None
    says: str


def row_of(under: UnderFoil) -> FoilRow:
    """The row of a foil for the whole side."""
    return _row(under.foil.thickness_um, under.code, under.area_ratio, under.defects)


def _row(um: float, code: Ints, ratio: Floats, defects: tuple[float, float, float]) -> FoilRow:
    least = float(ratio.min()) if len(ratio) else float("inf")
    return FoilRow(
        um, int((code == 0).sum()), int((code == MARGINAL).sum()), int((code == FAILS).sum()), least, *defects
    )


def choose(unders: Mapping[float, UnderFoil], paste: Openings, part_of: Ints, usual_um: float, run: int) -> FoilChoice:
    """The best single foil, and the best step.

    Parameters
    ----------
    unders : mapping of foil [µm] to UnderFoil
    paste : Openings
    part_of : array of int
        Part of each aperture: a step zone takes parts whole.
    usual_um : float
        The foil the line uses anyway; it wins ties. [µm]
    run : int
        Boards over which a step's extra charge is spread.

    Notes
    -----
    Order of merit: failing apertures, then expected defects to 0.0001, then marginal apertures, then the
    line's usual foil, then the thicker one.
    """
    rows = tuple(row_of(unders[um]) for um in sorted(unders))
    best = min(rows, key=lambda row: (*row.key, row.foil_um != usual_um, -row.foil_um))
    steps = [
        step
        for base in rows
        for thin in rows
        if 0 < base.foil_um - thin.foil_um <= DEEPEST_STEP_UM + 1e-9
        and (step := _step(unders[base.foil_um], unders[thin.foil_um], paste, part_of, best, run)) is not None
    ]
    better = [step for step in steps if step.row.key < best.key]
    step = min(better, key=lambda s: (*s.row.key, len(s.zones), s.apertures.sum()), default=None)
    return FoilChoice(rows, best.foil_um, step, _says(best, step, run))


def _says(best: FoilRow, step: Step | None, run: int) -> str:
    text = f"{best.foil_um:g} µm serves best"
    if best.fails:
        text += f"; {best.fails} apertures fail even so"
    if step is None:
        return text + "; no step zone does better"
    gain = best.fails - step.row.fails
    what = f"{gain} fewer failing apertures" if gain > 0 else "fewer expected defects"
    verdict = "pays for itself" if step.pays else "does not pay for itself"
    return (
        f"{text}; a step from {step.base_um:g} to {step.thin_um:g} µm in {len(step.zones)} "
        f"zone{'s' if len(step.zones) > 1 else ''} gives {what} and {verdict} over {run} boards"
    )


def _step(base: UnderFoil, thin: UnderFoil, paste: Openings, part_of: Ints, best: FoilRow, run: int) -> Step | None:
    depth = base.foil.thickness_um - thin.foil.thickness_um
    gains = (base.code > 0) & (thin.code < base.code)
    if not gains.any():
        return None
    taken, zones = zoned(paste, part_of, gains, step_keep_out(depth))
    if taken.mean() > MOST_ZONED:
        return None
    code = np.where(taken, thin.code, base.code)
    starved = [
        np.where(taken, getattr(thin, name), getattr(base, name)).sum()
        for name in ("starved", "starved_low", "starved_high")
    ]
    touching = [
        np.where(taken, getattr(thin, name), getattr(base, name)).sum()
        for name in ("touching", "touching_low", "touching_high")
    ]
    defects = tuple(float(a + b) for a, b in zip(starved, touching, strict=True))
    row = _row(base.foil.thickness_um, code, np.where(taken, thin.area_ratio, base.area_ratio), defects)  # type: ignore[arg-type]
    rates = default_rates()
    foil, share = rates["foil"], rates["step_zone"]
    saved = best.defects - row.defects
    return Step(
        base.foil.thickness_um,
        thin.foil.thickness_um,
        zones,
        taken,
        step_keep_out(depth),
        THICK_KEEP_OUT_MM,
        row,
        saved * run * REWORK_MONEY - foil.value * share.value,
        min(saved, best.defects_low - row.defects_low) * run * REWORK_RANGE[0] - foil.high * share.high,
        max(saved, best.defects_high - row.defects_high) * run * REWORK_RANGE[1] - foil.low * share.low,
    )


def zoned(
    paste: Openings, part_of: Ints, wanted: Bools, keep_out_mm: float, keep_out_thick_mm: float = THICK_KEEP_OUT_MM
) -> tuple[Bools, tuple[Any, ...]]:
    """Step zones around the wanted apertures, with both keep-outs held.

    Parameters
    ----------
    paste : Openings
    part_of : array of int
        Part of each aperture, -1 for none.
    wanted : array of bool
    keep_out_mm : float
        From a zone's edge to the first aperture in it. [mm]
    keep_out_thick_mm : float
        From a zone's edge to the first aperture outside. [mm]

    Returns
    -------
    taken : array of bool
        Apertures in zones: those wanted, the rest of their parts, and whatever stood in the way.
    zones : tuple of shapely polygons

    Examples
    --------
    >>> import shapely
    >>> from landwise.review.building import openings
    >>> paste = openings([shapely.box(x, 0, x + 1, 1) for x in (0, 2, 9, 20)])
    >>> taken, zones = zoned(paste, np.arange(4), np.array([True, False, False, False]), 0.9)
    >>> taken.tolist(), [round(edge, 3) for edge in zones[0].bounds]
    ([True, True, False, False], [-0.9, -0.9, 3.9, 1.9])
    """
    import shapely

    boxes = shapely.bounds(paste.polygon)
    group = np.where(part_of >= 0, part_of, part_of.max(initial=0) + 1 + np.arange(len(part_of)))
    count = int(group.max()) + 1
    low, high = np.full((count, 2), np.inf), np.full((count, 2), -np.inf)
    np.minimum.at(low, group, boxes[:, :2])
    np.maximum.at(high, group, boxes[:, 2:])
    present = np.isfinite(low[:, 0])
    taken = np.zeros(count, dtype=bool)
    taken[group[wanted]] = True
    tree = shapely.STRtree(shapely.box(boxes[:, 0], boxes[:, 1], boxes[:, 2], boxes[:, 3]))
    merged: Any = None
    while True:
        rows = np.flatnonzero(taken & present)
        grown = shapely.box(
            low[rows, 0] - keep_out_mm,
            low[rows, 1] - keep_out_mm,
            high[rows, 0] + keep_out_mm,
            high[rows, 1] + keep_out_mm,
        )
        merged = shapely.union_all(grown)
        # Zones nearer to each other than a blade can tell are cut as one.
        merged = merged.buffer(keep_out_thick_mm / 2, join_style="mitre").buffer(
            -keep_out_thick_mm / 2, join_style="mitre"
        )
        parts = shapely.get_parts(merged)
        _, near = tree.query(parts, predicate="dwithin", distance=keep_out_thick_mm)
        more = np.unique(group[near])
        if taken[more].all():
            return taken[group], tuple(parts)
        taken[more] = True
        if taken[present].mean() > MOST_ZONED:
            return taken[group], tuple(parts)


def foils_of(foils_um: Sequence[float]) -> tuple[float, ...]:
    """Foils to compare, thin to thick, each once."""
    return tuple(sorted(set(foils_um)))
