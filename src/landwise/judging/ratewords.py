"""Rates in words: how often, how well known, what they hang on, and what no model holds."""

from __future__ import annotations

from collections.abc import Iterable
from math import isfinite

from landwise.assembly.leftout import LeftOut
from landwise.assembly.partmodel import moved
from landwise.assembly.partrates import PER_MILLION, PartRates
from landwise.assembly.rare import FLOOR, Estimate, Rates
from landwise.quantities import significant

NONE = "practically none"
MOST_FACTOR = 1000.0  # beyond it a ratio says no more than "far more often"
SHORT = {
    "slump_share": "slump",
    "slump_between": "slump from day to day",
    "slump_within": "slump from deposit to deposit",
    "volume_common": "the common part of the paste's volume",
    "print_stretch": "misfit of the foil",
    "placement_turn": "turn of the part",
    "remaining_share": "paste left under a pressed terminal",
    "remaining_spread": "its spread from placement to placement",
    "edge": "the land's edge",
    "coplanarity_share": "unevenness of leads",
    "flush_coplanarity_share": "unevenness of flush terminals",
    "warpage": "bow when hot",
    "lead_film": "solder under a lead",
    "tear_factor": "height at which solder tears",
    "least_paste": "least paste that wets",
    "float_spread": "spread of the height on a centre pad",
    "void_share": "gas in a centre pad",
    "mask_angle": "angle of solder on the mask",
    "take_back_spread": "spread of what joints take back",
    "overhang": "overhang allowed",
    "self_centring": "self-centring",
    "tilt": "tilt called",
    "transfer": "paste transfer",
}
LEFT_OUT = {
    LeftOut.SMEAR: "smeared paste, solder balls",
    LeftOut.NON_WET: "non-wet terminals or lands",
    LeftOut.BENT_LEAD: "bent leads",
    LeftOut.CUT_FLANK: "non-wet cut flanks",
    LeftOut.HEAD_IN_PILLOW: "head-in-pillow",
    LeftOut.TOMBSTONE: "tombstoning",
}


def per_million(rate: Estimate) -> str:
    """A rate per part, as it is printed per million: with its range, and never a number below the floor.

    >>> per_million(Estimate(2e-5, 1e-6, 8e-5)), per_million(Estimate(3e-12, 0.0, 1e-11))
    ('20 (1…80)', 'practically none')
    """
    value, low, high = (_number(one) for one in (rate.value, rate.low, rate.high))
    return value if low == high else f"{value} ({low}…{high})"


def _number(rate: float) -> str:
    return NONE if rate < FLOOR else significant(rate * PER_MILLION, 2)


def times(ratio: Estimate) -> str:
    """A ratio of two rates as it is printed, with its range.

    Beyond a factor of a thousand either way only that is said; words, since a sign before a number is read past.

    >>> times(Estimate(2.13, 0.61, 8.2)), times(Estimate(float("nan"), 0.0, float("inf")))
    ('×2.1 (0.61…8.2)', 'not known')
    >>> times(Estimate(4e3, 12.0, 3e5)), times(Estimate(0.02, 1e-5, 0.4)), times(Estimate(4e3, 2e3, 3e5))
    ('over 1000 times (12 or more)', '×0.02 (0.4 or less)', 'over 1000 times')
    """
    if not isfinite(ratio.value):
        return "not known"
    return f"{_value(ratio.value)}{_range(ratio.low, ratio.high)}"


def _value(ratio: float) -> str:
    if ratio > MOST_FACTOR:
        return f"over {MOST_FACTOR:g} times"
    return f"under 1/{MOST_FACTOR:g}" if ratio < 1 / MOST_FACTOR else f"×{significant(ratio, 2)}"


def _range(low: float, high: float) -> str:
    """An interval whose ends may lie beyond what is told."""
    if low > MOST_FACTOR or high < 1 / MOST_FACTOR:
        return ""  # all of it does, as the value says
    below, above = low < 1 / MOST_FACTOR, high > MOST_FACTOR
    if below and above:
        return " (or anything else)"
    ends = [significant(one, 2) for one in (low, high)]
    return f" ({ends[1]} or less)" if below else f" ({ends[0]} or more)" if above else f" ({ends[0]}…{ends[1]})"


def sampled(rate: Estimate, worked: Rates) -> str:
    """What sampling alone leaves of a modelled rate at the middle of what is known.

    >>> sampled(Estimate(0.0, 0.0, 0.0), None)
    'practically none'
    """
    if rate.value < FLOOR:
        return NONE
    said = f"{rate.low * PER_MILLION:.3g} to {rate.high * PER_MILLION:.3g} per million parts"
    slow = " (the most points are spent)" if rate.half > worked.sampling.asked else ""
    return f"{said}, ±{rate.half:.0%}{slow}"


def hangs_on(found: PartRates, what: str) -> str:
    """The three terms that a rate hangs on, with the share of its spread that each explains; empty for none."""
    rows = dict(found.hangs_on).get(what, ())
    return ", ".join(f"{SHORT[one.term]} {one.share:.0%}" for one in rows)


def level(found: PartRates) -> str:
    """How well the level is known."""
    if found.own is not None:
        return "counted by your own line"
    if found.anchored:
        return "anchored to the defects that one published line counted"
    return "no measured anchor for such joints"


def not_modelled_words(ways: Iterable[LeftOut]) -> str:
    """Ways to fail that only the other causes hold, as they are called; empty for none.

    >>> not_modelled_words([LeftOut.HEAD_IN_PILLOW, LeftOut.NON_WET])
    'not modelled, in the other causes alone: head-in-pillow, non-wet terminals or lands'
    """
    told = ", ".join(LEFT_OUT[one] for one in ways)
    return f"not modelled, in the other causes alone: {told}" if told else ""


def not_modelled(found: PartRates, what: str = "defects") -> str:
    """The same of one rate."""
    return not_modelled_words(found.not_modelled(what))


def deposits(found: PartRates) -> str:
    """Whose transfer and spread of deposits a rate was worked with, at the smallest opening; empty for none."""
    if found.own is not None or found.model is None or found.model.scatter.spread is None:
        return ""
    joint = min((one.deposit for one in found.model.geometry.joints), key=lambda one: one.area_ratio)
    spread, ratio = found.model.scatter.spread, joint.area_ratio
    if not spread.reaches(ratio):
        return f"spread of deposits as shipped, {joint.cv:.0%}: your line measured none near area ratio {ratio:.2f}"
    own = joint.cv * float(spread.factor(ratio))
    said = f"spread of deposits as your line measured, {own:.0%} at area ratio {ratio:.2f} (shipped: {joint.cv:.0%})"
    if not spread.knows_transfer(ratio):
        return said
    mean = joint.transfer * float(moved(joint, spread.place(ratio, 0.0)))
    return f"paste transfer as your line measured, {mean:.0%} (shipped: {joint.transfer:.0%}); {said}"


def told(found: PartRates, what: str) -> str:
    """Level, what it hangs on, whose spread of deposits and what is left out, in one clause."""
    hangs = hangs_on(found, what)
    said = (level(found), f"hangs on {hangs}" if hangs else "", deposits(found), not_modelled(found, what))
    return "; ".join(text for text in said if text)
