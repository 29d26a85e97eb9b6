"""A user's own thermal-cycling test: what it says of lives of the same family, by Bayes' rule on the common draws."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError, ValidityError
from landwise.service.attachment import Attachment
from landwise.service.bands import SIGMAS_90, Band
from landwise.service.chamber import DAYS_A_YEAR, Chamber
from landwise.service.lives import DEFAULT_SETS, life

Array = NDArray[np.float64]
# Effective draws left below which the test contradicts the model: its likelihood then rests on a handful of draws.
LEAST_EFFECTIVE = 20.0
LOT_SPREAD = 1.5  # 90 % of lots within this factor of one another's median life (common practice, no source)
SOURCES = ("bayes-binomial", "lot-spread-practice")


@dataclass(frozen=True)
class OwnTest:
    """One test of the user's own.

    Parameters
    ----------
    package : str
        Outline that was tested.
    chamber : Chamber
    cycles : float
        At which failures were counted.
    samples, failures : int
        Parts in the chamber, and how many had failed by then.
    """

    package: str
    chamber: Chamber
    cycles: float
    samples: int
    failures: int

    def __post_init__(self) -> None:
        if not self.cycles > 0 or self.samples < 1:
            raise InputError(
                "a test needs cycles and samples", place=self.package, found=f"{self.cycles:g}, {self.samples}"
            )
        if not 0 <= self.failures <= self.samples:
            raise InputError(
                "more failures than samples, or fewer than none",
                place=self.package,
                found=f"{self.failures} of {self.samples}",
            )


@dataclass(frozen=True)
class Shown:
    """One test's cycles to the share it saw, before and after it was taken in. [cycles]"""

    test: OwnTest
    before: Band
    after: Band


def draw_weights(
    tests: Sequence[tuple[OwnTest, Attachment]], board_ppm_k: Band, sets: tuple[str, ...] = DEFAULT_SETS
) -> tuple[Array, tuple[Shown, ...]]:
    """Weights of the common draws by tests, and each test's life before and after.

    Parameters
    ----------
    tests : sequence of (OwnTest, Attachment)
        With the joint that was tested, on the board and print that were tested.
    board_ppm_k : Band
        Expansion of the test board. [ppm/K]

    Raises
    ------
    InputError
        Without tests.
    ValidityError
        Where the tests contradict the method: almost no draw agrees with them.

    Notes
    -----
    Each draw holds a life and a Weibull shape, so a share F failed by the test's cycles; k of n have the likelihood
    Fᵏ(1 − F)ⁿ⁻ᵏ, averaged over how lots differ (`LOT_SPREAD`). Draws are common to all parts: a test of one part moves
    the others as far as they share what it tells of, most of all the spread of the method of that kind of joint. Other
    kinds keep theirs. Weights sum to one.

    Examples
    --------
    >>> from landwise.service.bands import Band
    >>> joint = Attachment("ball", 5, 0.9, Band(0.12, 0.16, 0.2), Band(6, 9, 12))
    >>> test = OwnTest("BGA", Chamber(-40, 85, 10, 36), 3000, 33, 0)
    >>> weights, shown = draw_weights([(test, joint)], Band(12.5, 15, 18))
    >>> shown[0].after.value > shown[0].before.value, round(float(weights.sum()), 6)
    (True, 1.0)
    """
    if not tests:
        raise InputError("no tests to learn from", found="none")
    lives = [life(joint, test.chamber.as_environment, board_ppm_k, sets) for test, joint in tests]
    log = np.zeros_like(lives[0].draws_years)
    nodes, share_of = np.polynomial.hermite_e.hermegauss(7)
    lots, share_of = LOT_SPREAD ** (nodes / SIGMAS_90), share_of / share_of.sum()
    for (test, _), one in zip(tests, lives, strict=True):
        years = test.cycles / (test.chamber.per_day * DAYS_A_YEAR)
        harm = np.log(2) * (years / (lots[:, None] * one.draws_years)) ** one.draws_shape
        failed = np.log(np.maximum(-np.expm1(-harm), 1e-300))
        each = test.failures * failed - (test.samples - test.failures) * harm
        peak = each.max(axis=0)
        log = log + peak + np.log(share_of @ np.exp(each - peak))
    weights = np.exp(log - log.max())
    weights = np.asarray(weights / weights.sum())
    effective = 1 / float((weights**2).sum())
    if effective < LEAST_EFFECTIVE:
        raise ValidityError(
            "the tests contradict the method: almost none of its draws agrees with them",
            place="[[use.tests]]",
            found=f"{effective:.0f} of {len(weights)} draws",
            expected=f"at least {LEAST_EFFECTIVE:g}; check package, chamber and counts, or judge by test alone",
        )
    shown = []
    for (test, _), one in zip(tests, lives, strict=True):
        share = min(max((test.failures + 0.5) / (test.samples + 1), 1e-6), 1 - 1e-6)
        per_year = test.chamber.per_day * DAYS_A_YEAR
        even = one.weighed(np.full_like(weights, 1 / len(weights)))  # its middle is worked as that of the weighed one
        shown.append(
            Shown(test, even.years_to(share).times(per_year), one.weighed(weights).years_to(share).times(per_year))
        )
    return weights, tuple(shown)
