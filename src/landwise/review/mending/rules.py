"""Rules for corrected openings: data, ours shipped as defaults, a user's on top of them."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from fnmatch import fnmatchcase
from functools import cache, cached_property
from importlib import resources
from pathlib import Path
from typing import Any, Literal

from landwise.errors import FileError, InputError
from landwise.review.model import COMPONENT_KINDS, Component
from landwise.untyped import Fields, Table

ChipShape = Literal["as drawn", "home plate", "cut-back"]
# Shares of 20, 60 and 20 made the fewest balls beside chips (home-plate-study).
CHIP_SHAPES: tuple[ChipShape, ...] = ("as drawn", "home plate", "cut-back")
CONDITIONS = ("packages", "kinds", "parts", "pitch_mm")
LONGEST_FILE = 200_000


@dataclass(frozen=True)
class Drawn:
    """How a part's openings may be redrawn. Reasons stand in `print_rules.toml`. Lengths in mm, shares bare."""

    centre_least: float
    centre_most: float
    centre_target: float
    pane_from_mm: float
    pane_bar_mm: float
    pane_most_mm: float
    grow_beyond_mm: float
    grow_share_most: float
    narrow_share_most: float
    corner_mm: float
    round_ends_from: float
    step_mm: float
    uniform: bool
    leave: bool
    chip_shape: ChipShape
    chip_share: float
    told: tuple[str, ...] = ()  # what a user's rule sets, by name


@dataclass(frozen=True)
class Rule:
    """Values for the parts that meet all conditions; `own` for a user's."""

    conditions: Table
    values: Table
    own: bool = False

    def meets(self, part: Component, package: str) -> bool:
        """Whether it holds for a part of a package."""
        where = self.conditions
        if not where:
            return True
        texts = [package.upper(), part.package.upper()]
        if "packages" in where and not any(fnmatchcase(t, g.upper()) for g in where["packages"] for t in texts if t):
            return False
        if "kinds" in where and part.kind not in where["kinds"]:
            return False
        if "parts" in where and not any(fnmatchcase(part.name, glob) for glob in where["parts"]):
            return False
        if "pitch_mm" in where:
            low, high = where["pitch_mm"]
            return part.pitch_mm is not None and low <= part.pitch_mm <= high
        return True


@dataclass(frozen=True)
class Rules:
    """All rules in order."""

    rules: tuple[Rule, ...]

    @cached_property
    def _worked(self) -> dict[tuple[int, ...], Drawn]:
        """What holds where some rules meet, by their numbers: of thousands of parts most meet the same few."""
        return {}

    def of(self, part: Component, package: str) -> Drawn:
        """What holds for a part."""
        met = tuple(number for number, rule in enumerate(self.rules) if rule.meets(part, package))
        if met not in self._worked:
            values: Fields = {}
            told: list[str] = []
            for rule in (self.rules[number] for number in met):
                values.update(rule.values)
                told += [name for name in rule.values if rule.own]
            self._worked[met] = Drawn(**values, told=tuple(dict.fromkeys(told)))
        return self._worked[met]

    def plain(self) -> Drawn:
        """What holds for an opening without a part: the rules without conditions."""
        values: Fields = {}
        for rule in self.rules:
            if not rule.conditions:
                values.update(rule.values)
        return Drawn(**values)


_BOUNDS: Mapping[str, tuple[float, float]] = {
    "centre_least": (0.0, 1.0),
    "centre_most": (0.1, 1.0),
    "centre_target": (0.2, 1.0),
    "pane_from_mm": (0.1, 50.0),
    "pane_bar_mm": (0.05, 5.0),
    "pane_most_mm": (0.2, 50.0),
    "grow_beyond_mm": (0.0, 0.5),
    "grow_share_most": (0.0, 3.0),
    "narrow_share_most": (0.0, 0.8),
    "corner_mm": (0.0, 1.0),
    "round_ends_from": (1.0, 100.0),
    "step_mm": (0.0001, 0.1),
    "chip_share": (0.0, 0.6),
}


@cache
def shipped() -> Rules:
    """Ours.

    >>> shipped().rules[0].values["centre_target"]
    0.65
    """
    text = resources.files("landwise.review.mending").joinpath("print_rules.toml").read_text(encoding="utf-8")
    return _parsed(text, "print_rules.toml", own=False)


def with_rules(path: Path | None) -> Rules:
    """Ours, and a user's file on top.

    Raises
    ------
    FileError, InputError
        For a file that can't be read, an unknown name or a value out of reach, with rule and name.
    """
    if path is None:
        return shipped()
    try:
        data = path.read_bytes()
    except OSError as error:
        raise FileError("can't read the rules", file=str(path), found=error.strerror or str(error)) from None
    if len(data) > LONGEST_FILE:
        raise FileError("the file of rules is too long", file=path.name, expected=f"at most {LONGEST_FILE} bytes")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise FileError("not a text in UTF-8", file=path.name, expected="a TOML file with [[rule]] tables") from None
    return replace(shipped(), rules=shipped().rules + _parsed(text, path.name, own=True).rules)


def rules_of(data: bytes, file: str) -> Rules:
    """The rules of a file's bytes alone.

    Raises
    ------
    FileError, InputError
        As `with_rules`.
    """
    try:
        return _parsed(data.decode("utf-8-sig"), file, own=True)
    except UnicodeDecodeError:
        raise FileError("not a text in UTF-8", file=file, expected="a TOML file with [[rule]] tables") from None


def _parsed(text: str, file: str, *, own: bool) -> Rules:
    try:
        data = tomllib.loads(text)
    except ValueError as error:  # no TOML, or a number of too many digits
        raise FileError("the rules can't be understood", file=file, found=str(error)) from None
    rows = data.get("rule")
    if set(data) - {"rule"} or not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise InputError(
            "not a file of rules", file=file, found=", ".join(data) or "nothing", expected="[[rule]] tables"
        )
    return Rules(tuple(_rule(row, file, number, own) for number, row in enumerate(rows, 1)))


def _rule(row: Mapping[str, object], file: str, number: int, own: bool) -> Rule:
    place = f"rule {number}"
    known = {one.name for one in fields(Drawn)} - {"told"}
    conditions: dict[str, object] = {}
    values: dict[str, object] = {}
    for name, value in row.items():
        if name in CONDITIONS:
            conditions[name] = _condition(name, value, file, place)
        elif name in known:
            values[name] = _value(name, value, file, place)
        else:
            expected = ", ".join((*CONDITIONS, *sorted(known)))
            raise InputError("unknown name in a rule", file=file, place=place, found=name, expected=expected)
    return Rule(conditions, values, own)


# a value of TOML, of a type that its name asks for
def _condition(name: str, value: Any, file: str, place: str) -> Sequence[Any]:
    texts = isinstance(value, list) and all(isinstance(one, str) for one in value)
    numbers = isinstance(value, list) and len(value) == 2 and all(isinstance(one, (int, float)) for one in value)
    if not (numbers if name == "pitch_mm" else texts):
        expected = "two numbers: from, to" if name == "pitch_mm" else "a list of texts"
        raise InputError("a condition can't be understood", file=file, place=f"{place}, {name}", expected=expected)
    if name == "kinds" and (odd := set(value) - set(COMPONENT_KINDS)):
        raise InputError(
            "no such kind",
            file=file,
            place=f"{place}, kinds",
            found=", ".join(odd),
            expected=" | ".join(COMPONENT_KINDS),
        )
    return list(value)


# a value of TOML, of a type that its name asks for
def _value(name: str, value: object, file: str, place: str) -> Any:
    where = f"{place}, {name}"
    if name in ("uniform", "leave"):
        if not isinstance(value, bool):
            raise InputError("yes or no is asked", file=file, place=where, found=str(value), expected="true | false")
        return value
    if name == "chip_shape":
        if value not in CHIP_SHAPES:
            raise InputError(
                "no such shape", file=file, place=where, found=str(value)[:40], expected=" | ".join(CHIP_SHAPES)
            )
        return value
    low, high = _BOUNDS[name]
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not low <= value <= high:
        raise InputError(
            "a value is out of reach", file=file, place=where, found=str(value)[:40], expected=f"{low:g} to {high:g}"
        )
    return float(value)
