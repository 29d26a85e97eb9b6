"""Trails: the steps that give a number, each a named pure function of values whose origin is known.

A step is not a description beside a number. It holds the function and what went in, so that anybody can work it
again (`replay`), and what went in says where it comes from: the study, a default with its reason, a drawing, a rule
with its source, a simulation, or an earlier step.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import Any, ClassVar

# whatever a formula takes or gives: a number, an array, a word, a value of its room
NOTHING: Mapping[str, Any] = MappingProxyType({})


class Origin(StrEnum):
    """Where an input comes from."""

    STATED = "stated"  # by the user, in the study
    DEFAULT = "default"  # of the study or of the line's preset, with its reason
    CHOSEN = "chosen"  # a shared decision of the whole board
    DRAWING = "drawing"  # a package's drawing, with its source
    RULE = "rule"  # a constant or a rule, with its source
    SIMULATION = "simulation"  # seed or size of what is drawn at random
    STEP = "step"  # what an earlier step gave


@dataclass(frozen=True, kw_only=True)
class Given:
    """One input of a step.

    Parameters
    ----------
    value : object
        As the step's function takes it: a number in `unit`, a word, or an object such as an outline.
    origin : Origin
    place : str
        Field of the study or preset, name of the drawing, of the rule.
    reason : str
        Of a default or a rule.
    sources : tuple of str
        Keys of `evidence/sources/`.
    step : Step or None
        The earlier step, for `Origin.STEP`.
    """

    # whatever a formula takes or gives: a number, an array, a word, a value of its room
    value: Any
    origin: Origin
    place: str = ""
    unit: str = ""
    reason: str = ""
    sources: tuple[str, ...] = ()
    step: Step | None = None

    def told_apart(self) -> Hashable:
        """What tells it from other inputs: a step and a large value by their identity, all else by what it says."""
        value = self.value
        plain = value is None or isinstance(value, (str, float, int, tuple, list))
        said = (type(value), repr(value)) if plain else id(value)
        return said, self.origin, self.place, self.unit, self.reason, self.sources, id(self.step)

    @property
    def shown(self) -> float | str | None:
        """The value as a file can hold it: a number, a word, or the name of a larger object."""
        value = self.value
        if value is None or isinstance(value, (str, float, int)):
            return value
        if isinstance(value, (tuple, list)) and all(isinstance(one, (str, float, int)) for one in value):
            return ", ".join(f"{one:g}" if isinstance(one, float) else str(one) for one in value)
        name = getattr(value, "name", None)
        return name if isinstance(name, str) else None


@dataclass(frozen=True, kw_only=True)
class Step:
    """One link of a trail: what was worked or looked up, from what, what came out, and who says so.

    Parameters
    ----------
    says : str
        The step in words.
    inputs : mapping of str to str
        What is worth reading beside it, in words.
    value, low, high : float or None
        What came out, in `unit`, and its 90 % interval.
    formula : str or None
        Key in the formula book, if it is an entry there.
    by : callable or None
        The function that gives the result; a named function of a module. None where the step only remarks.
    given : mapping of str to Given
        Its inputs by name.
    result : object
        What the function returned, whole.
    key : str
        Of a step that many figures share, such as the print of a part.
    """

    read_later: ClassVar[bool] = True  # of a kept board most are never looked at (`landwise.graphs`)

    says: str
    inputs: Mapping[str, str] = field(default_factory=lambda: NOTHING)
    value: float | None = None
    low: float | None = None
    high: float | None = None
    unit: str = ""
    formula: str | None = None
    valid: str = ""
    sources: tuple[str, ...] = ()
    # whatever a formula takes or gives: a number, an array, a word, a value of its room
    by: Callable[..., Any] | None = None
    given: Mapping[str, Given] = field(default_factory=lambda: NOTHING)
    # whatever a formula takes or gives: a number, an array, a word, a value of its room
    result: Any = field(default=None, repr=False)
    key: str = ""

    def __post_init__(self) -> None:
        if self.by is not None and not named(self.by):
            raise TypeError(f"a step is worked by a named function of a module, not by {self.by!r}")

    @property
    def name_of_function(self) -> str:
        """Module and name of the function, empty for a remark."""
        return "" if self.by is None else f"{self.by.__module__}.{self.by.__qualname__}"


# whatever a formula takes or gives: a number, an array, a word, a value of its room
def named(function: Callable[..., Any]) -> bool:
    """Whether a function can be found again by its module and name."""
    name = getattr(function, "__qualname__", "<")
    return "<" not in name


# What only stands beside a step; the number itself never does.
_WORDS = frozenset({"inputs", "unit", "formula", "valid", "sources", "key"})
_UNWORKED = object()


# whatever a formula takes or gives, as above
def worked(
    says: str, by: Callable[..., Any], given: Mapping[str, Given], *, result: Any = _UNWORKED, **words: Any
) -> Step:
    """A step by construction: its value is what the function gives for what is given.

    Parameters
    ----------
    says : str
    by : callable
        A named function; it returns a number, (low, value, high), or an object. An object with `value`, `low` and
        `high` gives those; any other gives no number itself and serves later steps.
    given : mapping of str to Given
    result : object, optional
        What the function gave for just these inputs, by a caller that has worked it already. A replay shows it.
    **words
        `inputs`, `unit`, `formula`, `valid`, `sources`, `key` of the step.

    Raises
    ------
    TypeError
        For a function without a name, or another keyword.

    Examples
    --------
    >>> pitch = drawn(1.27, "SO-14", ("landwise-rule",), "mm")
    >>> step = worked("pitch as it is drawn", as_given, {"value": pitch}, unit="mm")
    >>> step.value, replay(step)
    (1.27, 1.27)
    """
    if not words.keys() <= _WORDS:
        raise TypeError(f"no word of a step: {', '.join(sorted(words.keys() - _WORDS))}")
    if result is _UNWORKED:
        result = by(**{name: one.value for name, one in given.items()})
    low, value, high = numbers(result)
    return Step(
        says=says,
        by=by,
        given=MappingProxyType(dict(given)),
        result=result,
        value=value,
        low=low,
        high=high,
        **words,
    )


def numbers(result: object) -> tuple[float | None, float | None, float | None]:
    """Low end, value and high end of what a step's function returned; None for what is no number."""
    if isinstance(result, (int, float)):
        return float(result), float(result), float(result)
    if isinstance(result, tuple) and len(result) == 3 and all(isinstance(one, (int, float)) for one in result):
        return float(result[0]), float(result[1]), float(result[2])
    low, value, high = (getattr(result, name, None) for name in ("low", "value", "high"))
    if isinstance(low, (int, float)) and isinstance(value, (int, float)) and isinstance(high, (int, float)):
        return low, value, high
    return None, None, None


# whatever a formula takes or gives: a number, an array, a word, a value of its room
def replay(step: Step, known: dict[int, Any] | None = None) -> Any:
    """Work a step again from the ends of its trail, every earlier step before it.

    Raises
    ------
    TypeError
        For a remark, which gives nothing.
    """
    if step.by is None:
        raise TypeError("a remark gives no value")
    known = {} if known is None else known
    if id(step) not in known:
        given = {name: one.value if one.step is None else replay(one.step, known) for name, one in step.given.items()}
        known[id(step)] = step.by(**given)
    return known[id(step)]


def behind(steps: Iterable[Step], known: Container[int] = ()) -> Iterator[Step]:
    """Every step that these follow from and that is not among them, each once, nearest first.

    `known` holds identities of steps that are not gone into.
    """
    open_ = list(steps)
    seen = {id(step) for step in open_}
    while open_:
        for one in open_.pop(0).given.values():
            if one.step is not None and id(one.step) not in seen and id(one.step) not in known:
                seen.add(id(one.step))
                open_.append(one.step)
                yield one.step


def ends(steps: Iterable[Step]) -> Iterator[Given]:
    """What the trail ends at: everything given that no step gave."""
    steps = tuple(steps)
    for step in (*steps, *behind(steps)):
        yield from (one for one in step.given.values() if one.step is None)


def stated(value: object, place: str, unit: str = "") -> Given:
    """What the user states in the study."""
    return Given(value=value, origin=Origin.STATED, place=place, unit=unit, sources=("study",))


def by_default(value: object, place: str, reason: str, source: str, unit: str = "") -> Given:
    """What is taken where the study states nothing."""
    return Given(
        value=value,
        origin=Origin.DEFAULT,
        place=place,
        reason=reason,
        unit=unit,
        sources=(source,) if source else (),
    )


def chosen(value: object, place: str, unit: str = "") -> Given:
    """What the whole board decided."""
    return Given(value=value, origin=Origin.CHOSEN, place=place, unit=unit, sources=("study",))


def drawn(value: object, place: str, sources: tuple[str, ...], unit: str = "") -> Given:
    """What a package's drawing says."""
    return Given(value=value, origin=Origin.DRAWING, place=place, unit=unit, sources=sources)


def rule(value: object, place: str, sources: tuple[str, ...], unit: str = "", reason: str = "") -> Given:
    """A constant, or a rule with its source."""
    return Given(value=value, origin=Origin.RULE, place=place, unit=unit, sources=sources, reason=reason)


def simulated(value: object, place: str) -> Given:
    """A seed, or how many are drawn."""
    return Given(value=value, origin=Origin.SIMULATION, place=place)


def earlier(step: Step) -> Given:
    """What an earlier step gave, whole."""
    return Given(value=step.result, origin=Origin.STEP, place=step.key, unit=step.unit, step=step)


def as_given(value: float | tuple[float, float, float]) -> float | tuple[float, float, float]:
    """The number as it was given: a drawing's dimension, a stated price."""
    return value


def taken(says: str, given: Given, **words: object) -> Step:
    """A step that takes a number over as it is given.

    >>> taken("pitch", drawn(0.5, "SO-14", ("landwise-rule",), "mm")).unit
    'mm'
    """
    return worked(says, as_given, {"value": given}, **{"unit": given.unit, "sources": given.sources, **words})
