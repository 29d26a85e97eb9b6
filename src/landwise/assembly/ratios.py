"""How much more often one option fails than another, with an interval of its own."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from landwise.assembly.knowledge import MECHANISMS, standing
from landwise.assembly.partrates import PartRates
from landwise.assembly.rare import Estimate
from landwise.errors import InputError

Array = NDArray[np.float64]
Z90 = 1.6449
COUNTED = {"bridge": "bridges", "open": "opens"}  # what a line counts, and the mechanism that is modelled


def rate_ratio(a: PartRates, b: PartRates, what: str = "defects") -> Estimate:
    """Expected defects of `a` over those of `b`: median and 90 % interval.

    Parameters
    ----------
    a, b : PartRates
        Worked on the same knowledge.
    what : str
        `defects`; `bridge` or `open`, as a line would count them, whatever the cause; or by cause one of `bridges`,
        `opens`, `moved`, `other`.

    Raises
    ------
    InputError
        For another word, or rates of different numbers of draws.

    Notes
    -----
    Taken draw by draw, so that the line's level and every term drop out as far as both hang on them alike. What
    sampling leaves of the two is put on top as independent noise of the logarithm.

    Examples
    --------
    A part against itself:

    >>> from landwise.assembly.partmodel import part_model
    >>> from landwise.assembly.partrates import part_rates
    >>> from landwise.assembly.scatter import scatter
    >>> from landwise.lands import land_pattern
    >>> from landwise.outlines import find
    >>> from landwise.printing import Foil, print_part
    >>> part = find("SO-14")
    >>> lands = land_pattern(part)
    >>> model = part_model(part, lands, print_part(lands, Foil(100), outline=part), scatter(0.03, 0.05))
    >>> found = part_rates(model)
    >>> rate_ratio(found, found)
    Estimate(value=1.0, low=1.0, high=1.0)
    """
    if what not in ("defects", *COUNTED, *MECHANISMS):
        raise InputError("no such rate", found=what, expected=" | ".join(("defects", *COUNTED, *MECHANISMS)))
    if len(a.by[0][1]) != len(b.by[0][1]):
        raise InputError("rates of different draws have no ratio", found=f"{len(a.by[0][1])} and {len(b.by[0][1])}")
    if a == b:
        return Estimate(1.0, 1.0, 1.0)
    above, below = (_at_draws(one, what) for one in (a, b))
    with np.errstate(divide="ignore", invalid="ignore"):
        logs = np.log(above) - np.log(below)
    if not np.isfinite(logs).all():
        return Estimate(math.nan, 0.0, math.inf)
    noise = math.hypot(_noise(a, what), _noise(b, what)) / Z90
    noisy = logs + noise * standing(f"noise {what}", len(logs))
    low, high = np.exp(np.quantile(noisy, (0.05, 0.95)))
    return Estimate(float(np.exp(np.median(logs))), float(low), float(high))


def _at_draws(one: PartRates, what: str) -> Array:
    taken = MECHANISMS if what == "defects" else (what,)
    held = dict((*one.by, *one.counted))
    found: Array = np.sum([held[name] for name in taken], axis=0)
    return found


def _noise(one: PartRates, what: str) -> float:
    """Relative half width that sampling leaves of a rate, by the share of it that was sampled."""
    if what == "other" or one.own is not None:
        return 0.0
    if what == "moved":
        parts = (one.worked.floated, one.worked.skewed, one.worked.tilted)
        return max(part.half for part in parts)
    if what == "defects":
        modelled = one.defects.value - one.other.value
        return one.worked.defects.half * (modelled / one.defects.value if one.defects.value > 0 else 0.0)
    if what in COUNTED:
        whole, name = float(np.mean(dict(one.counted)[what])), COUNTED[what]
        return float(getattr(one.worked, name).half * getattr(one, name).value / whole) if whole > 0 else 0.0
    found: float = getattr(one.worked, what).half
    return found
