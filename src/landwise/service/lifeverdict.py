"""What a computed life shows: held, broken, or not shown, and why.

A life is broken only where all of its interval falls short and something measured stands behind its level. No readable
test calibrates the level of copper-leaded small outlines: theirs is held (this mechanism doesn't limit) or not shown.
Leads of alloy 42, with its record of early failures, and leads of unknown metal are for their maker to answer.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from landwise.errors import InputError
from landwise.evidence.figures import Verdict
from landwise.quantities import significant
from landwise.service.attachment import UNKNOWN_METAL, Attachment
from landwise.service.bands import Band
from landwise.service.lives import Life

State = Literal["held", "broken", "not shown"]
Basis = Literal["interval", "does-not-limit", "no-level", "ask-maker", "not-covered"]
VERDICTS: Mapping[tuple[State, Basis], Verdict] = MappingProxyType(
    {
        ("held", "interval"): "holds",
        ("held", "does-not-limit"): "holds",
        ("broken", "interval"): "fails",
        ("not shown", "interval"): "marginal",
        ("not shown", "no-level"): "not known",
        ("not shown", "ask-maker"): "not known",
        ("not shown", "not-covered"): "not known",
    }
)
WORDS: Mapping[Basis, str] = MappingProxyType(
    {
        "interval": "its interval against the years wanted",
        "does-not-limit": "fatigue of its joints doesn't limit it",
        "no-level": (
            "not shown: no readable test gives the level of copper-leaded parts; your own would ([[use.tests]])"
        ),
        "ask-maker": (
            "not known: ask its maker for the lead's metal and a board test; copper is benign, alloy 42 has a record of"
            " early cracks"
        ),
        "not-covered": "not shown: nothing here covers a board that is cast in",
    }
)
# What alloy 42 has done, from what could be read (bounds and directions, no calibration).
ALLOY_42_RECORD = ("alloy-42-first-failures", "alloy-42-screening", "alloy-42-against-copper")


@dataclass(frozen=True)
class LifeVerdict:
    """What a life shows against the years wanted.

    Parameters
    ----------
    state : {"held", "broken", "not shown"}
    basis : str
        What it rests on; a key of `WORDS`.
    years : Band
        Until the accepted share has failed. [years]
    wanted_years : float
    """

    state: State
    basis: Basis
    years: Band
    wanted_years: float

    @property
    def verdict(self) -> Verdict:
        """The figure's verdict: a life that nobody showed is *not known*, never *fails*."""
        return VERDICTS[self.state, self.basis]

    @property
    def measured(self) -> bool:
        """Whether something measured stands behind its level."""
        return self.basis == "interval"

    @property
    def says(self) -> str:
        """The basis in words."""
        return WORDS[self.basis]


def life_verdict(found: Life, joint: Attachment, wanted_years: float, failures: float) -> LifeVerdict:
    """Hold a life against the years wanted.

    Parameters
    ----------
    found : Life
        Weighed by tests of the user's own where there are any of this family.
    joint : Attachment
    wanted_years, failures : float
        Years wanted [years], and the share that may have failed by then.

    Raises
    ------
    InputError
        For years that aren't positive.

    Examples
    --------
    >>> from landwise.service.environments import environment
    >>> from landwise.service.lives import life
    >>> lead = Attachment("leaded", 14, 4.6, Band(0.03, 0.05, 0.07), Band(11, 12.5, 14), Band(30, 60, 80),
    ...                   Band(0.18, 0.22, 0.26), foot_mm=0.8, lead_metal="copper")
    >>> place = environment("under-hood")
    >>> life_verdict(life(lead, place, Band(12.5, 15, 18)), lead, 1000.0, 0.001).state
    'not shown'
    """
    if not wanted_years > 0:
        raise InputError("years wanted must be positive", found=f"{wanted_years:g}")
    years = found.years_to(failures)
    if joint.beyond:
        return LifeVerdict("not shown", "not-covered", years, wanted_years)
    tested = found.weights is not None
    held = years.low >= wanted_years
    if joint.kind == "leaded" and joint.lead_metal != "copper" and not (tested and joint.lead_metal != UNKNOWN_METAL):
        # Drawn over both metals where it is not known: held then holds for either.
        return LifeVerdict(
            "held" if held else "not shown", "does-not-limit" if held else "ask-maker", years, wanted_years
        )
    if joint.kind == "leaded" and not tested:
        return LifeVerdict(
            "held" if held else "not shown", "does-not-limit" if held else "no-level", years, wanted_years
        )
    state: State = "held" if held else "broken" if years.high < wanted_years else "not shown"
    return LifeVerdict(state, "interval", years, wanted_years)


def rounded(band: Band) -> str:
    """A band as it is known: one figure where its ends lie more than threefold apart, else two.

    >>> rounded(Band(0.089, 31.2, 280.0)), rounded(Band(3.4, 5.81, 7.2))
    ('30 (0.09…300)', '5.8 (3.4…7.2)')
    """
    wide = not band.low > 0 or band.high / band.low > 3
    return "{} ({}…{})".format(*(significant(x, 1 if wide else 2) for x in (band.value, band.low, band.high)))


def beyond_years(band: Band, wanted_years: float) -> str:
    """Years as they are printed: past a hundred times what is wanted they mean only that nothing limits.

    >>> beyond_years(Band(600.0, 900.0, 2000.0), 5.0), beyond_years(Band(1.0, 3.1, 9.0), 5.0)
    ('more than 500 years', '3 (1…9) years')
    """
    if not math.isfinite(band.value) or band.low >= 100 * wanted_years:
        return f"more than {significant(100 * wanted_years, 1)} years"
    return f"{rounded(band)} years"
