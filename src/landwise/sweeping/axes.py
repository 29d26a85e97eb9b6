"""What is varied: one input of a study file and the values that it takes, as a user types them."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from landwise.errors import InputError
from landwise.quantities import DIMENSIONS

EXPECTED = '"line.foil=80 um..150 um/8", "costs.run=100,1000,10000" or "part[U6].power=5 mW..50 mW/4 log"'
MOST_VALUES = 100_000  # of one axis
_STEP = re.compile(r"([A-Za-z_][\w-]*)((?:\[[^\[\]]+\])*)")
_NUMBER = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([^\d\s].*?)?\s*", re.DOTALL)
_RANGE = re.compile(r"(.+?)\.\.(.+?)(?:/(\d+))?(\s+log)?\s*")
# Tables whose values change money and limits only: cases that differ in nothing else share all their geometry.
QUICK = frozenset({"costs", "want", "offer"})


@dataclass(frozen=True)
class Value:
    """One value of an axis.

    Parameters
    ----------
    stated : object
        As a study file would state it; None leaves the input out, so that its default holds.
    number : float or None
        Its size in `unit`; None for words and lists.
    unit : str
        As typed.
    """

    stated: Any  # whatever a study file may hold: its own model checks it
    number: float | None = None
    unit: str = ""

    @property
    def says(self) -> str:
        """As it is shown."""
        if self.stated is None:
            return "default"
        return f"{self.number:g} {self.unit}".rstrip() if self.number is not None else str(self.stated)


@dataclass(frozen=True)
class Span:
    """A range that values can be taken from anywhere in."""

    low: float
    high: float
    unit: str
    log: bool
    whole: bool

    def at(self, share: float) -> Value:
        """The value at a share of the range, 0 to 1.

        >>> Span(80.0, 150.0, "um", False, False).at(0.5).stated, Span(100.0, 10000.0, "", True, True).at(0.5).stated
        ('115 um', 1000)
        """
        if self.log:
            number = math.exp(math.log(self.low) + share * (math.log(self.high) - math.log(self.low)))
            number = (
                float(f"{number:.4g}") if 0 < share < 1 else (self.low, self.high)[share >= 1]
            )  # as one would type it
        else:
            number = self.low + share * (self.high - self.low)
        number = float(f"{number:.12g}")
        if self.whole:
            return Value(round(number), float(round(number)))
        return Value(f"{number:.12g} {self.unit}" if self.unit else number, number, self.unit)


@dataclass(frozen=True)
class Axis:
    """One input that is varied.

    Parameters
    ----------
    path : str
        Table and field, such as `line.foil` or `part[U6].options[TSSOP-16].price`.
    steps : tuple of str or int
        The same, step by step; an item of a list by its number from 1 or by its name.
    values : tuple of Value
        Empty for a range without a count.
    span : Span or None
        Where a range was given.
    """

    path: str
    steps: tuple[str | int, ...]
    values: tuple[Value, ...]
    span: Span | None = None

    @cached_property
    def unit(self) -> str:
        """Of its numbers; empty where it has none, or where they differ."""
        units = {value.unit for value in self.values} or ({self.span.unit} if self.span else set())
        return units.pop() if len(units) == 1 else ""

    @cached_property
    def numeric(self) -> bool:
        """Whether every value is a number in one unit."""
        if not self.values:
            return self.span is not None
        return len({value.unit for value in self.values}) == 1 and all(v.number is not None for v in self.values)

    @cached_property
    def column(self) -> str:
        """Its heading in a table, with the unit."""
        return f"{self.path} [{self.unit}]" if self.numeric and self.unit else self.path

    @property
    def quick(self) -> bool:
        """Whether it leaves geometry and joints as they are."""
        return self.steps[0] in QUICK or self.steps[-1] in ("price", "price_spread", "lead_weeks", "sources")

    def at(self, share: float) -> Value:
        """The value for a share of the axis, 0 to 1: within the range, or one of those listed."""
        if self.span is not None:
            return self.span.at(share)
        return self.values[min(int(share * len(self.values)), len(self.values) - 1)]


def read_axis(text: str) -> Axis:
    """An axis as it is typed: `PATH=RANGE` or `PATH=VALUE,VALUE`.

    A range is `FROM..TO/COUNT`, evenly spaced, or by ratio with ` log` behind it; both ends carry the unit. A list
    holds any values that the input takes, `none` for its default, TOML arrays for inputs that are lists.

    Raises
    ------
    InputError

    Examples
    --------
    >>> [value.stated for value in read_axis("line.foil=80 um..120 um/3").values]
    ['80 um', '100 um', '120 um']
    >>> [value.stated for value in read_axis("costs.run=100..10000/3 log").values]
    [100, 1000, 10000]
    >>> [value.stated for value in read_axis('line.foils=["80 um"],["80 um", "100 um"],none').values]
    [['80 um'], ['80 um', '100 um'], None]
    """
    path, mark, told = text.partition("=")
    path, told = path.strip(), told.strip()
    if not (mark and path and told):
        raise InputError("not an input with its values", place="--vary", found=repr(text), expected=EXPECTED)
    steps = _steps(path, text)
    found = _RANGE.fullmatch(told)
    if found is not None and not told.startswith(("[", "{", '"', "'")):
        span = _span(found[1], found[2], bool(found[4]), text)
        values = _spread(span, int(found[3]), text) if found[3] else ()
        return Axis(path, steps, values, span)
    values = tuple(_value(one, text) for one in _split(told))
    if len(values) > MOST_VALUES:
        raise InputError("too many values", place=path, found=str(len(values)), expected=f"at most {MOST_VALUES}")
    shown = [repr(value.stated) for value in values]
    twice = next((one for one in shown if shown.count(one) > 1), None)
    if twice is not None:
        raise InputError("a value stands twice", place=path, found=twice, expected="each value once")
    return Axis(path, steps, values)


def with_value(data: Mapping[str, object], axis: Axis, value: Value, *, file: str = "study") -> dict[str, object]:
    """A study's plain data with one input set; nothing of the given data is changed.

    Raises
    ------
    InputError
        If the path leads nowhere.

    Examples
    --------
    >>> axis = read_axis("costs.run=5")
    >>> with_value({"costs": {"unit": "EUR"}}, axis, axis.values[0])
    {'costs': {'unit': 'EUR', 'run': 5}}
    """
    made: dict[str, object] = _set(dict(data), axis.steps, value.stated, axis.path, file)
    return made


# a study's own nesting of tables, lists and values, which its model checks
def _set(node: object, steps: Sequence[str | int], stated: object, path: str, file: str) -> Any:
    step, rest = steps[0], steps[1:]
    if isinstance(node, list):
        at = _item(node, step, path, file)
        made = list(node)
        made[at] = _set(node[at], rest, stated, path, file) if rest else stated
        return made
    if isinstance(node, dict):
        if rest:
            inner = node.get(str(step), {})
            return {**node, str(step): _set(inner, rest, stated, path, file)}
        if stated is None:
            return {key: kept for key, kept in node.items() if key != str(step)}
        return {**node, str(step): stated}
    raise InputError(
        "the study has no such input",
        file=file,
        place=path,
        found=repr(node),
        expected=f"a table or a list at {step!r}",
    )


def _item(node: Sequence[object], step: str | int, path: str, file: str) -> int:
    """The place in a list that a step names: its number from 1, a reference, an outline or a name."""
    if isinstance(step, int) and 1 <= step <= len(node):
        return step - 1
    for at, one in enumerate(node):
        if isinstance(one, dict) and (
            str(step) in one.get("refs", ())
            or str(step) in (one.get("outline"), one.get("name"), one.get("order_code"))
        ):
            return at
    names = [
        str((one.get("refs") or [one.get("outline") or one.get("name")])[0]) for one in node if isinstance(one, dict)
    ]
    raise InputError(
        "the study has no such item",
        file=file,
        place=path,
        found=str(step),
        expected=f"a number from 1 to {len(node)}" + (f", or one of {', '.join(names[:8])}" if any(names) else ""),
    )


def _steps(path: str, text: str) -> tuple[str | int, ...]:
    found: list[str | int] = []
    at = 0
    while at < len(path):
        step = _STEP.match(path, at)
        if step is None:
            break
        found.append(step[1])
        for one in re.findall(r"\[([^\[\]]+)\]", step[2]):
            found.append(int(one) if one.strip().isdigit() else one.strip())
        at = step.end()
        if at == len(path):
            if len(found) > 1:
                return tuple(found)
            break
        if path[at] != ".":
            break
        at += 1
    raise InputError("not the path of an input", place="--vary", found=repr(text), expected=EXPECTED)


def _split(told: str) -> list[str]:
    """The texts between commas that stand in no bracket and no quotes."""
    found, depth, quote, start = [], 0, "", 0
    for at, sign in enumerate(told):
        if quote:
            quote = "" if sign == quote else quote
        elif sign in "\"'":
            quote = sign
        elif sign in "[{":
            depth += 1
        elif sign in "]}":
            depth -= 1
        elif sign == "," and depth == 0:
            found.append(told[start:at].strip())
            start = at + 1
    found.append(told[start:].strip())
    return found


def _value(one: str, text: str) -> Value:
    if not one:
        raise InputError("a value is missing", place="--vary", found=repr(text), expected=EXPECTED)
    if one == "none":
        return Value(None)
    if one in ("true", "false") or one[0] in "[{\"'":
        try:
            return Value(tomllib.loads(f"value = {one}")["value"])
        except ValueError as error:  # no TOML, or a number of too many digits
            raise InputError("not a value", place="--vary", found=repr(one), expected=f"TOML ({error})") from None
    number = _NUMBER.fullmatch(one)
    if number is None or not math.isfinite(float(number[1])):
        return Value(one)
    size, unit = float(number[1]), (number[2] or "").strip()
    if unit and not any(unit in kind.factors for kind in DIMENSIONS.values()):
        return Value(one)  # a word that begins with a digit
    if unit:
        return Value(one, size, unit)
    return Value(int(number[1]) if re.fullmatch(r"[+-]?\d+", number[1]) else size, size)


def _span(first: str, last: str, log: bool, text: str) -> Span:
    ends = [_NUMBER.fullmatch(one) for one in (first, last)]
    if ends[0] is None or ends[1] is None:
        raise InputError("not a range", place="--vary", found=repr(text), expected=EXPECTED)
    low, high = float(ends[0][1]), float(ends[1][1])
    units = [(one[2] or "").strip() if one else "" for one in ends]
    if units[0] != units[1]:
        high *= _between(units[1], units[0], text)
    whole = not units[0] and all(one is not None and re.fullmatch(r"[+-]?\d+", one[1]) for one in ends)
    if not (math.isfinite(low) and math.isfinite(high)) or low == high or (log and min(low, high) <= 0):
        expected = "two different ends" + (" above zero" if log else "")
        raise InputError("not a range", place="--vary", found=repr(text), expected=expected)
    return Span(low, float(f"{high:.12g}"), units[0], log, whole)


def _between(unit: str, wanted: str, text: str) -> float:
    """What a number in one unit is multiplied by to be in another."""
    for kind in DIMENSIONS.values():
        if unit in kind.factors and wanted in kind.factors and not (unit in kind.offsets or wanted in kind.offsets):
            return kind.factors[unit] / kind.factors[wanted]
    raise InputError(
        "both ends of a range need one unit", place="--vary", found=repr(text), expected="such as 80 um..150 um/8"
    )


def _spread(span: Span, count: int, text: str) -> tuple[Value, ...]:
    if not 2 <= count <= MOST_VALUES:
        raise InputError("not a count of values", place="--vary", found=repr(text), expected=f"2 to {MOST_VALUES}")
    values = [span.at(float(share)) for share in np.linspace(0.0, 1.0, count)]
    return tuple({repr(value.stated): value for value in values}.values())  # whole numbers may meet
