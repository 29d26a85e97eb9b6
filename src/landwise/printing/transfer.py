"""Paste transfer: what share of an aperture's volume stays on the land, as a band against area ratio."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError, ValidityError
from landwise.evidence.figures import Verdict
from landwise.printing.model import POWDERS, TECHNOLOGIES, Powder, Technology, Transfer
from landwise.untyped import Table

SOURCE = "transfer-prior-memory"
PASS_LEVEL = 0.80  # usual pass level of paste inspection
PASS_SOURCE = "transfer-80"
FINE, COARSE = 0.60, 0.75  # technology and powder act in full up to the first, and settle from the second on

Array = NDArray[np.float64]
# A line's own verdict of an opening's release; None where it measured none near.
Release = Callable[[float, Technology, Powder], Verdict | None]


@dataclass(frozen=True)
class Curve:
    """The prior for one technology and powder, by its knots; straight lines between.

    Parameters
    ----------
    ratios : array
        Area ratios of the knots. [-]
    usual_low, usual_high : array
        Band of an ordinary line. [-]
    laboratories : array
        What other laboratories may find beyond it, each way. [-]
    cv_low, cv_high : array
        Range of the spread from deposit to deposit, standard deviation over mean. [-]
    """

    ratios: Array
    usual_low: Array
    usual_high: Array
    laboratories: Array
    cv_low: Array
    cv_high: Array

    def at(self, edge: Array, ratio: Array) -> Array:
        """One of the arrays at any area ratio."""
        found: Array = np.interp(ratio, self.ratios, edge)
        return found

    def reaches(self, edge: Array, level: float) -> float | None:
        """The area ratio at which an edge first reaches a level; None if it never does.

        An edge that starts above the level reaches it at the first knot.
        """
        # Knots are printed with two digits; an edge that equals the level reaches it.
        passing = np.flatnonzero(edge >= level - 1e-9)
        if not passing.size:
            return None
        k = int(passing[0])
        if k == 0:
            return float(self.ratios[0])
        share = (level - edge[k - 1]) / (edge[k] - edge[k - 1])
        return float(self.ratios[k - 1] + share * (self.ratios[k] - self.ratios[k - 1]))


@cache
def _prior() -> Table:
    text = resources.files("landwise.printing").joinpath("transfer_prior.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@cache
def curve(technology: Technology = "laser-cut", powder: Powder = "T4") -> Curve:
    """The prior for a foil technology and a powder.

    Raises
    ------
    InputError
        Unknown technology or powder.

    Notes
    -----
    The shifts of technology and powder add. Where an added shift would make an edge fall with rising area
    ratio, the edge stays level instead: a wider opening never keeps more of its paste.
    """
    if technology not in TECHNOLOGIES:
        raise InputError("unknown foil technology", found=str(technology), expected=" | ".join(TECHNOLOGIES))
    if powder not in POWDERS:
        raise InputError("unknown powder", found=str(powder), expected=" | ".join(POWDERS))
    prior = _prior()
    tables = [prior["usual"], prior["laboratories"], prior["spread"]]
    ratios = np.unique([row["area_ratio"] for table in tables for row in table] + [FINE, COARSE])

    def table(rows: list[Table], key: str, column: int | None = None) -> Array:
        values = [row[key] if column is None else row[key][column] for row in rows]
        found: Array = np.interp(ratios, [row["area_ratio"] for row in rows], values)
        return found

    usual = [table(prior["usual"], "band", column) for column in (0, 1)]
    spread = [table(prior["spread"], "cv", column) for column in (0, 1)]
    for shift in (prior["technology"][technology], prior["powder"][powder]):
        for column in (0, 1):
            usual[column] += np.interp(ratios, [FINE, COARSE], [shift["fine"][column], shift["settled"][column]])
            spread[column] *= np.interp(ratios, [FINE, COARSE], [shift["cv_factor"], 1.0])
    low, high = (np.maximum.accumulate(np.maximum(edge, 0.0)) for edge in usual)
    return Curve(ratios, low, high, table(prior["laboratories"], "each_way"), spread[0], spread[1])


def transfer_arrays(
    area_ratio: Array, technology: Technology = "laser-cut", powder: Powder = "T4"
) -> Mapping[str, Array]:
    """The band for many apertures at once: mean, low, high, usual_low, usual_high, sd, each shaped as given.

    Parameters
    ----------
    area_ratio : array
        Area ratios. [-]
    technology : str
        How the foil's apertures were made.
    powder : str
        Powder type of the paste.

    Raises
    ------
    InputError
        Unknown technology or powder.
    ValidityError
        Area ratios below the first knot (0.30): the paste then stays in the foil and no band is known.

    Notes
    -----
    Straight lines between the knots of `transfer_prior.toml`; above the last knot (1.00) its values hold,
    since the aperture then empties. The mean is the middle of the usual band. The 90 % interval ends at
    zero where the laboratories' share would take it below.
    """
    prior = curve(technology, powder)
    ratio = np.asarray(area_ratio, dtype=float)
    if not np.all(ratio >= prior.ratios[0]):
        raise ValidityError(
            "no transfer is known at this area ratio",
            found=f"{float(np.min(ratio)):.3g}",
            expected=f"at least {prior.ratios[0]:.2f}; below it the paste stays in the foil",
        )
    low, high = prior.at(prior.usual_low, ratio), prior.at(prior.usual_high, ratio)
    laboratories = prior.at(prior.laboratories, ratio)
    mean = (low + high) / 2
    return {
        "mean": mean,
        "low": np.maximum(low - laboratories, 0.0),
        "high": high + laboratories,
        "usual_low": low,
        "usual_high": high,
        "sd": mean * prior.at((prior.cv_low + prior.cv_high) / 2, ratio),
    }


@lru_cache(maxsize=4096)
def transfer(area_ratio: float, technology: Technology = "laser-cut", powder: Powder = "T4") -> Transfer:
    """The band of paste transfer for one aperture. See `transfer_arrays`.

    Examples
    --------
    >>> band = transfer(0.66)
    >>> round(band.usual_low, 2), round(band.usual_high, 2)
    (0.8, 0.88)
    """
    arrays = transfer_arrays(np.array([area_ratio]), technology, powder)
    return Transfer(**{key: float(value[0]) for key, value in arrays.items()})


def least_area_ratio() -> float:
    """The area ratio below which no transfer is known. [-]

    >>> least_area_ratio()
    0.3
    """
    return float(curve().ratios[0])


def transfer_or_none(area_ratio: float, technology: Technology = "laser-cut", powder: Powder = "T4") -> Transfer:
    """The band of one aperture; below the first knot, a deposit that may be missing altogether.

    There the band has no lower bound but zero, and its upper ends are those of the first knot: nothing is
    known but that a narrower opening leaves no more. The mean is the middle of that, its spread as wide as
    an even chance of anything between (width / √12).

    >>> band = transfer_or_none(0.20)
    >>> band.low, band.usual_low, round(band.usual_high, 2)
    (0.0, 0.0, 0.2)
    """
    if area_ratio >= least_area_ratio():
        return transfer(area_ratio, technology, powder)
    first = transfer(least_area_ratio(), technology, powder)
    return Transfer(
        mean=first.usual_high / 2,
        low=0.0,
        high=first.high,
        usual_low=0.0,
        usual_high=first.usual_high,
        sd=first.usual_high / 12**0.5,
    )


def release_verdict(band: Transfer) -> Verdict:
    """Does an aperture release: its usual band against the pass level of paste inspection.

    Holds when the whole band passes, fails when all of it stays below, marginal in between.
    """
    if band.usual_low >= PASS_LEVEL - 1e-9:
        return "holds"
    return "fails" if band.usual_high < PASS_LEVEL - 1e-9 else "marginal"


@cache
def holding_area_ratio(technology: Technology = "laser-cut", powder: Powder = "T4") -> float | None:
    """The area ratio from which `release_verdict` holds; None if it never does. [-]

    >>> holding_area_ratio()
    0.66
    """
    prior = curve(technology, powder)
    return prior.reaches(prior.usual_low, PASS_LEVEL)


@cache
def failing_area_ratio(technology: Technology = "laser-cut", powder: Powder = "T4") -> float:
    """The area ratio below which `release_verdict` fails. [-]

    >>> print(f"{failing_area_ratio():.3f}")
    0.586
    """
    prior = curve(technology, powder)
    found = prior.reaches(prior.usual_high, PASS_LEVEL)
    if found is None:  # no shipped technology does this; a user's own prior may
        raise ValidityError("this foil never passes inspection", found=f"{technology}, {powder}")
    return found
