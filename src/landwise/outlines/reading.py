"""Outlines from TOML text: every fault of every outline is found, each with its file, place and what would do."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields
from types import MappingProxyType
from typing import Any

from landwise.errors import InputError, LandwiseError
from landwise.evidence.sources import MARKS, all_sources
from landwise.outlines.checks import problems
from landwise.outlines.marks import LIMITS, mark_of
from landwise.outlines.model import FAMILIES, LEAD_METALS, SIDES, Outline, PublishedLand, Range
from landwise.quantities import parse
from landwise.untyped import Fields

_RANGES = frozenset(f.name for f in fields(Outline) if "Range" in str(f.type) and "Mapping" not in str(f.type))
_NUMBERS = frozenset(
    {"pitch_mm", "pitch_across_mm", "end_pitch_mm", "pull_back_mm", "coplanarity_mm", "warpage_mm", "weight_mg"}
)
_COUNTS = frozenset({"terminals", "columns", "rows"})
_LISTS = frozenset({"sources", "also", "absent"})
_KNOWN = frozenset(f.name for f in fields(Outline))
_REQUIRED = tuple(f.name for f in fields(Outline) if f.default is MISSING and f.default_factory is MISSING)
ONE_SLIP = 0.85  # likeness of a field's name with one letter lost or changed
_CHOICES = {"family": FAMILIES, "mark": MARKS, "lead_metal": LEAD_METALS}


def read_outlines(text: str, *, file: str) -> tuple[Outline, ...]:
    """Outlines from the text of a TOML file with `[[outline]]` tables.

    Parameters
    ----------
    text : str
        The file's content.
    file : str
        Its name, for messages.

    Raises
    ------
    InputError
        The first of the faults that `examine_outlines` finds.
    """
    found, faults = examine_outlines(text, file=file)
    for fault in faults:
        raise fault
    return found


def examine_outlines(text: str, *, file: str) -> tuple[tuple[Outline, ...], tuple[LandwiseError, ...]]:
    """The sound outlines of a TOML text, and every fault of the others.

    Returns
    -------
    (outlines, faults)
        Faults in the order of the file, each naming file, outline, field, what was found and what would do:
        not TOML, unknown or missing fields, wrong types, limits out of order, outlines that can't exist (see
        `outlines.checks`), names used twice.
    """
    try:
        data = tomllib.loads(text)
    except ValueError as error:  # no TOML, or a number of too many digits
        return (), (InputError("not a TOML file", file=file, found=str(error), expected="[[outline]] tables"),)
    rows = data.get("outline")
    if not isinstance(rows, list) or not rows or set(data) - {"outline"}:
        found = ", ".join(data) or "an empty file"
        fault = InputError("no outlines", file=file, found=found, expected="one or more [[outline]] tables")
        return (), (fault,)
    outlines: list[Outline] = []
    faults: list[LandwiseError] = []
    for number, row in enumerate(rows, start=1):
        outline, found_here = examine_row(row, number)
        faults += [fault.within(file=file) for fault in found_here]
        if outline is None or found_here:
            continue
        if outline.name in {other.name for other in outlines}:
            faults.append(InputError("an outline is described twice", file=file, place=f"outline {outline.name}"))
        outlines.append(outline)
    return tuple(outlines), tuple(faults)


def outline_from(row: Mapping[str, object], number: int = 1) -> Outline:
    """One outline from its table, checked.

    Raises
    ------
    InputError
        The first fault.
    """
    outline, faults = examine_row(row, number)
    for fault in faults:
        raise fault
    assert outline is not None
    return outline


def examine_row(row: object, number: int = 1) -> tuple[Outline | None, tuple[LandwiseError, ...]]:
    """One outline from its table, and all its faults; None where it could not be built, faulty fields mended."""
    if not isinstance(row, Mapping):
        return None, (InputError("not a table", place=f"outline number {number}", found=repr(row)),)
    name = row.get("name")
    place = f"outline {name}" if isinstance(name, str) and name else f"outline number {number}"
    faults: list[LandwiseError] = []
    values: Fields = {}
    for key, value in row.items():
        if key not in _KNOWN:
            near = " or ".join(difflib.get_close_matches(key, _KNOWN, n=2)) or "a field of Outline"
            faults.append(InputError("unknown field", place=place, found=key, expected=near))
            slips = difflib.get_close_matches(key, _KNOWN - row.keys(), n=1, cutoff=ONE_SLIP)
            key = slips[0] if slips else ""  # one letter off: read on with it
        if not key:
            continue
        try:
            values[key] = _read(key, value, f"{place}, {key}")
        except LandwiseError as error:
            faults.append(error)
            values |= _meant(key, value)
    own = ("mark", "sources") if "read" in row else ()
    faults += [
        InputError("a field is missing", place=place, expected=key)
        for key in _REQUIRED
        if key not in row and key not in values and key not in own
    ]
    faults += [
        InputError("stated twice: the readings give it", place=f"{place}, {key}", expected=f"no {key} beside read")
        for key in own
        if key in row
    ]
    if set(_REQUIRED) - values.keys() - set(own):
        return None, tuple(faults)  # an outline without a required field can't be looked at as a whole
    if values.get("read"):
        values["sources"] = tuple(dict.fromkeys(key for keys in values["read"].values() for key in keys))
        values["mark"] = mark_of(values)
    outline = Outline(**values)
    faults += problems(outline)
    return outline, tuple(faults)


def _meant(key: str, value: object) -> dict[str, Range | str]:
    """A faulty field as it was meant, so that what else is wrong with the outline is found in the same run."""
    if key in _RANGES and isinstance(value, list):
        try:
            return {key: _range(sorted(value), "")}
        except (LandwiseError, TypeError):
            return {}
    return {key: _CHOICES[key][-1]} if key in _CHOICES and key != "family" else {}


# a value of TOML and what its reader makes of it: length, range, word, table
def _read(key: str, value: object, place: str) -> Any:
    if key in _RANGES:
        return _range(value, place)
    if key in _NUMBERS:
        return _number(key, value, place)
    for keys, reader in _READERS:
        if key in keys:
            return reader(value, place)
    if not isinstance(value, str):
        raise InputError("not a text", place=place, found=repr(value), expected='"…"')
    if key in _CHOICES and value not in _CHOICES[key]:
        raise InputError(f"unknown {key}", place=place, found=repr(value), expected=" | ".join(_CHOICES[key]))
    return value


def _number(key: str, value: object, place: str) -> float:
    if key == "weight_mg" and isinstance(value, str):
        return parse(value, "mass", place=place)
    return _millimetres(value, place)


def _count(value: object, place: str) -> int:
    if not isinstance(value, int) or isinstance(value, bool):
        raise InputError("not a whole number", place=place, found=repr(value), expected="a count such as 14")
    return value


def _texts(value: object, place: str) -> tuple[str, ...]:
    if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
        raise InputError("not a list of texts", place=place, found=repr(value), expected='["…", "…"]')
    return tuple(value)


def _truth(value: object, place: str) -> bool:
    if not isinstance(value, bool):
        raise InputError("not true or false", place=place, found=repr(value))
    return value


def _millimetres(value: object, place: str) -> float:
    """A number in mm by the field's name, or a text with its unit."""
    if isinstance(value, str):
        return parse(value, "length", place=place)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise InputError("not a length", place=place, found=repr(value), expected='a number in mm, or "20 mil"')
    return float(value)


def _range(value: object, place: str) -> Range:
    parts = value if isinstance(value, list) else [value]
    if not 1 <= len(parts) <= 3:
        raise InputError(
            "not a dimension",
            place=place,
            found=repr(value),
            expected="[min, nom, max], [min, max] or one value",
        )
    numbers = [_millimetres(part, place) for part in parts]
    try:
        if len(numbers) == 1:
            return Range.exact(numbers[0])
        return Range.between(*numbers) if len(numbers) == 2 else Range(*numbers)
    except InputError as error:
        raise error.within(place=place) from None


# a value of TOML and what its reader makes of it: length, range, word, table
def _sides(value: Any, place: str) -> Mapping[str, str]:
    good = isinstance(value, dict) and all(
        side in SIDES and isinstance(places, str) and re.fullmatch("[01]+", places) for side, places in value.items()
    )
    if not good or not value:
        raise InputError(
            "not an occupancy",
            place=place,
            found=repr(value),
            expected='{ left = "111", right = "101" }, 1 where a terminal is',
        )
    return MappingProxyType({side: value[side] for side in SIDES if side in value})


def _readings(value: object, place: str) -> Mapping[str, tuple[str, ...]]:
    """Source to the dimensions read in it, turned round: dimension (or `dimension:limit`) to sources."""
    if not isinstance(value, dict):
        raise InputError("not a table", place=place, found=repr(value), expected="source = [dimensions]")
    found: dict[str, tuple[str, ...]] = {}
    for key, dimensions in value.items():
        if key not in all_sources():
            raise InputError("no such source", place=place, found=key, expected="a key of evidence/sources/*.toml")
        for dimension in _texts(dimensions, f"{place}, {key}"):
            name, _, limit = dimension.partition(":")
            if name not in _RANGES | _NUMBERS | {"absent"} or (limit and limit not in LIMITS):
                raise InputError("no such dimension", place=f"{place}, {key}", found=dimension, expected="span_mm, …")
            found[dimension] = (*found.get(dimension, ()), key)
    return MappingProxyType(found)


def _drawn(value: object, place: str) -> Mapping[str, Mapping[str, Range]]:
    """Dimension to each source's own limits."""
    if not isinstance(value, dict):
        raise InputError("not a table", place=place, found=repr(value), expected="dimension.source = [min, nom, max]")
    found = {}
    for name, by_source in value.items():
        if name not in _RANGES or not isinstance(by_source, dict):
            raise InputError("no such dimension", place=place, found=name, expected="span_mm.source = […], …")
        limits = {key: _range(item, f"{place}, {name}, {key}") for key, item in by_source.items()}
        found[name] = MappingProxyType(limits)
    return MappingProxyType(found)


def _published(value: object, place: str) -> PublishedLand:
    known = {f.name for f in fields(PublishedLand)}
    if not isinstance(value, dict):
        raise InputError("not a table", place=place, found=repr(value), expected="length_mm, width_mm, source, …")
    for key in value:
        if key not in known:
            raise InputError("unknown field", place=place, found=key, expected=" | ".join(sorted(known)))
    for key in ("length_mm", "width_mm", "source"):
        if key not in value:
            raise InputError("a field is missing", place=place, expected=key)
    read: Fields = {
        key: _millimetres(item, f"{place}, {key}") if key.endswith("_mm") else item for key, item in value.items()
    }
    return PublishedLand(**read)


# a value of TOML and what its reader makes of it: length, range, word, table
_READERS: tuple[tuple[frozenset[str], Callable[[Any, str], Any]], ...] = (
    (_COUNTS, _count),
    (_LISTS, _texts),
    (frozenset({"sides"}), _sides),
    (frozenset({"read"}), _readings),
    (frozenset({"drawn"}), _drawn),
    (frozenset({"published_land"}), _published),
    (frozenset({"wettable_flank"}), _truth),
)
