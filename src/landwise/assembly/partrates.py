"""The rates of one part as they are reported: with the range that the uncertain inputs leave, or the user's own."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from landwise.assembly.partmodel import PartModel
from landwise.assembly.rare import Estimate, Rates, expected, rates
from landwise.assembly.rates import CHUNK, simulate
from landwise.errors import InputError
from landwise.outlines import FAMILIES, Outline

End = Literal["low", "high"]
# Inputs whose own 90 % range moves the rates; each is put at both of its ends, one at a time.
UNCERTAIN = ("transfer", "slump_share", "slump_between", "take_back_spread", "remaining_share", "coplanarity_share")
MANY = 0.02  # defects per part from which first-pass yield is counted in a plain simulation
PER_MILLION = 1e6
FLOOR = 1e-9  # defects per part: what lies below differs by nothing that matters, and its range is read from here


@dataclass(frozen=True)
class OwnRate:
    """What a user's own line counts, by family: defects per million joints.

    Parameters
    ----------
    family : str
    bridge, open : float
        Per million joints.
    least_pitch_mm, most_pitch_mm : float
        Pitches for which it was counted. [mm]
    """

    family: str
    bridge: float
    open: float
    least_pitch_mm: float = 0.0
    most_pitch_mm: float = math.inf

    def __post_init__(self) -> None:
        if self.family not in FAMILIES:
            raise InputError(
                "no such family", place="line, rates, family", found=self.family, expected=" | ".join(FAMILIES)
            )
        for name in ("bridge", "open"):
            if not 0 <= getattr(self, name) <= PER_MILLION:
                raise InputError(
                    "a rate is counted per million joints",
                    place=f"line, rates, {name}",
                    found=f"{getattr(self, name):g}",
                    expected="0 to 1,000,000",
                )

    def covers(self, outline: Outline) -> bool:
        """Whether it was counted on parts like this one."""
        return (
            self.family == outline.family
            and self.least_pitch_mm - 1e-9 <= outline.pitch_mm <= self.most_pitch_mm + 1e-9
        )


@dataclass(frozen=True)
class PartRates:
    """The rates of one part under one print.

    Parameters
    ----------
    worked : Rates
        From the model, with sampling intervals only.
    bridges, opens, defects : Estimate
        Expected number per part, with the 90 % range that the uncertain inputs leave.
    first_pass : Estimate
        Share of parts without a defect, likewise.
    hidden : float
        Share of the defects that can't be seen from above.
    own : OwnRate or None
        The user's own rate, where `bridges` and `opens` come from it.
    """

    worked: Rates
    bridges: Estimate
    opens: Estimate
    defects: Estimate
    first_pass: Estimate
    hidden: float
    own: OwnRate | None = None


def own_rate(outline: Outline, own: Sequence[OwnRate]) -> OwnRate | None:
    """The first of a user's own rates that covers an outline."""
    return next((rate for rate in own if rate.covers(outline)), None)


def part_rates(model: PartModel, own: OwnRate | None = None, *, boards: int = 128) -> PartRates:
    """Rates of a part with the range of its uncertain inputs.

    Parameters
    ----------
    model : PartModel
    own : OwnRate, optional
        Used instead of the model for bridges and opens.
    boards : int
        Points of what the board shares, a power of two; more of them narrow the sampling error.

    Notes
    -----
    Each uncertain input is put at the ends of its own 90 % range, one at a time, with the same random numbers. The
    changes of the rates' logarithms are combined as the root of the sum of their squares, with the sampling
    error. Where more than one part in fifty is bad, defects share parts so often that first-pass yield is counted
    in a plain simulation of 8192 parts.
    """
    worked = rates(model, boards=boards)
    if worked.defects.value > MANY:
        worked = _counted(model, worked)
    if own is not None:
        bridge, opened = (exactly(rate * worked.joints / PER_MILLION) for rate in (own.bridge, own.open))
        rest = worked.floated.value + worked.skewed.value + worked.tilted.value
        total = bridge.value + opened.value + rest
        share = worked.hidden / worked.defects.value if worked.defects.value else 0.0
        return PartRates(worked, bridge, opened, exactly(total), exactly(math.exp(-total)), share, own)
    ranges = _ranges(model, 4 * boards)
    most = {"bridges": worked.pairs, "opens": worked.joints, "defects": worked.pairs + worked.joints + 1}
    bridges, opens, defects = (_within(getattr(worked, name), ranges[name], float(most[name])) for name in most)
    bad = 1 - worked.first_pass.value
    part = bad / defects.value if defects.value else 0.0
    low, high = (1 - min(1.0, part * end) for end in (defects.high, defects.low))
    return PartRates(
        worked,
        bridges,
        opens,
        defects,
        Estimate(1 - bad, low, high),
        worked.hidden / worked.defects.value if worked.defects.value else 0.0,
    )


def exactly(value: float) -> Estimate:
    """A rate that was stated."""
    return Estimate(value, value, value)


def _counted(model: PartModel, worked: Rates) -> Rates:
    from dataclasses import replace

    import numpy as np

    bad = simulate(model, CHUNK, cores=1).rate("bad parts")
    before = 1 - worked.first_pass.value
    factor = bad.value / before if before > 0 else 1.0
    return replace(
        worked,
        first_pass=Estimate(1 - bad.value, max(0.0, 1 - bad.high), 1 - bad.low),
        good=np.clip(1 - factor * (1 - worked.good), 0.0, 1.0),
    )


def _ranges(model: PartModel, points: int) -> dict[str, tuple[float, float]]:
    """For each rate, how far down and up its logarithm may move."""
    names = ("bridges", "opens", "defects")
    at_rest = _quick(model, points)
    squares = {name: [0.0, 0.0] for name in names}
    for uncertain in UNCERTAIN:
        ends: tuple[End, End] = ("low", "high")
        moved = [_quick(_at(model, uncertain, end), points) for end in ends]
        for name in names:
            changes = [math.log(max(one[name], FLOOR) / max(at_rest[name], FLOOR)) for one in moved]
            squares[name][0] += min(0.0, *changes) ** 2
            squares[name][1] += max(0.0, *changes) ** 2
    return {name: (math.sqrt(down), math.sqrt(up)) for name, (down, up) in squares.items()}


def _at(model: PartModel, uncertain: str, end: End) -> PartModel:
    if uncertain == "transfer":
        return model.with_transfer(end)
    ends = {uncertain: end}
    if uncertain == "coplanarity_share":
        ends["flush_coplanarity_share"] = end
    return model.with_scatter(model.scatter.at(ends))


def _quick(model: PartModel, points: int) -> dict[str, float]:
    return dict(zip(("bridges", "opens", "defects"), expected(model, points), strict=True))


def _within(worked: Estimate, moves: tuple[float, float], most: float) -> Estimate:
    """A rate with its range; no more than there are opportunities."""
    down, up = moves
    value = max(worked.value, FLOOR)
    low = math.log(worked.value / worked.low) if worked.low > 0 else 1.0
    high = math.log(worked.high / worked.value) if worked.value > 0 else 0.0
    bottom, top = value * math.exp(-math.hypot(down, low)), value * math.exp(math.hypot(up, high))
    if worked.value < FLOOR:
        bottom, top = 0.0, top if up > 0 else worked.high
    return Estimate(worked.value, bottom, max(worked.value, min(top, most)))
