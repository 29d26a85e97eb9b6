"""Which foil serves a side best after correction, and the smallest step zone that pays."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from landwise.costs.foils import STEPPED_FOIL
from landwise.costs.rates import default_rates
from landwise.printing.foils import DEEPEST_STEP_UM, THICK_KEEP_OUT_MM, step_keep_out
from landwise.quantities import several
from landwise.review.model import Bools, Floats, Ints, Openings
from landwise.review.zones import MOST_ZONED, zoned
from landwise.shapes import Geometry

REWORK_MONEY = 1.0  # one defect found and touched up; plausible 0.3 to 3; the trade, no source
REWORK_RANGE = (0.3, 3.0)
SAME_SHARE = 0.1  # of the expected defects
TURNED = 0.1  # of the draws: a foil that is better in as many is not known to be worse
FEW_OPENINGS = 0.05  # of a side's: equals that hold so many fewer openings than another of them give way to it; ours
SAME_DEFECTS = 1e-3  # a board: foils nearer than one defect in a thousand boards are one
MOST_ZONE_PARTS = 40  # parts that are tried for a zone, by what they gain


@dataclass(frozen=True)
class FoilRow:
    """One foil for the whole side.

    Parameters
    ----------
    foil_um : float
    holds, marginal, fails : int
        Apertures of the film as it came, by their print.
    least_ratio : float
        Least area ratio.
    defects, defects_low, defects_high : float
        Expected on one board with the film as it came: joints as the assembly room counts them, and for parts whose
        family the lands don't tell, prints short of half their paste. 90 % range.
    after, after_low, after_high : float
        The same after the corrections that nobody would object to under this foil.
    told : int
        Parts whose joints are counted, of `parts`.
    parts : int
        Parts with paste.
    draws, after_draws : tuple of float
        The same at every draw of what is not known; draw by draw the same for all foils.
    """

    foil_um: float
    holds: int
    marginal: int
    fails: int
    least_ratio: float
    defects: float
    defects_low: float
    defects_high: float
    after: float = 0.0
    after_low: float = 0.0
    after_high: float = 0.0
    told: int = 0
    parts: int = 0
    draws: tuple[float, ...] = ()
    after_draws: tuple[float, ...] = ()


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
    parts : tuple of str
        Parts whose thinner foil pays; what else a zone takes in comes along.
    keep_out_mm, keep_out_thick_mm : float
        From a step's edge to the first aperture inside, and outside. [mm]
    defects : float
        Expected on one board, after correction.
    saves, saves_low, saves_high : float
        Rework saved over the run, less what the step costs more than a plain foil, in the cost rates' money.
    """

    base_um: float
    thin_um: float
    zones: tuple[Geometry, ...]
    apertures: Bools
    parts: tuple[str, ...]
    keep_out_mm: float
    keep_out_thick_mm: float
    defects: float
    saves: float
    saves_low: float
    saves_high: float


@dataclass(frozen=True)
class FoilChoice:
    """Foils of one side: a row each, the best after correction, its equals within what is known, the best for the film
    as it came, the step that pays, if any."""

    rows: tuple[FoilRow, ...]
    best_um: float
    equal_um: tuple[float, ...]
    uncorrected_um: float
    step: Step | None
    says: str = ""

    @property
    def best(self) -> FoilRow:
        """The row of the best foil."""
        return next(row for row in self.rows if row.foil_um == self.best_um)


def choose(rows: Sequence[FoilRow], usual_um: float, of: str = "after") -> tuple[float, tuple[float, ...]]:
    """The best single foil and those that are its equals.

    Notes
    -----
    Least expected defects. A foil is an equal where it lies within one defect in a thousand boards, or where in a
    tenth or more of the draws of what is not known it comes out better: what is uncertain (transfer, slump) is the
    same for both, so draw is held against draw. Among equals those give way under which many more openings are
    marginal or fail: that is what is known of them. Of the rest the film as it came decides, for corrections may be
    refused; of those as good to a tenth the line's usual foil is named, else the thickest.

    Examples
    --------
    >>> def row(um, value):
    ...     return FoilRow(um, 1, 0, 0, 0.8, value, value, value, value, value, value, after_draws=(value,) * 10)
    >>> choose([row(80, 0.1), row(100, 0.0001), row(120, 0.0002)], 100)
    (100, (120,))
    """
    least = min(rows, key=lambda row: (getattr(row, of), -row.foil_um))
    name = "draws" if of == "defects" else f"{of}_draws"

    def equals(row: FoilRow) -> bool:
        if getattr(row, of) - getattr(least, of) <= SAME_DEFECTS:
            return True
        turned = np.array(getattr(row, name)) < np.array(getattr(least, name))
        return bool(turned.size) and float(turned.mean()) >= TURNED

    same = [row for row in rows if equals(row)]
    # Equal within what is known is not equally good: only foils as good to a tenth give way to the usual one.
    held = [row for row in same if row.holds >= max(one.holds for one in same) - FEW_OPENINGS * _openings(row)]
    most = min(row.defects for row in held) * (1 + SAME_SHARE) + SAME_DEFECTS
    near = [row for row in held if row.defects <= most]
    best = min(near, key=lambda row: (row.foil_um != usual_um, -row.foil_um))
    return best.foil_um, tuple(row.foil_um for row in same if row is not best)


def _openings(row: FoilRow) -> int:
    return row.holds + row.marginal + row.fails


@dataclass(frozen=True)
class PartGains:
    """Expected defects of each part under each foil, after correction; NaN where they are not known.

    Arrays of one entry a part of the side, by foil. [defects a board]
    """

    after: Mapping[float, Floats]
    low: Mapping[float, Floats]
    high: Mapping[float, Floats]


def best_step(
    gains: PartGains, rows: Sequence[FoilRow], paste: Openings, part_of: Ints, names: Sequence[str], run: int
) -> Step | None:
    """The smallest step zone whose rework saved over the run pays for it; None where none does.

    Parameters
    ----------
    gains : PartGains
    rows : sequence of FoilRow
    paste : Openings
    part_of : array of int
    names : sequence of str
        Of the parts.
    run : int
        Boards.

    Notes
    -----
    For each pair of foils within the depth a blade wipes, parts are taken into the zone by what a thinner foil saves
    them, most first, each with all that the keep-outs draw in (which may lose by it); as long as the whole saves more.
    The pair that saves most wins; it must save more than the step's extra charge, against the best single foil.
    """
    rates = default_rates()
    charge = STEPPED_FOIL.money(rates, 1)
    least_charge, most_charge = STEPPED_FOIL.range(rates, 1)
    least = min(row.after for row in rows)
    best: Step | None = None
    for base in rows:
        for thin in rows:
            depth = base.foil_um - thin.foil_um
            if not 0 < depth <= DEEPEST_STEP_UM + 1e-9:
                continue
            gain = np.nan_to_num(gains.after[base.foil_um] - gains.after[thin.foil_um])
            wanted = np.flatnonzero(gain * run * REWORK_MONEY > 0.01 * charge)
            # Not worth a look: even if all that gain were kept, it could not pay.
            if base.after - gain[gain > 0].sum() >= least or not len(wanted):
                continue
            found = _zone(gain, wanted, paste, part_of, step_keep_out(depth))
            if found is None:
                continue
            taken, zones, parts, total = found
            inside = np.unique(part_of[taken & (part_of >= 0)])
            saved = least - (base.after - total)
            if saved * run * REWORK_MONEY <= charge:
                continue
            low, high = (
                _end(rows, side, base, thin, inside) for side in ((gains.low, "after_low"), (gains.high, "after_high"))
            )
            step = Step(
                base.foil_um,
                thin.foil_um,
                zones,
                taken,
                tuple(names[k] for k in parts),
                step_keep_out(depth),
                THICK_KEEP_OUT_MM,
                base.after - total,
                saved * run * REWORK_MONEY - charge,
                min(low, saved) * run * REWORK_RANGE[0] - most_charge,
                max(high, saved) * run * REWORK_RANGE[1] - least_charge,
            )
            if best is None or step.saves > best.saves * 1.02:
                best = step
    return best


def _zone(
    gain: Floats, wanted: Ints, paste: Openings, part_of: Ints, keep_out_mm: float
) -> tuple[Bools, tuple[Geometry, ...], list[int], float] | None:
    order = wanted[np.argsort(-gain[wanted])][:MOST_ZONE_PARTS]
    best: tuple[Bools, tuple[Geometry, ...], list[int], float] | None = None
    chosen: list[int] = []
    inside = np.zeros(len(gain), dtype=bool)
    for part in order.tolist():
        if inside[part]:
            continue
        trial = [*chosen, part]
        taken, zones = zoned(paste, part_of, np.isin(part_of, trial), keep_out_mm)
        if taken.mean() > MOST_ZONED:
            continue
        now = np.zeros(len(gain), dtype=bool)
        now[part_of[taken & (part_of >= 0)]] = True
        total = float(gain[now].sum())
        # A part that adds less than a hundredth of what is saved is not worth a larger zone.
        if best is None or total > best[3] * 1.01:
            best, chosen, inside = (taken, zones, trial, total), trial, now
    return best if best is not None and best[3] > 0 else None


def _end(
    rows: Sequence[FoilRow], side: tuple[Mapping[float, Floats], str], base: FoilRow, thin: FoilRow, inside: Ints
) -> float:
    table, name = side
    gain = np.nan_to_num(table[base.foil_um] - table[thin.foil_um])[inside].sum()
    return float(min(getattr(row, name) for row in rows) - (getattr(base, name) - gain))


def says(choice: FoilChoice, run: int, usual_um: float, *, steps: bool) -> str:
    """The choice in a sentence.

    Parameters
    ----------
    choice : FoilChoice
    run : int
        Boards over which a step must pay.
    usual_um : float
        The line's usual foil. [µm]
    steps : bool
        Whether the line takes stepped foils.
    """
    step, best = choice.step, choice.best
    least = min(row.after for row in choice.rows) >= best.after - SAME_DEFECTS
    why = (
        "the fewest expected defects" if least else "the line's usual" if best.foil_um == usual_um else "near the best"
    )
    if len(choice.rows) == 1:
        why = "the only one compared"
    if choice.equal_um:
        others = ", ".join(f"{um:g}" for um in choice.equal_um[:-1])
        others += (" and " if others else "") + f"{choice.equal_um[-1]:g}"
        why = "the line's usual" if best.foil_um == usual_um else why
        text = f"foil of {choice.best_um:g} µm, {why}; {others} µm can't be told from it within what is known"
    else:
        text = f"foil of {choice.best_um:g} µm, {why}"
    if choice.uncorrected_um not in (choice.best_um, *choice.equal_um):
        text += f", once the film is corrected; {choice.uncorrected_um:g} µm for the film as it came"
    if step is None:
        return text + ("; a step would not pay" if steps else "")
    one = f"{several(len(step.zones), 'zone')}"
    return (
        f"{text}; a foil of {step.base_um:g} µm stepped down to {step.thin_um:g} µm in {one} around"
        f" {', '.join(step.parts[:4])}{' and others' if len(step.parts) > 4 else ''} would pay for itself over"
        f" {run} boards"
    )


def counted_says(row: FoilRow) -> str:
    """What the expected defects of a foil count.

    >>> counted_says(FoilRow(100, 9, 0, 0, 0.9, 0, 0, 0, told=36, parts=37))
    "Defects are bad joints of 36 parts; of the 1 whose kind its lands don't tell, prints of less than half the paste"
    """
    other = row.parts - row.told
    if not row.told:
        return "Defects are prints of less than half the paste: no part's kind could be told from its lands"
    if not other:
        return "Defects are bad joints"
    return (
        f"Defects are bad joints of {several(row.told, 'part')}; of the {other} whose kind"
        f" {'its' if other == 1 else 'their'} lands don't tell, prints of less than half the paste"
    )


def foils_of(foils_um: Sequence[float]) -> tuple[float, ...]:
    """Foils to compare, thin to thick, each once."""
    return tuple(sorted(set(foils_um)))
