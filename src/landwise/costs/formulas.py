"""Formula-book entries of the costs room."""

from __future__ import annotations

from landwise.costs.yields import average_cost, cumulative_cost, sigma_level, unit_cost, yield_from_dpmo
from landwise.evidence.book import Formula, Input, Output, Outputs


def _yield(dpmo: float, opportunities: float) -> Outputs:
    return {"yield": yield_from_dpmo([dpmo], [opportunities])}


def _sigma(dpmo: float) -> Outputs:
    return {"sigma": sigma_level(dpmo)}


def _learning(first: float, rate: float, number: int, model: str) -> Outputs:
    if model == "average":
        mean = average_cost(first, rate, number)
        return {"average": mean, "total": mean * number}
    return {"unit": unit_cost(first, rate, number), "total": cumulative_cost(first, rate, number)}


BOOK: tuple[Formula, ...] = (
    Formula(
        "yield-from-dpmo",
        "First-pass yield from a defect rate",
        (
            Input("dpmo", "ratio", "defects per million opportunities"),
            Input("opportunities", "ratio", "opportunities on a board"),
        ),
        (Output("yield", "", "share of boards without a defect"),),
        _yield,
        "independent, rare defects; the product form differs by less than 1.2e-5",
        ("dpmo-yield",),
        "Y = exp(−DPMO·n/10⁶)",
    ),
    Formula(
        "sigma-level",
        "Sigma level of a defect rate",
        (Input("dpmo", "ratio", "defects per million opportunities"),),
        (Output("sigma", "", "sigma level, with the usual shift of 1.5"),),
        _sigma,
        "above 0, below 500,000 DPMO",
        ("sigma-fit",),
        "0.8406 + √(29.37 − 2.221·ln DPMO)",
    ),
    Formula(
        "learning-curve",
        "Cost along a learning curve",
        (
            Input("first", "ratio", "cost of the first unit"),
            Input("rate", "ratio", "share that each doubling leaves, such as 80 %"),
            Input("number", "count", "unit number or count"),
            Input(
                "model",
                "choice",
                "cost of each unit, or average of all: the two differ much",
                "unit",
                ("unit", "average"),
            ),
        ),
        (
            Output("unit", "", "cost of the n-th unit"),
            Output("average", "", "average of the first n"),
            Output("total", "", "sum of the first n"),
        ),
        _learning,
        "rates of 0.5 to 1, up to a million units",
        ("learning-unit-table", "wright-1936"),
        "T1·n^(log rate/log 2)",
    ),
)
