"""Paste transfer: what share of an aperture's volume stays on the land, as a band against area ratio."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError, ValidityError
from landwise.evidence.figures import Verdict
from landwise.printing.model import POWDERS, TECHNOLOGIES, Powder, Technology, Transfer

SOURCE = "transfer-prior-memory"
PASS_LEVEL = 0.80  # usual pass level of paste inspection
PASS_SOURCE = "transfer-80"
FINE, COARSE = 0.60, 0.75  # technology and powder shift the band fully below, and settle above


@dataclass(frozen=True)
class _Prior:
    ratios: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    lab: NDArray[np.float64]
    cv: NDArray[np.float64]
    shifts: Mapping[str, Mapping[str, Any]]


@cache
def _prior() -> _Prior:
    text = resources.files("landwise.printing").joinpath("transfer_prior.toml").read_text(encoding="utf-8")
    data = tomllib.loads(text)
    knots = data["knot"]
    usual = np.array([knot["usual"] for knot in knots])
    return _Prior(
        np.array([knot["area_ratio"] for knot in knots]),
        usual[:, 0],
        usual[:, 1],
        np.array([knot["lab"] for knot in knots]),
        np.array([knot["cv"] for knot in knots]),
        MappingProxyType({**data["technology"], **data["powder"]}),
    )


def transfer_arrays(
    area_ratio: NDArray[np.float64], technology: Technology = "laser-cut", powder: Powder = "T4"
) -> Mapping[str, NDArray[np.float64]]:
    """The band for many apertures at once: mean, low, high, usual_low, usual_high, sd, each shaped as given.

    Raises
    ------
    InputError
        Unknown technology or powder.
    ValidityError
        Area ratios below the first knot (0.30): the paste then stays in the foil and no band is known.

    Notes
    -----
    Straight lines between the knots of `transfer_prior.toml`; above the last knot (1.00) its values hold,
    since the aperture then empties. Shifts of technology and powder add.
    """
    if technology not in TECHNOLOGIES:
        raise InputError("unknown foil technology", found=str(technology), expected=" | ".join(TECHNOLOGIES))
    if powder not in POWDERS:
        raise InputError("unknown powder", found=str(powder), expected=" | ".join(POWDERS))
    prior = _prior()
    ratio = np.asarray(area_ratio, dtype=float)
    if not np.all(ratio >= prior.ratios[0]):
        raise ValidityError(
            "no transfer is known at this area ratio",
            found=f"{float(np.min(ratio)):.3g}",
            expected=f"at least {prior.ratios[0]:.2f}; below it the paste stays in the foil",
        )
    low = np.interp(ratio, prior.ratios, prior.low)
    high = np.interp(ratio, prior.ratios, prior.high)
    cv = np.interp(ratio, prior.ratios, prior.cv)
    for name in (technology, powder):
        shift = prior.shifts[name]
        for bound, band in enumerate((low, high)):
            band += np.interp(ratio, [FINE, COARSE], [shift["below"][bound], shift["above"][bound]])
        cv = cv * shift["cv_factor"]
    low = np.maximum(low, 0.0)
    mean = (low + high) / 2
    lab = np.interp(ratio, prior.ratios, prior.lab)
    return {
        "mean": mean,
        "low": np.maximum(low - lab, 0.0),
        "high": high + lab,
        "usual_low": low,
        "usual_high": high,
        "sd": mean * cv,
    }


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


def release_verdict(band: Transfer) -> Verdict:
    """Does an aperture release: its usual band against the pass level of paste inspection.

    Holds when the whole band passes, fails when all of it stays below, marginal in between.
    """
    # Knots are printed with two digits; a band edge that equals the pass level passes it.
    if band.usual_low >= PASS_LEVEL - 1e-9:
        return "holds"
    return "fails" if band.usual_high < PASS_LEVEL else "marginal"


@cache
def failing_area_ratio(technology: Technology = "laser-cut", powder: Powder = "T4") -> float:
    """The area ratio below which `release_verdict` fails. [-]

    >>> round(failing_area_ratio(), 3)
    0.586
    """
    grid = np.linspace(_prior().ratios[0], 1.0, 7001)
    arrays = transfer_arrays(grid, technology, powder)
    passing = arrays["usual_high"] >= PASS_LEVEL
    return float(grid[np.argmax(passing)])


@dataclass(frozen=True)
class BoundMet:
    """One published statement against the band: what it says, what the band gives, and whether they agree."""

    id: str
    says: str
    source: str
    band: str
    met: bool


def bounds_met() -> tuple[BoundMet, ...]:
    """Every testable published bound of `transfer_bounds.toml` against the prior.

    >>> sorted({bound.met for bound in bounds_met()})
    [True]
    """
    text = resources.files("landwise.printing").joinpath("transfer_bounds.toml").read_text(encoding="utf-8")
    return tuple(_judge(row) for row in tomllib.loads(text)["bound"])


def _judge(row: Mapping[str, Any]) -> BoundMet:
    ratios = np.array(row["area_ratio"])
    arrays = transfer_arrays(ratios, row["technology"], row["powder"])
    low, high = float(arrays["low"].min()), float(arrays["high"].max())
    shown, met = f"{low:.0%} to {high:.0%}", True
    if "low" in row:
        met = met and high >= row["low"]
    if "high" in row:
        met = met and low <= row["high"]
    if "gain_low" in row:
        bare = transfer_arrays(ratios, "laser-cut", row["powder"])
        gain = [float(np.min(arrays[key] - bare[key])) for key in ("usual_low", "usual_high")]
        shown = f"gain {gain[0]:.0%} to {gain[1]:.0%}"
        met = gain[0] <= row["gain_high"] and gain[1] >= row["gain_low"]
    if "cv_high" in row:
        cv = float(np.max(arrays["sd"] / arrays["mean"]))
        shown, met = f"spread {cv:.1%}", cv <= row["cv_high"]
    if "cv_ratio_t3" in row:
        base = float((arrays["sd"] / arrays["mean"])[0])
        other = {p: transfer_arrays(ratios, row["technology"], p) for p in ("T3", "T5")}
        ratio = {p: float((a["sd"] / a["mean"])[0]) / base for p, a in other.items()}
        shown = f"spread T3 : T4 : T5 = {ratio['T3']:.2f} : 1 : {ratio['T5']:.2f}"
        met = abs(ratio["T3"] - row["cv_ratio_t3"]) < 0.01 and abs(ratio["T5"] - row["cv_ratio_t5"]) < 0.01
    return BoundMet(row["id"], row["says"], row["source"], shown, bool(met))
