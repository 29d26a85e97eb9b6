"""What published prints say of the paste transfer, and whether the band meets it."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from landwise.printing.model import Powder, Technology
from landwise.printing.transfer import curve, release_verdict, transfer, transfer_arrays
from landwise.untyped import Table

Array = NDArray[np.float64]
Judged = tuple[str, bool]


@dataclass(frozen=True)
class BoundMet:
    """One published statement against the band.

    Parameters
    ----------
    id : str
        Its number in the list of bounds.
    says, printed : str
        The statement, and its conditions as far as they are printed.
    source : str
        Key of its source.
    band : str
        What the band gives, or why it can't be held to the statement.
    met : bool or None
        Whether they agree; None where nothing can be held to it.
    built_in : bool
        The prior was made from this statement, so agreement is no evidence.
    """

    id: str
    says: str
    printed: str
    source: str
    band: str
    met: bool | None
    built_in: bool = False


@cache
def published_bounds() -> tuple[Mapping[str, object], ...]:
    """The rows of `transfer_bounds.toml`."""
    text = resources.files("landwise.printing").joinpath("transfer_bounds.toml").read_text(encoding="utf-8")
    return tuple(MappingProxyType(row) for row in tomllib.loads(text)["bound"])


def bounds_met() -> tuple[BoundMet, ...]:
    """Every published bound against the band.

    Examples
    --------
    >>> [bound.id for bound in bounds_met() if bound.met is False]
    ['T8']
    """
    return tuple(_judge(row) for row in published_bounds())


def _judge(row: Table) -> BoundMet:
    band, met = (row["untested"], None) if "untested" in row else _TESTS[row["test"]](row)
    return BoundMet(
        row["id"], row["says"], row["printed"], row["source"], band, met, built_in=row.get("built_in", False)
    )


def _of(row: Table) -> tuple[Technology, Powder]:
    return row.get("technology", "laser-cut"), row.get("powder", "T4")


def _spread(row: Mapping[str, object], powder: Powder) -> tuple[Array, Array]:
    prior, ratios = curve(_of(row)[0], powder), np.array(row["area_ratio"])
    return prior.at(prior.cv_low, ratios), prior.at(prior.cv_high, ratios)


def _points(row: Mapping[str, object]) -> Judged:
    ratios, values = np.array(row["points"]).T
    band = transfer_arrays(ratios, *_of(row))
    shown = ", ".join(
        f"{100 * (low):.0f} % to {100 * (high):.0f} % at {ratio:.2f}"
        for ratio, low, high in zip(ratios, band["low"], band["high"], strict=True)
    )
    return shown, bool(np.all((band["low"] <= values) & (values <= band["high"])))


def _reaches(row: Table) -> Judged:
    high = transfer_arrays(np.array(row["area_ratio"]), *_of(row))["high"]
    return f"up to {100 * (float(high.min())):.0f} %", bool(np.all(high >= row["value"]))


def _width(row: Table) -> Judged:
    band = transfer_arrays(np.array(row["area_ratio"]), *_of(row))
    width = band["high"] - band["low"]
    return f"90 % interval {float(width.min()) * 100:.0f} points wide or more", bool(np.all(width >= row["value"]))


def _gain(row: Table) -> Judged:
    ratios = np.array(row["area_ratio"])
    coated, bare = (transfer_arrays(ratios, foil, _of(row)[1]) for foil in (_of(row)[0], "laser-cut"))
    least, most = (float(np.min(coated[edge] - bare[edge])) for edge in ("usual_low", "usual_high"))
    return f"gain {least * 100:.0f} to {most * 100:.0f} points", least <= row["gain"][1] and most >= row["gain"][0]


def _spread_equal(row: Mapping[str, object]) -> Judged:
    middles = np.array([np.add(*_spread(row, powder)) / 2 for powder in ("T3", "T4", "T5")])
    shown = "spread " + ", ".join(f"{100 * (float(value[0])):.1f} %" for value in middles)
    return shown, bool(np.ptp(middles) <= row["value"] * middles.mean())


def _spread_ratio(row: Mapping[str, object]) -> Judged:
    t3, t4, t5 = (float(_spread(row, powder)[0][0]) for powder in ("T3", "T4", "T5"))
    found = np.array([t3 / t4, t5 / t4])
    shown = f"spread T3 : T4 : T5 = {found[0]:.2f} : 1 : {found[1]:.2f}"
    return shown, bool(np.all(np.abs(found - row["ratio"]) <= 0.01))


def _spread_against(row: Table) -> Judged:
    low, high = _spread(row, _of(row)[1])
    middle = (low + high) / 2
    value, slack = row["value"], 1e-9
    met = {
        "spread_below": middle <= value + slack,
        "spread_above": middle >= value - slack,
        "spread_near": (low <= value + slack) & (high >= value - slack),
    }[row["test"]]
    return f"spread {100 * (float(low.min())):.1f} % to {100 * (float(high.max())):.1f} %", bool(np.all(met))


def _fails_first(row: Table) -> Judged:
    words = [release_verdict(transfer(ratio, *_of(row))) for ratio in row["area_ratio"]]
    shown = ", ".join(f"{word} at {ratio:.2f}" for word, ratio in zip(words, row["area_ratio"], strict=True))
    return shown, words[0] == "fails" and words[1] != "fails"


_TESTS: Mapping[str, Callable[[Table], Judged]] = MappingProxyType(
    {
        "points": _points,
        "reaches": _reaches,
        "width": _width,
        "gain": _gain,
        "spread_equal": _spread_equal,
        "spread_ratio": _spread_ratio,
        "spread_below": _spread_against,
        "spread_above": _spread_against,
        "spread_near": _spread_against,
        "fails_first": _fails_first,
    }
)
