"""A Figure: one judged number with its interval, its limit, its verdict, and the trail behind it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from landwise.evidence.trails import Step as Step
from landwise.quantities import show

Verdict = Literal["holds", "marginal", "fails", "not known"]
Better = Literal["less", "more", "neither"]
VERDICTS: tuple[Verdict, ...] = ("holds", "marginal", "fails", "not known")


@dataclass(frozen=True, kw_only=True)
class Figure:
    """One judged number. Everything shown to a user is a Figure or is drawn from one.

    A figure with a value can't be built without the step that gives it; `figure` takes it from that step.

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
    measured : bool
        Whether something measured stands behind its level: without, its interval may show a limit held, never broken.
    trail : tuple of Step
        The chain of formulas and sources, in order.

    Raises
    ------
    TypeError
        For a value that no step of the trail gives.
    """

    key: str
    title: str
    value: float | None = None
    unit: str = ""
    low: float | None = None
    high: float | None = None
    better: Better = "neither"
    limit: float | None = None
    limit_source: str = ""
    verdict: Verdict = "not known"
    why: str = ""
    measured: bool = True
    trail: tuple[Step, ...] = ()

    def __post_init__(self) -> None:
        if self.value is not None and self.gives is None:
            raise TypeError(f"figure {self.key!r}: no step of its trail gives {self.text()}")

    @property
    def gives(self) -> Step | None:
        """The step that gives the value with its interval."""
        ends = (self.low, self.high)
        for step in reversed(self.trail):
            same = step.by is not None and step.value == self.value and step.unit == self.unit
            if same and ((step.low, step.high) == ends or ends == (None, None)):
                return step
        return None

    @property
    def margin(self) -> float | None:
        """How far the value is on the good side of its limit, in the figure's unit."""
        if self.value is None or self.limit is None or self.better == "neither":
            return None
        return self.value - self.limit if self.better == "more" else self.limit - self.value

    @cached_property
    def sources(self) -> tuple[str, ...]:
        """Keys of all sources of the trail, in order of first use; they stay with a kept board."""
        return tuple(dict.fromkeys(key for step in self.trail for key in step.sources))

    def text(self, digits: int = 3) -> str:
        """The value with unit and interval, as it is printed: `12 (9…17) mm`."""
        return text_of(self.value, self.unit, self.low, self.high, digits)


def text_of(value: float | None, unit: str, low: float | None, high: float | None, digits: int = 3) -> str:
    """A value with unit and interval, as it is printed.

    >>> text_of(12.0, "mm", 9.0, 17.0) == "12 (9…17)\\u2009mm"
    True
    """
    if value is None:
        return "not known"
    if low is None or high is None or low == high:
        return show(value, unit, digits)
    bounds = f"({show(low, '', digits)}…{show(high, '', digits)})"
    return f"{show(value, '', digits)} {bounds}{show(1.0, unit)[1:]}"


def figure(
    gives: Step,
    *,
    key: str,
    title: str,
    trail: Sequence[Step] | None = None,
    better: Better = "neither",
    limit: float | None = None,
    limit_source: str = "",
    verdict: Verdict = "not known",
    why: str = "",
    interval: bool = True,
    measured: bool = True,
) -> Figure:
    """A figure from the step that gives its value, unit and interval.

    Parameters
    ----------
    gives : Step
    trail : sequence of Step, optional
        In reading order, `gives` among them; that step alone where left out.
    interval : bool
        False where the ends of its interval are not known.
    measured : bool
        As of the figure.

    Examples
    --------
    >>> from landwise.evidence.trails import drawn, taken
    >>> pitch = taken("pitch", drawn(1.27, "SO-14", ("landwise-rule",), "mm"))
    >>> figure(pitch, key="pitch", title="pitch", better="more").value
    1.27
    """
    return Figure(
        key=key,
        title=title,
        value=gives.value,
        unit=gives.unit,
        low=gives.low if interval else None,
        high=gives.high if interval else None,
        better=better,
        limit=limit,
        limit_source=limit_source,
        verdict=verdict,
        why=why,
        measured=measured,
        trail=(gives,) if trail is None else tuple(trail),
    )


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
