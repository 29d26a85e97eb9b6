"""A Figure: one judged number with its interval, its limit, its verdict, and the trail behind it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Literal

from landwise.quantities import show

Verdict = Literal["holds", "marginal", "fails", "not known"]
Better = Literal["less", "more", "neither"]
VERDICTS: tuple[Verdict, ...] = ("holds", "marginal", "fails", "not known")


@dataclass(frozen=True)
class Step:
    """One link of a trail: a formula or rule, what went in, what came out, and who says so."""

    says: str
    inputs: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    value: float | None = None
    unit: str = ""
    formula: str | None = None
    valid: str = ""
    sources: tuple[str, ...] = ()


@dataclass(frozen=True)
class Figure:
    """One judged number. Everything shown to a user is a Figure or is drawn from one.

    Parameters
    ----------
    key : str
        Stable name, e.g. `area-ratio`.
    title : str
        What a reader sees.
    value : float or None
        In `unit`; None when it can't be known from the inputs.
    unit : str
        Canonical unit, empty for a ratio.
    low, high : float or None
        90 % interval. Equal to the value when the number is exact, None when unknown.
    better : {"less", "more", "neither"}
        The direction in which the number improves.
    limit : float or None
        What it is held to, in `unit`.
    verdict : {"holds", "marginal", "fails", "not known"}
    why : str
        One sentence behind the verdict.
    trail : tuple of Step
        The chain of formulas and sources, in order.
    """

    key: str
    title: str
    value: float | None
    unit: str = ""
    low: float | None = None
    high: float | None = None
    better: Better = "neither"
    limit: float | None = None
    limit_source: str = ""
    verdict: Verdict = "not known"
    why: str = ""
    trail: tuple[Step, ...] = ()

    @property
    def margin(self) -> float | None:
        """How far the value is on the good side of its limit, in the figure's unit."""
        if self.value is None or self.limit is None or self.better == "neither":
            return None
        return self.value - self.limit if self.better == "more" else self.limit - self.value

    @property
    def sources(self) -> tuple[str, ...]:
        """Keys of all sources of the trail, in order of first use."""
        return tuple(dict.fromkeys(key for step in self.trail for key in step.sources))

    def text(self, digits: int = 3) -> str:
        """The value with unit and interval, as it is printed: `12 (9…17) mm`.

        >>> Figure("x", "x", 12.0, "mm", low=9.0, high=17.0).text() == "12 (9…17)\\u2009mm"
        True
        """
        if self.value is None:
            return "not known"
        if self.low is None or self.high is None or self.low == self.high:
            return show(self.value, self.unit, digits)
        bounds = f"({show(self.low, '', digits)}…{show(self.high, '', digits)})"
        unit = show(1.0, self.unit)[1:]
        return f"{show(self.value, '', digits)} {bounds}{unit}"

    def as_json(self) -> dict[str, Any]:
        """Plain data for `result.json`."""
        return {
            "key": self.key,
            "title": self.title,
            "value": self.value,
            "unit": self.unit,
            "low": self.low,
            "high": self.high,
            "better": self.better,
            "limit": self.limit,
            "limit_source": self.limit_source,
            "margin": self.margin,
            "verdict": self.verdict,
            "why": self.why,
            "trail": [
                {
                    "says": step.says,
                    "inputs": dict(step.inputs),
                    "value": step.value,
                    "unit": step.unit,
                    "formula": step.formula,
                    "valid": step.valid,
                    "sources": list(step.sources),
                }
                for step in self.trail
            ],
        }


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """The verdict of a whole from the verdicts of its parts.

    A failure decides; then what is not known; then what is marginal.

    >>> worst(["holds", "marginal", "holds"])
    'marginal'
    >>> worst([])
    'not known'
    """
    found = set(verdicts)
    order: tuple[Verdict, ...] = ("fails", "not known", "marginal", "holds")
    for verdict in order:
        if verdict in found:
            return verdict
    return "not known"
