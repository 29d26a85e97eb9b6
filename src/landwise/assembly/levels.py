"""A line's own defect counts beside what is known of other lines: gamma prior, Poisson counts, gamma posterior."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from landwise.assembly.anchors import ANCHORS, CONFIRMED
from landwise.assembly.knowledge import ANCHORED, CLASS_SPREAD, LINE_SPREAD, PER_MILLION, joint_class

Kind = Literal["bridge", "open"]
KINDS: tuple[Kind, ...] = ("bridge", "open")
# A level whose 90 % interval is wider than fourfold from end to end is told, and not put in place of the worked one.
MOST_WIDE = 4.0


@dataclass(frozen=True)
class Counted:
    """Defects of one kind on one family, or one package of it: how many, of how many joints inspected.

    `pitch_mm` is the package's, None for a whole family.
    """

    family: str
    kind: Kind
    defects: int
    joints: int
    package: str = ""
    pitch_mm: float | None = None

    @property
    def name(self) -> str:
        """The package, or else the family."""
        return self.package or self.family


@dataclass(frozen=True)
class Level:
    """Defects per million joints: mean and 90 % interval, before and after counting. Each (mean, low, high)."""

    counted: Counted
    before: tuple[float, float, float]
    after: tuple[float, float, float]

    @property
    def firm(self) -> bool:
        """Whether the counts say it well enough to stand in for the worked rate."""
        return self.after[1] > 0 and self.after[2] / self.after[1] <= MOST_WIDE


def prior(family: str, kind: Kind) -> tuple[float, float]:
    """Shape, and joints that the prior weighs like.

    Notes
    -----
    The mean is that of the published line's parts, confirmed defects only (`anchors`): the rest of what was called is
    taken for opens. The spread of its logarithm is from line to line, and for classes without counts from class to
    class; a gamma distribution of shape k has `trigamma(k)` for the variance of its logarithm.

    Examples
    --------
    >>> shape, joints = prior("gull-wing dual", "open")
    >>> round(shape, 2), round(1e6 * shape / joints, 1)
    (1.33, 10.8)
    """
    from scipy.optimize import brentq
    from scipy.special import polygamma

    variance = LINE_SPREAD**2 + (0.0 if joint_class(family) in ANCHORED else CLASS_SPREAD**2)
    shape = float(brentq(lambda k: float(polygamma(1, k)) - variance, 1e-2, 1e3))
    joints = sum(one.parts * one.joints for one in ANCHORS)
    defects = sum(one.bridges if kind == "bridge" else one.rest for one in ANCHORS) * CONFIRMED
    return shape, shape * joints / defects


def level(counted: Counted) -> Level:
    """The level of one kind of defect after counting.

    Notes
    -----
    `shape + defects` over `prior joints + joints` is the mean. Defects that inspection missed are not in it.

    Examples
    --------
    >>> found = level(Counted("gull-wing dual", "open", 40, 1_000_000))
    >>> [round(number) for number in found.after], found.firm
    ([37, 28, 47], True)
    """
    shape, joints = prior(counted.family, counted.kind)
    return Level(
        counted,
        before=_gamma(shape, joints),
        after=_gamma(shape + counted.defects, joints + counted.joints),
    )


def _gamma(shape: float, joints: float) -> tuple[float, float, float]:
    from scipy.stats import gamma

    low, high = (float(gamma.ppf(share, shape)) / joints * PER_MILLION for share in (0.05, 0.95))
    return shape / joints * PER_MILLION, low, high


@dataclass(frozen=True)
class Firm:
    """Bridges and opens of one family or package, both firm, per million joints."""

    family: str
    package: str
    pitch_mm: float | None
    bridge: float
    open: float


def firm(levels: Sequence[Level]) -> tuple[Firm, ...]:
    """Families and packages whose bridges and opens are both firm: what a line file states as its own rates.

    Packages come before families, since the first rate that covers an outline is taken.
    """
    found: dict[tuple[str, str, float | None], dict[Kind, float]] = {}
    for one in levels:
        if one.firm:
            where = (one.counted.family, one.counted.package, one.counted.pitch_mm)
            found.setdefault(where, {})[one.counted.kind] = one.after[0]
    whole = [Firm(*where, kinds["bridge"], kinds["open"]) for where, kinds in found.items() if set(kinds) == set(KINDS)]
    return tuple(sorted(whole, key=lambda one: not one.package))
