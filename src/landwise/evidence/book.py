"""The formula book: every model of landwise as an entry that can be listed, explained and worked alone.

A room adds entries by putting `BOOK`, a tuple of `Formula`, into its `formulas.py`. The book imports a
room only when one of its entries is asked for, so that listing keys stays cheap.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from types import MappingProxyType
from typing import TypeVar

from landwise.errors import InputError, UnknownNameError
from landwise.evidence.sources import source
from landwise.quantities import DIMENSIONS, parse
from landwise.untyped import Fields

T = TypeVar("T")
Outputs = Mapping[str, float | str | None]  # name to value in the unit of its `Output`; a yes or no is a float to types
ROOMS = ("lands", "printing", "joints", "assembly", "service", "access", "costs")


@dataclass(frozen=True)
class Input:
    """One input of a formula.

    `dimension` is a key of `quantities.DIMENSIONS` (the function then gets the value in that dimension's
    unit), or `"choice"` (one of `choices`), or `"count"` (a whole number).
    """

    name: str
    dimension: str
    says: str
    default: str | None = None
    choices: tuple[str, ...] = ()
    optional: bool = False


@dataclass(frozen=True)
class Output:
    """One output: its stable name, its unit, and what it is."""

    name: str
    unit: str
    says: str


@dataclass(frozen=True)
class Formula:
    """One entry of the book.

    `compute` takes the inputs by name (`-` written as `_`), in canonical units, and returns a mapping from
    output name to value. It raises `ValidityError` outside its range instead of extrapolating. An optional
    input that isn't given is passed as None. `sources` names keys of `evidence/sources/`.
    """

    key: str
    title: str
    inputs: tuple[Input, ...]
    outputs: tuple[Output, ...]
    compute: Callable[..., Outputs]
    valid: str
    sources: tuple[str, ...]
    equation: str = ""
    cautions: str = ""


def gathered(values: Callable[..., T], compute: Callable[[T], Outputs]) -> Callable[..., Outputs]:
    """A `compute` for a formula of many inputs, which reach it as one value.

    Parameters
    ----------
    values : class
        A frozen dataclass with a field for each input.
    compute : callable
        Takes that value.

    Examples
    --------
    >>> gathered(complex, lambda point: {"length": abs(point)})(real=3, imag=4)
    {'length': 5.0}
    """
    return lambda **given: compute(values(**given))


@dataclass(frozen=True)
class Answer:
    """A worked formula: the outputs, the inputs as they were read, and what the entry says of itself."""

    formula: Formula
    inputs: Mapping[str, float | str]
    outputs: Outputs

    def as_json(self) -> Fields:
        """The stable JSON shape that scripts rely on."""
        units = {output.name: output.unit for output in self.formula.outputs}
        kinds = {item.name: item.dimension for item in self.formula.inputs}
        return {
            "name": self.formula.key,
            "outputs": {name: {"value": value, "unit": units[name]} for name, value in self.outputs.items()},
            "inputs": {
                name: {
                    "value": value,
                    "unit": DIMENSIONS[kinds[name]].unit if kinds[name] in DIMENSIONS else "",
                }
                for name, value in self.inputs.items()
            },
            "valid": self.formula.valid,
            "sources": [
                {"key": key, "title": source(key).title, "where": source(key).where, "mark": source(key).mark}
                for key in self.formula.sources
            ],
        }


@cache
def all_formulas() -> Mapping[str, Formula]:
    """Every entry by key.

    >>> "area-ratio" in all_formulas()
    True
    """
    entries: dict[str, Formula] = {}
    for room in ROOMS:
        try:
            module = import_module(f"landwise.{room}.formulas")
        except ModuleNotFoundError as absent:
            if absent.name != f"landwise.{room}.formulas":
                raise
            continue
        for entry in module.BOOK:
            if entry.key in entries:
                raise InputError("a formula key is used twice", place=room, found=entry.key)
            entries[entry.key] = entry
    return MappingProxyType(dict(sorted(entries.items())))


def formula(key: str) -> Formula:
    """The entry of that key.

    Raises
    ------
    UnknownNameError
        With the nearest keys, if there is none.
    """
    book = all_formulas()
    if key not in book:
        near = difflib.get_close_matches(key, book, n=3) or sorted(book)
        raise UnknownNameError("no such formula", found=key, expected=", ".join(near))
    return book[key]


def evaluate(key: str, given: Mapping[str, object]) -> Answer:
    """Work one formula from inputs as a user types them.

    Parameters
    ----------
    key : str
        The formula's key.
    given : mapping of str to str or number
        Input name to text with unit (`"80 um"`); bare numbers for ratios and counts.

    Raises
    ------
    UnknownNameError
        Unknown key or input name.
    InputError
        A missing input, a bad unit, a choice that isn't offered, or an input outside the valid range.

    Examples
    --------
    >>> answer = evaluate("area-ratio", {"length": "0.25 mm", "width": "0.20 mm", "foil": "100 um"})
    >>> print(f"{answer.outputs['area_ratio']:.4f}")
    0.5556
    """
    entry = formula(key)
    known = {item.name: item for item in entry.inputs}
    normal = {name.replace("-", "_"): text for name, text in given.items()}
    for name in normal:
        if name not in known:
            raise UnknownNameError("no such input", place=key, found=name, expected=", ".join(known))
    values: dict[str, float | str | None] = {}
    for name, item in known.items():
        text = normal.get(name, item.default)
        if text is None:
            if item.optional:
                values[name] = None
                continue
            raise InputError("an input is missing", place=key, expected=f"{name} ({item.says})", about=name)
        values[name] = _read(item, text, place=f"{key}, {name}")
    outputs = entry.compute(**values)
    return Answer(
        entry,
        MappingProxyType({name: value for name, value in values.items() if value is not None}),
        MappingProxyType(dict(outputs)),
    )


def _read(item: Input, text: object, *, place: str) -> float | int | str:
    if item.dimension == "choice":
        word = str(text).strip().lower().replace("_", "-")
        if word not in item.choices:
            raise InputError("not one of the choices", place=place, found=repr(text), expected=" | ".join(item.choices))
        return word
    if item.dimension == "count":
        try:
            number = float(str(text))
        except ValueError:
            number = float("nan")
        if not number.is_integer():
            raise InputError("not a whole number", place=place, found=repr(text), expected="a count such as 8")
        return int(number)
    return parse(text, item.dimension, place=place)
