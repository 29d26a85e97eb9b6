"""What a criterion is worth: from a figure to a value between 0 and 1, by rules stated with the result."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError, UnknownNameError

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Criterion:
    """One thing that counts, with its default weight and why, and how its figure becomes a value.

    `value` takes an array of the options' figures (options on the last axis) and gives values in 0…1.
    """

    name: str
    title: str
    figure: str
    weight: float
    reason: str
    rule: str
    value: Callable[[Array], Array]


def ratio_to_best(figures: Array) -> Array:
    """1 for the smallest, one half for twice the smallest: for money and area.

    >>> print(ratio_to_best(np.array([2.0, 4.0, 8.0])))
    [1.   0.5  0.25]
    """
    if np.any(figures <= 0):
        raise InputError("a cost or an area must be positive", found=f"{float(np.min(figures)):g}", expected="> 0")
    smallest: Array = np.min(figures, axis=-1, keepdims=True)
    return smallest / figures


def between(zero: float, one: float) -> Callable[[Array], Array]:
    """A straight line from 0 at `zero` to 1 at `one`, flat outside.

    >>> print(between(0.6, 0.9)(np.array([0.5, 0.75, 1.0])))
    [0.  0.5 1. ]
    """

    def value(figures: Array) -> Array:
        return np.clip((figures - zero) / (one - zero), 0.0, 1.0)

    return value


def between_logs(zero: float, one: float) -> Callable[[Array], Array]:
    """As `between`, but a straight line over the logarithm: for what differs by tens.

    >>> print(between_logs(10, 1000)(np.array([1.0, 100.0, 1e4])))
    [0.  0.5 1. ]
    """

    def value(figures: Array) -> Array:
        shares: Array = np.log(np.maximum(figures, 1e-12) / zero) / np.log(one / zero)
        return np.clip(shares, 0.0, 1.0)

    return value


CRITERIA: Mapping[str, Criterion] = MappingProxyType(
    {
        criterion.name: criterion
        for criterion in (
            Criterion(
                "cost",
                "cost per good board",
                "cost",
                0.35,
                "in volume the cost per good board decides first",
                "1 for the cheapest, half for twice its cost",
                ratio_to_best,
            ),
            Criterion(
                "area",
                "board area",
                "area",
                0.20,
                "area is what designers ask to save; its price is in the cost, its shortage is not",
                "1 for the smallest, half for twice its area",
                ratio_to_best,
            ),
            Criterion(
                "print",
                "paste transfer of the worst land",
                "transfer",
                0.20,
                "starved joints are the commonest printing defect of small parts",
                "0 at 60 % transfer, where joints go open; 1 at 90 %, beyond which nothing is gained",
                between(0.60, 0.90),
            ),
            Criterion(
                "gap",
                "gap between neighbouring lands",
                "gap",
                0.10,
                "bridging grows as the gap closes",
                "0 at 0.10 mm, the least a board maker holds; 1 at 0.30 mm, where lines do not worry",
                between(0.10, 0.30),
            ),
            Criterion(
                "sight",
                "joints seen from above",
                "seen",
                0.10,
                "what can't be seen costs time when something is wrong",
                "the share of joints seen",
                between(0.0, 1.0),
            ),
            Criterion(
                "reach",
                "terminals within reach of a probe",
                "reach",
                0.05,
                "a terminal that can be touched saves a test land in the lab",
                "the share of terminals within reach (or out of it, where the study wants them hidden)",
                between(0.0, 1.0),
            ),
            Criterion(
                "life",
                "life in the usual temperature test",
                "test-life",
                0.05,
                "wear-out of joints decides where temperatures swing; elsewhere all last, and the value is the same",
                "0 at 300 cycles of 0/100 °C to the first of a hundred, 1 at 10 000, by their logarithm",
                between_logs(300.0, 10_000.0),
            ),
            Criterion(
                "hold",
                "push that shears it off",
                "push",
                0.03,
                "what is knocked off in handling costs a board; most never are",
                "0 at the 5 N of the push test, 1 at 50 N, by their logarithm",
                between_logs(5.0, 50.0),
            ),
        )
    }
)


def weights_with(own: Mapping[str, float]) -> dict[str, float]:
    """The default weights with a user's own put in, scaled to a sum of one.

    Raises
    ------
    UnknownNameError
        For a name that is no criterion.
    InputError
        For a negative weight, or if all are zero.

    Examples
    --------
    >>> weights = weights_with({"cost": 0, "area": 1})
    >>> round(sum(weights.values()), 12), weights["cost"]
    (1.0, 0.0)
    """
    weights = {name: criterion.weight for name, criterion in CRITERIA.items()}
    for name, weight in own.items():
        if name not in weights:
            raise UnknownNameError("no such criterion", place="want, weights", found=name, expected=" | ".join(weights))
        if not (np.isfinite(weight) and weight >= 0):
            raise InputError("a weight can't be negative", place=f"want, weights, {name}", found=f"{weight:g}")
        weights[name] = float(weight)
    total = sum(weights.values())
    if total <= 0:
        raise InputError("all weights are zero", place="want, weights", expected="at least one above zero")
    return {name: weight / total for name, weight in weights.items()}


def values_of(figures: Mapping[str, object]) -> Array:
    """Values of all criteria, in the order of `CRITERIA`: shape (…, options, criteria).

    `figures` maps each criterion's figure key to an array with the options on the last axis.
    """
    columns = [criterion.value(np.asarray(figures[criterion.figure], dtype=float)) for criterion in CRITERIA.values()]
    return np.stack(np.broadcast_arrays(*columns), axis=-1)
