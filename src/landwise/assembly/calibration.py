"""What a line's own paste inspection says of its print: transfer, offset, stretch, shared volume, ageing.

Spreads are split into what a print, a place on the foil and a single deposit bring (`crossed`). The shipped prior and
the data are joined as two normals (of logarithms, for spreads), so that the prior stays where data are thin.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from landwise.assembly.crossed import (
    CLIP,
    DRAWS,
    LEAST_DEPOSITS,
    LEAST_PANELS,
    LEAST_PLACES,
    MAD_TO_SD,
    ROUNDS,
    Split,
    split,
)
from landwise.assembly.depositspread import shipped_range, shipped_spread
from landwise.assembly.scatter import SIGMAS, Z90, Term, default_terms
from landwise.errors import InputError
from landwise.printing.model import Powder, Technology
from landwise.printing.transfer import least_area_ratio, transfer_arrays

Array = NDArray[np.float64]
Codes = NDArray[np.signedinteger]
LEAST_SHARE = 0.05  # of a term's low end
WIDTH = 0.05  # of a class of area ratios: the knots of the prior stand no closer
SHIFT_PAUSE_H = 2.0  # a longer pause begins a new shift: paste is stirred or changed (common practice, no source)


@dataclass(frozen=True)
class Fitted:
    """One quantity: value with its 90 % interval.

    Parameters
    ----------
    value, low, high : float
    unit : str
    """

    value: float
    low: float
    high: float
    unit: str = ""


@dataclass(frozen=True)
class Learned:
    """A quantity before, in the data alone, and after."""

    name: str
    prior: Fitted
    data: Fitted | None
    after: Fitted


@dataclass(frozen=True)
class TransferClass:
    """One class of area ratios.

    Parameters
    ----------
    area_ratio : float
        Mean of its deposits. [-]
    places, deposits : int
    mean : Learned
        Share of the aperture's volume.
    spread : Learned
        Standard deviation over mean, from deposit to deposit, place to place and print to print.
    band : tuple of float
        Prior of the mean on an ordinary line, low and high.
    """

    area_ratio: float
    places: int
    deposits: int
    mean: Learned
    spread: Learned
    band: tuple[float, float]


@dataclass(frozen=True)
class PrintFit:
    """Everything learned from paste inspection; None where the data say nothing."""

    panels: int
    deposits: int
    classes: tuple[TransferClass, ...]
    transfer: Learned | None
    terms: tuple[Learned, ...]
    print_offset_mm: Fitted | None
    turn_mrad: Fitted | None
    stretch_um_per_mm: Fitted | None
    ageing_per_hour: Fitted | None


# Where nothing was inspected.
NOTHING_FITTED = PrintFit(0, 0, (), None, (), None, None, None, None)


def fit_print(
    panel: Codes,
    place: Codes,
    values: dict[str, Array],
    *,
    part: Codes | None = None,
    hours: Array | None = None,
    technology: Technology = "laser-cut",
    powder: Powder = "T4",
) -> PrintFit:
    """Everything that paste inspection says of a print.

    Parameters
    ----------
    panel, place, part : array of int
        Codes of the print, the place on the foil, and the part, (deposits,)
    values : dict of str to array
        `volume` (share of the aperture's) and `area_ratio`; where measured `offset_x`, `offset_y` [µm], `x`, `y` [mm].
    hours : array, optional
        Of every panel by its code, since the first. [h]
    technology, powder : str
        Whose prior the data are joined with.

    Raises
    ------
    InputError
        Without volumes or area ratios, or with fewer than 30 deposits.
    """
    if "area_ratio" not in values:
        raise InputError(
            "no area ratio is known",
            place="paste inspection",
            expected="sizes of the apertures and --foil, or a column",
        )
    known = np.isfinite(values["area_ratio"]) & np.isfinite(values["volume"])
    if known.sum() < LEAST_DEPOSITS:
        raise InputError(
            "too few deposits", place="paste inspection", found=str(int(known.sum())), expected=f"{LEAST_DEPOSITS}"
        )
    ratio, volume = values["area_ratio"][known], values["volume"][known]
    panels, places = panel[known], place[known]
    classes: list[TransferClass] = []
    standard = np.full(len(volume), np.nan)  # deviation from its class over the class's own spread
    for index in np.unique(_class_of(ratio)):
        here = _class_of(ratio) == index
        # Within a class the mean rises with the area ratio: that is no spread.
        level = transfer_arrays(np.maximum(ratio[here], least_area_ratio()), technology, powder)["mean"]
        even = volume[here] * (level.mean() / level)
        found = split(even, panels[here], places[here])
        if found is None or ratio[here].mean() < least_area_ratio():
            continue
        classes.append(_class(found, ratio[here], places[here], technology, powder))
        own = classes[-1].spread.data
        assert own is not None
        standard[here] = (even - found.mean) / (own.value * found.mean)
    used = np.isfinite(standard)
    whole = split(standard[used], panels[used], places[used]) if used.any() else None
    terms: list[Learned] = []
    if whole is not None:
        total = np.sqrt(whole.common_draws**2 + whole.placed_draws**2 + whole.own_draws**2)
        value = whole.common / float(np.sqrt(whole.common**2 + whole.placed**2 + whole.own**2))
        terms.append(joined(default_terms()["volume_common"], range_of(value, whole.common_draws / total)))
    offset, turn, stretch, local = _registration(panel, part if part is not None else place, values)
    if local is not None:
        terms.append(joined(default_terms()["print_stretch"], local))
    return PrintFit(
        panels=len(np.unique(panels)),
        deposits=int(known.sum()),
        classes=tuple(classes),
        transfer=_transfer(classes, volume, ratio, panels, places),
        terms=tuple(terms),
        print_offset_mm=offset,
        turn_mrad=turn,
        stretch_um_per_mm=stretch,
        ageing_per_hour=_ageing(volume, ratio, panels, hours),
    )


def _class_of(ratio: Array) -> Array:
    """Number of an area ratio's class; a ratio printed as the edge of one begins it, whatever its last bit."""
    found: Array = np.floor(ratio / WIDTH + 1e-6)
    return found


def range_of(value: float, draws: Array, unit: str = "") -> Fitted:
    """A value with the 90 % range of its draws, which holds it."""
    low, high = np.quantile(draws, [0.05, 0.95])
    return Fitted(value, min(float(low), value), max(float(high), value), unit)


def _class(found: Split, ratio: Array, places: Codes, technology: Technology, powder: Powder) -> TransferClass:
    """One class beside its prior: two normals joined."""
    at = float(ratio.mean())
    band = {name: float(edge[0]) for name, edge in transfer_arrays(np.array([at]), technology, powder).items()}
    data = range_of(found.mean, found.mean_draws)
    spread = np.sqrt(found.common_draws**2 + found.placed_draws**2 + found.own_draws**2)
    total = float(np.sqrt(found.common**2 + found.placed**2 + found.own**2))
    prior = Fitted(band["mean"], band["low"], band["high"])
    return TransferClass(
        area_ratio=at,
        places=len(np.unique(places)),
        deposits=len(ratio),
        mean=Learned("transfer", prior, data, _normals(prior, data)),
        spread=_spread(at, range_of(total / found.mean, spread / found.mean), technology, powder),
        band=(band["usual_low"], band["usual_high"]),
    )


def _spread(at: float, data: Fitted, technology: Technology, powder: Powder) -> Learned:
    """A class's spread joined with the shipped range: two normals of the logarithm."""
    low, high = shipped_range(at, technology, powder)
    prior = Fitted(shipped_spread(at, technology, powder), float(low), float(high))
    least = prior.low * LEAST_SHARE  # a spread that may be none has no logarithm
    logs = [Fitted(*np.log(np.maximum([one.value, one.low, one.high], least)).tolist()) for one in (prior, data)]
    after = _normals(*logs)
    return Learned("spread", prior, data, Fitted(*np.exp([after.value, after.low, after.high]).tolist()))


def _normals(prior: Fitted, data: Fitted) -> Fitted:
    """Posterior of a mean: normal prior, normal data, both by their 90 % intervals."""
    ours, theirs = ((one.high - one.low) / 2 / Z90 for one in (prior, data))
    weight = 1 / np.array([ours, theirs]) ** 2
    middle = float(weight @ np.array([prior.value, data.value]) / weight.sum())
    half = Z90 / float(np.sqrt(weight.sum()))
    return Fitted(middle, middle - half, middle + half, data.unit)


def joined(term: Term, data: Fitted) -> Learned:
    """Posterior of a term: its prior is a standard normal number in its own score, the data a normal one there."""
    prior = Fitted(term.value, term.low, term.high, term.unit)
    # A spread that may be none has no logarithm: far below the range is as far as it counts.
    ends = term.score(np.maximum([data.low, data.value, data.high], term.low * LEAST_SHARE)).tolist()
    middle = (ends[0] + ends[2]) / 2
    after = _normals(Fitted(0.0, -Z90, Z90), Fitted(middle, ends[0], ends[2]))
    value, low, high = (float(term.at(score)) for score in (after.value, after.low, after.high))
    return Learned(term.name, prior, data, Fitted(value, low, high, term.unit))


def _transfer(classes: list[TransferClass], volume: Array, ratio: Array, panel: Codes, place: Codes) -> Learned | None:
    """Where the line stands in the prior's band, as one standard normal number over all its area ratios.

    Every deposit is measured by the band at its class. Prints move all classes together, so that classes are no
    independent witnesses; and a line may stand high at one area ratio and low at another, which is added.
    """
    score = np.full(len(volume), np.nan)
    middles, errors = [], []
    for one in classes:
        prior, data = one.mean.prior, one.mean.data
        assert data is not None
        up = data.value >= prior.value
        unit = max((prior.high - prior.value if up else prior.value - prior.low) / Z90, 1e-6)
        here = _class_of(ratio) == _class_of(np.array(one.area_ratio))
        score[here] = (volume[here] - prior.value) / unit
        middles.append((data.value - prior.value) / unit)
        errors.append((data.high - data.low) / 2 / Z90 / unit)
    used = np.isfinite(score)
    found = split(score[used], panel[used], place[used]) if used.any() else None
    if found is None:
        return None
    differ = max(float(np.var(middles, ddof=1) - np.mean(np.square(errors))), 0.0) if len(middles) > 1 else 0.0
    sd = float(np.sqrt(np.var(found.mean_draws) + differ / len(middles)))
    told = Fitted(found.mean, found.mean - Z90 * sd, found.mean + Z90 * sd)
    before = Fitted(0.0, -Z90, Z90)
    return Learned("transfer", before, told, _normals(before, told))


def _registration(
    panel: Codes, part: Codes, values: dict[str, Array]
) -> tuple[Fitted | None, Fitted | None, Fitted | None, Fitted | None]:
    """Print offset, turn and stretch of the prints, and how far parts stand off beyond them."""
    if not {"offset_x", "offset_y"} <= values.keys():
        return None, None, None, None
    dx, dy = values["offset_x"], values["offset_y"]
    known = np.isfinite(dx) & np.isfinite(dy)
    placed = {"x", "y"} <= values.keys()
    if placed:
        known &= np.isfinite(values["x"]) & np.isfinite(values["y"])
    dx, dy, part = dx[known], dy[known], part[known]
    codes, panel = np.unique(panel[known], return_inverse=True)
    if len(codes) < LEAST_PANELS or len(dx) < LEAST_DEPOSITS:
        return None, None, None, None
    x, y = (values["x"][known], values["y"][known]) if placed else (np.zeros(len(dx)), np.zeros(len(dx)))
    count = np.bincount(panel)

    def mean(array: Array) -> Array:
        found: Array = np.bincount(panel, array) / count
        return found

    x, y = x - mean(x)[panel], y - mean(y)[panel]
    reach = np.maximum(np.bincount(panel, x * x + y * y), 1e-9)
    kept_x, kept_y = dx, dy
    turn = stretch = np.zeros(len(codes))
    for _ in range(ROUNDS):
        shift_x, shift_y = mean(kept_x), mean(kept_y)
        if placed:
            turn = np.bincount(panel, x * kept_y - y * kept_x) / reach
            stretch = np.bincount(panel, x * kept_x + y * kept_y) / reach
        fit_x = shift_x[panel] - turn[panel] * y + stretch[panel] * x
        fit_y = shift_y[panel] + turn[panel] * x + stretch[panel] * y
        both = np.concatenate([dx - fit_x, dy - fit_y])
        sd = max(MAD_TO_SD * float(np.median(np.abs(both))), 1e-9)
        kept_x = fit_x + np.clip(dx - fit_x, -CLIP * sd, CLIP * sd)
        kept_y = fit_y + np.clip(dy - fit_y, -CLIP * sd, CLIP * sd)
    offset = _about_zero(shift_x, shift_y)
    local = _parts(kept_x - shift_x[panel], kept_y - shift_y[panel], part)
    if not placed:
        return offset, None, None, local
    return offset, _middle(turn, "mrad"), _middle(stretch, "um/mm"), local


def _about_zero(shift_x: Array, shift_y: Array) -> Fitted:
    """Three times the root mean square of the prints' shifts, both axes: a steady offset counts. From µm to mm.

    The mean square of P normal shifts with mean m and variance v has variance (2v² + 4m²v)/P; its interval is that of a
    chi-square number with as many degrees of freedom as give this variance (Satterthwaite).
    """
    from scipy.stats import chi2

    panels = len(shift_x)
    square = variance = 0.0
    for shift in (shift_x, shift_y):
        own = float(np.var(shift, ddof=1))
        steady = max(float(shift.mean()) ** 2 - own / panels, 0.0)
        square += float(np.mean(np.square(shift))) / 2
        variance += (2 * own**2 + 4 * steady * own) / panels / 4
    freedom = 2 * square**2 / max(variance, 1e-12)
    low, value, high = (
        SIGMAS * (square * share) ** 0.5 / 1000
        for share in (freedom / float(chi2.ppf(0.95, freedom)), 1.0, freedom / float(chi2.ppf(0.05, freedom)))
    )
    return Fitted(value, low, high, "mm")


def _middle(by_panel: Array, unit: str) -> Fitted:
    """Mean over prints with its interval (Student's t)."""
    from scipy.stats import t

    half = float(t.ppf(0.95, len(by_panel) - 1) * np.std(by_panel, ddof=1) / len(by_panel) ** 0.5)
    middle = float(by_panel.mean())
    return Fitted(middle, middle - half, middle + half, unit)


def _parts(dx: Array, dy: Array, part: Codes) -> Fitted | None:
    """Standard deviation, along each axis, of how far parts lie from their print, less what single deposits err."""
    _, part = np.unique(part, return_inverse=True)
    count = np.bincount(part)
    parts, total = len(count), len(dx)
    if parts < LEAST_PLACES or total - parts < LEAST_DEPOSITS:
        return None
    between = within = 0.0
    for array in (dx, dy):
        mean = np.bincount(part, array) / count
        between += float(np.var(mean, ddof=1)) / 2
        within += float(np.square(array - mean[part]).sum()) / (total - parts) / 2
    noise = within * float(np.mean(1 / count))
    rng = np.random.default_rng(2)
    draws = between * 2 * (parts - 1) / rng.chisquare(2 * (parts - 1), DRAWS) - noise
    return range_of(max(between - noise, 0.0) ** 0.5, np.sqrt(np.maximum(draws, 0.0)), "um")


def _ageing(volume: Array, ratio: Array, panel: Codes, hours: Array | None) -> Fitted | None:
    """Change of the volume per hour of a shift, as a share of its mean; shifts begin after a pause or a jump back."""
    from scipy.stats import t

    if hours is None:
        return None
    # A deposit against its class, so that boards of other apertures are no ageing.
    _, group = np.unique(_class_of(ratio), return_inverse=True)
    level = np.bincount(group, volume) / np.bincount(group)
    codes, inverse = np.unique(panel, return_inverse=True)
    by_panel = np.bincount(inverse, volume / level[group]) / np.bincount(inverse)
    at = hours[codes]
    known = np.isfinite(at)
    by_panel, at = by_panel[known], at[known]
    if len(at) < 4 * LEAST_PANELS:
        return None
    step = np.diff(at)
    shift = np.concatenate([[0], np.cumsum((step < 0) | (step > SHIFT_PAUSE_H))])
    size = np.bincount(shift)
    x, y = (array - (np.bincount(shift, array) / size)[shift] for array in (at, by_panel))
    reach, freedom = float(x @ x), len(at) - len(size) - 1
    if reach < 1e-6 or freedom < LEAST_PANELS:
        return None
    slope = float(x @ y) / reach
    half = float(t.ppf(0.95, freedom) * np.sqrt(np.square(y - slope * x).sum() / freedom / reach))
    return Fitted(slope, slope - half, slope + half, "1/h")
