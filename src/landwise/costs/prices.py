"""What a package costs where nobody has quoted it: ratios between packages with their bands, and one assumed level.

Ratios are derived facts (source `offers-2026-05`: one assembler's list, one day, at 1,000 pieces), written with their
counts by `docs/make_supply.py`. The level of a price is an assumption with a wide band, in about US dollars, on the
scale of the shipped rates. Neither is ever a point: a choice that hangs on one says so.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Literal

from landwise.errors import InputError
from landwise.outlines import Outline

SOURCE = "offers-2026-05"
LEVEL_SOURCE = "price-level-assumption"
TEN_TO_NINETY = 2.563  # standard deviations between the 10 % and the 90 % quantile of a normal spread
TO_FIVE = 1.645  # standard deviations from the middle to the 5 % or 95 % quantile
# A ratio from few pairs leans on what ratios of packages are like as a whole, with the weight of so many pairs.
PRIOR_PAIRS = 8.0
PRIOR_LOG_MEAN, PRIOR_LOG_SD = math.log(1.3), 0.6
PIECES_OF_RATIOS = 1000
# Fewer pieces cost more each: the usual slope of distributors' price breaks (common practice, no source).
SMALL_LOT_SLOPE = 0.2
Group = Literal[6, 8, 14, 48]
Basis = Literal["stated", "offer", "prior", "assumed"]


@dataclass(frozen=True)
class Ratio:
    """A price ratio between two packages of one function: median and the band that holds 90 % of cases.

    `pairs` counts the compared parts (the smaller count, where two ratios make one); 0 where none were.
    """

    median: float
    low: float
    high: float
    pairs: int
    source: str

    @property
    def log_sd(self) -> float:
        """Spread of the ratio's logarithm."""
        return math.log(self.high / self.low) / (2 * TO_FIVE)


@dataclass(frozen=True)
class Level:
    """An assumed price of one function class in its base package, at 1,000 pieces, in about US dollars."""

    base: str
    median: float
    low: float
    high: float


# Rounded from the middle half and the tails of some 1,100 functions of the source; kept wide, and marked an assumption.
LEVELS: Mapping[int, Level] = MappingProxyType(
    {
        6: Level("SOT-23", 0.10, 0.04, 0.30),
        8: Level("VSSOP", 0.25, 0.12, 0.70),
        14: Level("TSSOP", 0.30, 0.12, 1.60),
        48: Level("TSSOP", 1.70, 0.60, 5.00),
    }
)


@dataclass(frozen=True)
class Known:
    """A price that is known for a part in one package."""

    outline: Outline
    value: float
    basis: Basis = "stated"


@dataclass(frozen=True)
class Price:
    """What one piece costs in a package: a value, or a median with the band that holds 90 %.

    `against` names the package whose known price it leans on, or the base package of an assumed level; `level_sd` is
    the spread of an assumed level's logarithm, which all packages of one part share: a comparison draws it once for
    the part.
    """

    median: float
    low: float
    high: float
    basis: Basis
    pairs: int = 0
    against: str = ""
    source: str = "study"
    level_sd: float = 0.0

    @property
    def own_sd(self) -> float:
        """Spread of the logarithm that is the package's own: what remains when the part's level is drawn by itself."""
        return math.sqrt(max(self.log_sd**2 - self.level_sd**2, 0.0))

    @property
    def expected(self) -> float:
        """Its mean, the band taken as that of a log-normal number."""
        return self.median * math.exp(self.log_sd**2 / 2)

    @property
    def value(self) -> float | None:
        """The price as a point, where it was quoted; a guessed one has none."""
        return self.median if self.quoted else None

    @property
    def log_sd(self) -> float:
        """Spread of the price's logarithm; 0 for a quoted one."""
        return math.log(self.high / self.low) / (2 * TO_FIVE) if self.low > 0 else 0.0

    @property
    def quoted(self) -> bool:
        """Whether somebody named this price."""
        return self.basis in ("stated", "offer")


def group_of(terminals: int) -> Group:
    """The price group of a function: up to 6 terminals, 8 to 12, 14 to 28, or more.

    >>> group_of(5), group_of(10), group_of(20), group_of(48)
    (6, 8, 14, 48)
    """
    return 6 if terminals <= 6 else 8 if terminals <= 12 else 14 if terminals <= 28 else 48


def style_of(name: str) -> str:
    """The price table's name of a package, from an outline's name: its style; its body where it is small and leadless.

    >>> style_of("SO-20W"), style_of("QFN-20-2.5x4.5"), style_of("SON-6-1.0x1.0"), style_of("WLP-5")
    ('SO wide', 'QFN 2.5', 'SON-6-1.0x1.0', 'WLP')
    """
    if re.fullmatch(r"SOP?-\d+-5\.3", name):
        return "SO 5.3"
    if re.fullmatch(r"SO-\d+W", name):
        return "SO wide"
    leadless = re.match(r"(QFN|DFN|SON)-(\d+)-([\d.]+)x([\d.]+)", name)
    if leadless:
        if int(leadless[2]) < 14:
            return leadless[0]
        return {"2.5": "QFN 2.5", "3.5": "QFN 3.5"}.get(leadless[3], "QFN other")
    match = re.match(r"SOT-23-THIN|SOT-23|SC-70|SC-74|SOT-5x3|SOT-9x3|[A-Z]+", name)
    return match[0] if match else name


@cache
def _ratios() -> Mapping[tuple[int, str, str], tuple[int, float, float, float]]:
    text = resources.files("landwise.costs").joinpath("price_ratios.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return MappingProxyType(
        {
            (int(row["group"]), row["style"], row["against"]): (
                int(row["pairs"]),
                float(row["low"]),
                float(row["median"]),
                float(row["high"]),
            )
            for row in rows
        }
    )


@dataclass(frozen=True)
class _Log:
    """A ratio to the group's base package as a normal spread of its logarithm."""

    mean: float
    sd: float
    pairs: int


def _to_base(style: str, group: int) -> _Log:
    """How a style stands to the base package of its group.

    A drilled part's ratio is best known against the narrow small-outline body, so it goes over that one.
    """
    if style == LEVELS[group].base:
        return _Log(0.0, 0.0, 0)
    if style == "DIP" and (group, "DIP", "SO") in _ratios():
        drilled, narrow = _leaned(_ratios()[group, "DIP", "SO"]), _to_base("SO", group)
        return _Log(drilled.mean + narrow.mean, math.hypot(drilled.sd, narrow.sd), min(drilled.pairs, narrow.pairs))
    row = _ratios().get((group, style, LEVELS[group].base))
    return _leaned(row) if row else _Log(PRIOR_LOG_MEAN, PRIOR_LOG_SD, 0)


def _leaned(row: tuple[int, float, float, float]) -> _Log:
    """A counted ratio, leaning on all ratios where few pairs stand behind it."""
    pairs, low, median, high = row
    sd = math.log(high / low) / TEN_TO_NINETY
    weight = pairs / (pairs + PRIOR_PAIRS)
    mean = weight * math.log(median) + (1 - weight) * PRIOR_LOG_MEAN
    # The spread of cases about the middle, and how far the middle itself is known.
    spread = weight * sd**2 + (1 - weight) * PRIOR_LOG_SD**2
    return _Log(mean, math.sqrt(spread * (1 + 1 / (pairs + PRIOR_PAIRS))), pairs)


def price_prior(outline: Outline, base: Outline, terminals: int | None = None) -> Ratio:
    """How much dearer or cheaper a function is in one package than in another, before anybody has quoted it.

    Parameters
    ----------
    outline, base : Outline
        The package asked for, and the one whose price is known.
    terminals : int, optional
        Of the function; the base's where not given.

    Notes
    -----
    Ratios of one list on one day, at 1,000 pieces. The band holds 90 % of parts: each end is 1.645 standard
    deviations of the logarithm away, from the counted 10 and 90 % quantiles. A ratio of two packages that were both
    compared with a third carries both spreads. With n pairs, (n) and 8 pairs' worth of "1.3, spread 0.6" (what ratios
    are like as a whole; an assumption) are averaged, so few pairs make a wide band. Valid for logic in plain grades.

    Examples
    --------
    >>> from landwise.outlines import find
    >>> ratio = price_prior(find("SO-14"), find("TSSOP-14"))
    >>> print(f"{ratio.median:.2f}, {ratio.low:.2f} to {ratio.high:.2f} from {ratio.pairs} pairs")
    0.92, 0.43 to 2.00 from 604 pairs
    >>> price_prior(find("WLP-5-0.5"), find("SOT-23-5")).median > 2
    True
    """
    group = group_of(terminals or base.terminals)
    one, other = style_of(outline.name), style_of(base.name)
    if one == other:
        # Bodies of one style in different sizes of pitch or terminals: alike, as far as prices tell styles apart.
        sd = 0.0 if outline.name == base.name else PRIOR_LOG_SD / 2
        return _ratio(_Log(0.0, sd, 0))
    if (group, one, other) in _ratios():
        return _ratio(_leaned(_ratios()[group, one, other]))
    above, below = _to_base(one, group), _to_base(other, group)
    counts = [log.pairs for log, style in ((above, one), (below, other)) if style != LEVELS[group].base]
    return _ratio(_Log(above.mean - below.mean, math.hypot(above.sd, below.sd), min(counts, default=0)))


def _ratio(log: _Log) -> Ratio:
    return Ratio(
        math.exp(log.mean),
        math.exp(log.mean - TO_FIVE * log.sd),
        math.exp(log.mean + TO_FIVE * log.sd),
        log.pairs,
        SOURCE,
    )


def small_lot_factor(pieces: int) -> float:
    """How much dearer one piece is than at 1,000 pieces: (1000/pieces)^0.2 below, 1 above (an assumption).

    >>> print(f"{small_lot_factor(1):.1f} {small_lot_factor(100):.2f} {small_lot_factor(5000):g}")
    4.0 1.58 1
    """
    if pieces < 1:
        raise InputError("pieces bought must be at least one", found=str(pieces), expected="1 or more")
    return float(max(1.0, (PIECES_OF_RATIOS / pieces) ** SMALL_LOT_SLOPE))


def price_of(
    outline: Outline,
    known: Sequence[Known],
    *,
    terminals: int,
    pieces: int,
    factor: float = 1.0,
) -> Price:
    """What a function costs in a package: quoted, or guessed with a band.

    Parameters
    ----------
    outline : Outline
    known : sequence of Known
        Prices of this very part that the study states or that its offers give, by package, at the pieces bought.
    terminals : int
        Of the function.
    pieces : int
        Bought in all; only an assumed level depends on it.
    factor : float
        Of the study's money for one unit of the shipped rates' (about a US dollar).

    Notes
    -----
    With several known prices the guess is their weighted mean in logarithms, each weighted by how well its ratio is
    known. With none, the level of the function's class is assumed (`LEVELS`), so that two packages differ by their
    ratio to the same base: their prices move together, and a comparison should draw the level once for a part.

    Examples
    --------
    >>> from landwise.outlines import find
    >>> price = price_of(find("SO-14"), [Known(find("TSSOP-14"), 0.10)], terminals=14, pieces=1000)
    >>> print(f"{price.median:.3f}, {price.low:.3f} to {price.high:.3f}, {price.basis}, {price.value}")
    0.092, 0.042 to 0.200, prior, None
    """
    for one in known:
        if one.outline.name == outline.name:
            return Price(one.value, one.value, one.value, one.basis)
    leaning = [(one, price_prior(outline, one.outline, terminals)) for one in known if one.value > 0]
    if not leaning:
        return _assumed(outline, terminals, pieces, factor)
    weights = [1 / max(ratio.log_sd, 0.05) ** 2 for _, ratio in leaning]
    mean = sum(
        weight * math.log(one.value * ratio.median) for weight, (one, ratio) in zip(weights, leaning, strict=True)
    ) / sum(weights)
    nearest = max(range(len(leaning)), key=lambda at: weights[at])
    # Known prices of one part err together, so several of them narrow nothing: the best ratio's band stands, and where
    # they contradict each other the band covers that too.
    best = leaning[nearest][1]
    apart = sum(
        weight * (math.log(one.value * ratio.median) - mean) ** 2
        for weight, (one, ratio) in zip(weights, leaning, strict=True)
    ) / sum(weights)
    sd = math.hypot(best.log_sd, math.sqrt(apart))
    return Price(
        math.exp(mean),
        math.exp(mean - TO_FIVE * sd),
        math.exp(mean + TO_FIVE * sd),
        "prior",
        best.pairs,
        leaning[nearest][0].outline.name,
        SOURCE,
    )


def _assumed(outline: Outline, terminals: int, pieces: int, factor: float) -> Price:
    group = group_of(terminals)
    level, log = LEVELS[group], _to_base(style_of(outline.name), group)
    money = factor * small_lot_factor(pieces) * math.exp(log.mean)
    below = math.hypot(math.log(level.median / level.low), TO_FIVE * log.sd)
    above = math.hypot(math.log(level.high / level.median), TO_FIVE * log.sd)
    middle = level.median * money
    level_sd = math.log(level.high / level.low) / (2 * TO_FIVE)
    return Price(
        middle,
        middle * math.exp(-below),
        middle * math.exp(above),
        "assumed",
        log.pairs,
        level.base,
        LEVEL_SOURCE,
        level_sd,
    )


FAR_OFF = 8.0  # times: beyond it a price and the assumed level are hardly in the same money


def scale_of(prices: Sequence[tuple[Outline, float]], factor: float = 1.0) -> float | None:
    """How far the stated prices stand from the assumed level, as a factor; None where none are stated.

    >>> from landwise.outlines import find
    >>> scale_of([(find("TSSOP-14"), 30.0)])
    100.0
    """
    logs = []
    for outline, price in prices:
        if price > 0:
            level = price_of(outline, (), terminals=outline.terminals, pieces=PIECES_OF_RATIOS, factor=factor)
            logs.append(math.log(price / level.median))
    return round(math.exp(sorted(logs)[len(logs) // 2]), 6) if logs else None
