"""Every aperture under one foil: release, powder, contact, volume, neighbours, and how often it goes wrong."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from landwise.assembly.depositspread import DepositSpread
from landwise.evidence.figures import VERDICTS, Verdict
from landwise.outlines.coplanarity import PRINTED, usual_coplanarity_mm
from landwise.printing.foils import CONTACT_SHARE
from landwise.printing.model import Foil, Powder
from landwise.printing.paste import (
    BALLS_ACROSS,
    LARGEST_PARTICLE_UM,
    MEASURED_SHARE,
    SLUMP_ROWS,
    paste_metal_fraction,
)
from landwise.printing.transfer import (
    PASS_LEVEL,
    failing_area_ratio,
    holding_area_ratio,
    least_area_ratio,
    transfer_arrays,
)
from landwise.review.matching import Match
from landwise.review.measuring import discs
from landwise.review.model import Bools, Component, Floats, Ints, Lands, Openings

HOLDS, MARGINAL, FAILS, UNKNOWN = 0, 1, 2, 3
CODES: Mapping[int, Verdict] = MappingProxyType({0: "holds", 1: "marginal", 2: "fails", 3: "not known"})
HALF = 0.5  # a deposit below half of its land's volume counts as starved
VOLUME_SOURCE = "print-volume-practice"
SHORT, EXCESS = 0.25, 1.5
SLUMP_SOURCE = "slump-ipc-a-21"
NEAR_MM = 0.45
# Six pastes ran together at 0.06 to 0.10 mm where 0.30 is the hot criterion.
RAN_TOGETHER = (0.08 / 0.30, 0.06 / 0.30, 0.10 / 0.30)
RAN_TOGETHER_MM = 0.10  # the upper end is kept under thinner foils too: nobody measured them
BRIDGING_SPREAD = 0.125  # of the distance, from paste to paste: the six span it twice over
EDGE_MM = 0.01  # how ragged a deposit's edge is: about a particle's radius


def word(code: int) -> Verdict:
    """The verdict of a code."""
    return CODES[int(code)]


def code(verdict: Verdict) -> int:
    """The code of a verdict."""
    return VERDICTS.index(verdict)


@dataclass(frozen=True)
class Neighbours:
    """Pairs of apertures on different lands, nearest edges apart. [mm]"""

    one: Ints
    other: Ints
    gap_mm: Floats


@dataclass(frozen=True)
class UnderFoil:
    """Every aperture under one foil; arrays in the order of the paste layer.

    Parameters
    ----------
    foil : Foil
    powder : str
    area_ratio, aspect_ratio : array
    mean, low, high, usual_low, usual_high, sd : array
        Transfer as a share of the aperture's volume, as in `printing.Transfer`.
    paste_mm3, paste_low_mm3, paste_high_mm3, solder_mm3 : array
        `low` and `high` span 90 % between laboratories.
    share : array
        Paste of all apertures of the land over land area times foil; NaN without a land. [-]
    solder_um : array
        Solder over the land if all of it stayed there; NaN without a land. [µm]
    gap_mm, slump_share : array
        To the nearest aperture of another land, and over the hot slump spacing; infinite without one near.
    release, powder_code, contact, volume, bridge, code : array of int
        0 holds, 1 marginal, 2 fails, 3 not known; `code` is the worst.
    margin : array
        Area ratio over the one from which release holds, less one. [-]
    starved, starved_low, starved_high : array
        Expected share of prints with less than half of the land's paste, and its interval.
    touching, touching_low, touching_high : array
        Expected share of prints that run together with a neighbour's, half of it to each.
    """

    foil: Foil
    powder: Powder
    area_ratio: Floats
    aspect_ratio: Floats
    mean: Floats
    low: Floats
    high: Floats
    usual_low: Floats
    usual_high: Floats
    sd: Floats
    paste_mm3: Floats
    paste_low_mm3: Floats
    paste_high_mm3: Floats
    solder_mm3: Floats
    share: Floats
    solder_um: Floats
    gap_mm: Floats
    slump_share: Floats
    release: Ints
    powder_code: Ints
    contact: Ints
    volume: Ints
    bridge: Ints
    code: Ints
    margin: Floats
    starved: Floats
    starved_low: Floats
    starved_high: Floats
    touching: Floats
    touching_low: Floats
    touching_high: Floats

    def counted(self) -> Mapping[Verdict, int]:
        """How many apertures have which verdict."""
        return {verdict: int(np.sum(self.code == k)) for k, verdict in CODES.items()}

    @property
    def defects(self) -> tuple[float, float, float]:
        """Starved prints and touching deposits expected on one board: middle, low, high."""
        return (
            float(self.starved.sum() + self.touching.sum()),
            float(self.starved_low.sum() + self.touching_low.sum()),
            float(self.starved_high.sum() + self.touching_high.sum()),
        )


def bands(ratio: Floats, foil: Foil, powder: Powder, spread: DepositSpread | None = None) -> Mapping[str, Floats]:
    """The transfer band at any area ratio; below the known ratios as `printing.transfer_or_none` has it.

    `spread` is what a line measured of its deposits, where it did.

    >>> from landwise.printing import Foil
    >>> band = bands(np.array([0.66, 0.2]), Foil(100), "T4")
    >>> band["usual_low"].round(2).tolist(), band["low"].round(2).tolist()[1]
    ([0.8, 0.0], 0.0)
    """
    least = least_area_ratio()
    below = ratio < least
    found = {
        key: values.copy() for key, values in transfer_arrays(np.maximum(ratio, least), foil.technology, powder).items()
    }
    top = found["usual_high"][below]
    found["mean"][below] = top / 2
    found["low"][below] = found["usual_low"][below] = 0.0
    found["sd"][below] = top / 12**0.5
    if spread is not None:
        found["sd"] *= spread.factor(ratio)
    return found


def neighbours(paste: Openings, matched: Match) -> Neighbours:
    """Apertures of different lands within reach of each other."""
    import shapely

    if len(paste) < 2:
        empty = np.zeros(0, dtype=np.int64)
        return Neighbours(empty, empty, np.zeros(0))
    box = shapely.bounds(paste.polygon)
    # Boxes find who may be near; they are far cheaper to compare than rounded outlines.
    frames = shapely.box(*box.T)
    one, other = shapely.STRtree(frames).query(frames, predicate="dwithin", distance=NEAR_MM)
    apart = (one < other) & ((matched.land[one] != matched.land[other]) | (matched.land[one] < 0))
    one, other = one[apart], other[apart]
    gap = _distances(paste, box, one, other)
    near = gap <= NEAR_MM
    return Neighbours(one[near], other[near], gap[near])


def _distances(paste: Openings, box: Floats, one: Ints, other: Ints) -> Floats:
    """Edge to edge: upright rectangles by their boxes, discs by their middles, all else by their outlines. [mm]"""
    import shapely

    wide, tall = box[:, 2] - box[:, 0], box[:, 3] - box[:, 1]
    area = shapely.area(paste.polygon)
    disc, upright = discs(area, wide, tall), area >= (1 - 1e-9) * wide * tall
    between = np.maximum(np.maximum(box[one, :2] - box[other, 2:], box[other, :2] - box[one, 2:]), 0.0)
    middles = (box[:, :2] + box[:, 2:]) / 2
    away = np.hypot(*(middles[one] - middles[other]).T) - (wide[one] + wide[other]) / 2
    both = disc[one] & disc[other]
    found: Floats = np.where(both, np.maximum(away, 0.0), np.hypot(*between.T))
    rest = ~both & ~(upright[one] & upright[other])
    found[rest] = shapely.distance(paste.polygon[one[rest]], paste.polygon[other[rest]])
    return found


def slump_spacings(width_mm: Floats, foil_um: float) -> Floats:
    """Hot slump spacing for many pad widths, from the verified row alone. [mm]

    Parameters
    ----------
    width_mm : array
        Shorter side of the wider print of a pair. [mm]
    foil_um : float
        [µm]

    Notes
    -----
    IPC-TM-650 2.4.35, pads 0.33 mm wide under 200 µm: 0.30 mm after 150 °C. Deposits of like proportion slump
    alike, so the spacing goes with the foil. Narrower proportions in proportion; wider ones not further: in
    the same test pads 0.63 mm wide did not bridge down to the narrowest spacing printed. `printing.bridging`
    keeps the standard's own rows, which ask more of wide pads than any measured paste needs.

    >>> slump_spacings(np.array([0.10, 0.33, 3.0]), 200.0).round(3).tolist()
    [0.091, 0.3, 0.3]
    """
    pad, pattern_foil, _, hot, _ = next(row for row in SLUMP_ROWS if row[4] == SLUMP_SOURCE and row[0] == 0.33)
    foil = foil_um / 1000
    found: Floats = np.minimum(width_mm / foil, pad / pattern_foil) * foil * hot / pad
    return found


def under_foil(
    paste: Openings,
    matched: Match,
    lands: Lands,
    parts: Sequence[Component],
    near: Neighbours,
    foil: Foil,
    powder: Powder,
    *,
    spread: DepositSpread | None = None,
) -> UnderFoil:
    """Judge every aperture of one side under one foil.

    Notes
    -----
    Release and transfer are those of `printing`. Contact: the foil against the coplanarity limit of what
    its lands look like (`coplanarity_um`); balls bring their own solder. Volume: the paste of all apertures of a land
    against land times foil; lands under a body's middle are judged by their panes instead. Bridging: the
    gap against the slump criterion; a third of it is where measured pastes bridge.

    The expectations come from this model alone: a normal spread of transfer around the band's middle
    (interval: the band's ends), and the distance at which six measured pastes ran together (0.06 to 0.10 mm
    between pads 0.33 mm wide under 200 µm), scaled as the slump criterion is. They count prints, not failed
    joints, and are no capability data. Where a line measured how far its deposits spread, that spread is taken.
    """
    ratio = paste.area_mm2 / np.maximum(paste.wall_mm, 1e-9) / (foil.thickness_um / 1000)
    band = bands(ratio, foil, powder, spread)
    volume = paste.area_mm2 * foil.thickness_um / 1000
    metal = paste_metal_fraction(powder)
    under = matched.land
    share, solder_um = _on_land(under, lands, volume * band["mean"], foil, metal)
    centre = under_middle(parts, len(lands))
    on_centre = np.where(under >= 0, centre[under], False) if len(lands) else np.zeros(len(under), dtype=bool)
    gap, slump_share = _gaps(near, paste, foil)
    release = np.where(
        band["usual_low"] >= PASS_LEVEL - 1e-9, HOLDS, np.where(band["usual_high"] < PASS_LEVEL - 1e-9, FAILS, MARGINAL)
    )
    balls = 1000 * paste.width_mm / LARGEST_PARTICLE_UM[powder]
    fits = np.where(balls >= BALLS_ACROSS - 1e-9, HOLDS, np.where(balls >= BALLS_ACROSS - 1, MARGINAL, FAILS))
    contact = _contact(parts, under, lands, foil)
    enough = np.where(
        np.isnan(share),
        HOLDS,
        np.where(share < SHORT, FAILS, np.where((share < HALF) | (share > EXCESS), MARGINAL, HOLDS)),
    )
    enough = np.where(on_centre, HOLDS, enough)
    bridge = np.where(slump_share >= 1 - 1e-9, HOLDS, np.where(slump_share >= MEASURED_SHARE, MARGINAL, FAILS))
    starved = _starved(band, share, on_centre)
    touching = _touching(near, paste, foil)
    holding = holding_area_ratio(foil.technology, powder) or failing_area_ratio(foil.technology, powder)
    return UnderFoil(
        foil,
        powder,
        ratio,
        1000 * paste.width_mm / foil.thickness_um,
        band["mean"],
        band["low"],
        band["high"],
        band["usual_low"],
        band["usual_high"],
        band["sd"],
        volume * band["mean"],
        volume * band["low"],
        volume * band["high"],
        volume * band["mean"] * metal,
        share,
        solder_um,
        gap,
        slump_share,
        release,
        fits,
        contact,
        enough,
        bridge,
        np.maximum.reduce([release, fits, contact, enough, bridge]),
        ratio / holding - 1,
        *starved,
        *touching,
    )


def under_middle(parts: Sequence[Component], count: int) -> Bools:
    """Which lands lie under a body's middle."""
    flags = np.zeros(count, dtype=bool)
    flags[[land for part in parts for land in part.centre]] = True
    return flags


def _on_land(under: Ints, lands: Lands, paste_mm3: Floats, foil: Foil, metal: float) -> tuple[Floats, Floats]:
    share, solder = np.full(len(under), np.nan), np.full(len(under), np.nan)
    if lands.basis == "paste":
        return share, solder
    total = np.zeros(len(lands))
    has = under >= 0
    np.add.at(total, under[has], paste_mm3[has])
    per_area = total / np.maximum(lands.area_mm2, 1e-9)
    share[has] = per_area[under[has]] / (foil.thickness_um / 1000)
    solder[has] = per_area[under[has]] * metal * 1000
    return share, solder


def _gaps(near: Neighbours, paste: Openings, foil: Foil) -> tuple[Floats, Floats]:
    gap, share = np.full(len(paste), np.inf), np.full(len(paste), np.inf)
    width = np.maximum(paste.width_mm[near.one], paste.width_mm[near.other])
    its = near.gap_mm / slump_spacings(width, foil.thickness_um)
    for side in (near.one, near.other):
        np.minimum.at(gap, side, near.gap_mm)
        np.minimum.at(share, side, its)
    return gap, share


def coplanarity_um(part: Component, lands: Lands) -> float | None:
    """How far a part's terminals may stand out of plane, by what its lands look like. [µm]

    None for what no printed paste must reach, or that looks like no package. A film shows lands, not bodies: the
    body's longest side is taken between the lands' middles, which lie within 0.5 mm of it.
    """
    if part.kind not in PRINTED or part.pitch_mm is None:
        return None
    at = list(part.lands)
    longest = max(float(np.ptp(lands.x_mm[at])), float(np.ptp(lands.y_mm[at])))
    return 1000 * usual_coplanarity_mm(part.kind, round(part.pitch_mm, 2), longest)


def _contact(parts: Sequence[Component], under: Ints, lands: Lands, foil: Foil) -> Ints:
    by_land = np.zeros(len(lands), dtype=np.int64)
    for part in parts:
        limit = coplanarity_um(part, lands)
        if limit is None or foil.thickness_um >= limit:
            continue
        by_land[list(part.lands)] = MARGINAL if foil.thickness_um >= CONTACT_SHARE * limit else FAILS
        by_land[list(part.centre)] = HOLDS
    return np.where(under >= 0, by_land[under], HOLDS) if len(lands) else np.zeros(len(under), dtype=np.int64)


def _starved(band: Mapping[str, Floats], share: Floats, on_centre: Bools) -> tuple[Floats, Floats, Floats]:
    """Chance of less than half the paste that a one-to-one print of land or aperture would hold."""
    from scipy.special import ndtr

    # A land covered by more than itself is not starved sooner for it; one covered less is.
    cover = np.where(np.isnan(share), 1.0, np.minimum(share / np.maximum(band["mean"], 1e-9), 1.0))
    sd = np.maximum(band["sd"], 1e-6)
    found = []
    for mean in (band["mean"], band["usual_high"], band["usual_low"]):
        chance = ndtr((HALF / np.maximum(cover, 1e-6) - mean) / sd)
        found.append(np.where(on_centre, 0.0, chance))
    return found[0], found[1], found[2]


def _touching(near: Neighbours, paste: Openings, foil: Foil) -> tuple[Floats, ...]:
    """Chance that two deposits run together: the gap against the distance at which measured pastes do."""
    from scipy.special import ndtr

    width = np.maximum(paste.width_mm[near.one], paste.width_mm[near.other])
    hot = slump_spacings(width, foil.thickness_um)
    middle, low, high = (hot * share for share in RAN_TOGETHER)
    found = []
    for at in (middle, low, np.maximum(high, np.minimum(RAN_TOGETHER_MM, hot))):
        chance = ndtr((at - near.gap_mm) / np.hypot(BRIDGING_SPREAD * at, EDGE_MM * 2**0.5))
        share = np.zeros(len(paste))
        for side in (near.one, near.other):
            np.add.at(share, side, chance / 2)
        found.append(share)
    return tuple(found)
