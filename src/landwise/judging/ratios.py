"""How often each package of a part fails against the one in use: what is known of ratios, not of levels."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from landwise.assembly.rare import Estimate
from landwise.assembly.ratios import rate_ratio
from landwise.judging.results import OptionResult, PartResult


@dataclass(frozen=True)
class Against:
    """How often one option fails over another, drawn together: medians and 90 % ranges.

    Parameters
    ----------
    reference : str
        The option it stands against.
    ratio : Estimate
        All expected defects, other causes among them.
    bridges, opens : Estimate
        As a line would count them, whatever the cause.
    """

    reference: str
    ratio: Estimate
    bridges: Estimate
    opens: Estimate


def reference_of(part: PartResult) -> OptionResult | None:
    """What ratios of a part stand against: the package in use, or else the chosen one, or the first that is printed."""
    asked = (part.present, part.chosen, *part.options)
    return next((one for one in asked if one is not None and one.geometry.rates is not None), None)


def defects_against(part: PartResult) -> Mapping[str, Against]:
    """Expected defects of every printed option over those of the reference.

    Returns
    -------
    mapping of str to Against
        By option; the reference and options that aren't printed are not in it, nor rates that the line counted itself
        on other draws.
    """
    reference = reference_of(part)
    if reference is None or reference.geometry.rates is None:
        return {}
    below = reference.geometry.rates
    found = {}
    for option in part.options:
        rates = option.geometry.rates
        if option.name != reference.name and rates is not None and len(rates.by[0][1]) == len(below.by[0][1]):
            whole, bridges, opens = (rate_ratio(rates, below, what) for what in ("defects", "bridge", "open"))
            found[option.name] = Against(reference.name, whole, bridges, opens)
    return found
