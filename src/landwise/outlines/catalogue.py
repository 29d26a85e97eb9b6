"""The catalogue: every outline landwise ships, read from `catalogue_data/`, and a user's own."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import MISSING, fields
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any

from landwise.errors import InputError, LandwiseError, UnknownNameError
from landwise.evidence.sources import MARKS
from landwise.outlines.checks import require_possible
from landwise.outlines.model import FAMILIES, SIDES, Outline, PublishedLand, Range
from landwise.quantities import parse

_RANGES = frozenset(f.name for f in fields(Outline) if "Range" in str(f.type))
_NUMBERS = frozenset({"pitch_mm", "pitch_across_mm", "pull_back_mm", "coplanarity_mm", "warpage_mm", "weight_mg"})
_COUNTS = frozenset({"terminals", "columns", "rows"})
_LISTS = frozenset({"sources", "also", "absent"})
_REQUIRED = tuple(f.name for f in fields(Outline) if f.default is MISSING and f.default_factory is MISSING)


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
        Naming the file, the outline and the field: not TOML, unknown or missing field, wrong type, limits
        out of order, or an outline that can't exist (see `outlines.checks`).
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError("not a TOML file", file=file, found=str(error), expected="[[outline]] tables") from None
    rows = data.get("outline")
    if not isinstance(rows, list) or not rows or set(data) - {"outline"}:
        raise InputError(
            "no outlines",
            file=file,
            found=", ".join(data) or "an empty file",
            expected="one or more [[outline]] tables",
        )
    found = []
    for number, row in enumerate(rows, start=1):
        try:
            found.append(outline_from(row, number))
        except LandwiseError as error:
            raise error.within(file=file) from None
    return tuple(found)


def outline_from(row: Mapping[str, Any], number: int = 1) -> Outline:
    """One outline from its table, checked."""
    name = row.get("name")
    place = f"outline {name}" if isinstance(name, str) and name else f"outline number {number}"
    known = {f.name for f in fields(Outline)}
    for key in row:
        if key not in known:
            near = difflib.get_close_matches(key, known, n=2)
            raise InputError(
                "unknown field", place=place, found=key, expected=" or ".join(near) or "a field of Outline"
            )
    for key in _REQUIRED:
        if key not in row:
            raise InputError("a field is missing", place=place, expected=key)
    values = {key: _read(key, value, f"{place}, {key}") for key, value in row.items()}
    for key, allowed in (("family", FAMILIES), ("mark", MARKS)):
        if values[key] not in allowed:
            raise InputError(f"unknown {key}", place=place, found=repr(values[key]), expected=" | ".join(allowed))
    outline = Outline(**values)
    require_possible(outline)
    return outline


def _read(key: str, value: Any, place: str) -> Any:
    if key in _RANGES:
        return _range(value, place)
    if key in _NUMBERS:
        return (
            parse(value, "mass", place=place)
            if key == "weight_mg" and isinstance(value, str)
            else _millimetres(value, place)
        )
    if key in _COUNTS:
        if not isinstance(value, int) or isinstance(value, bool):
            raise InputError("not a whole number", place=place, found=repr(value), expected="a count such as 14")
        return value
    if key in _LISTS:
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            raise InputError("not a list of texts", place=place, found=repr(value), expected='["…", "…"]')
        return tuple(value)
    if key == "sides":
        return _sides(value, place)
    if key == "published_land":
        return _published(value, place)
    if key == "wettable_flank":
        if not isinstance(value, bool):
            raise InputError("not true or false", place=place, found=repr(value))
        return value
    if not isinstance(value, str):
        raise InputError("not a text", place=place, found=repr(value), expected='"…"')
    return value


def _millimetres(value: Any, place: str) -> float:
    """A number in mm by the field's name, or a text with its unit."""
    if isinstance(value, str):
        return parse(value, "length", place=place)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise InputError("not a length", place=place, found=repr(value), expected='a number in mm, or "20 mil"')
    return float(value)


def _range(value: Any, place: str) -> Range:
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


def _published(value: Any, place: str) -> PublishedLand:
    known = {f.name for f in fields(PublishedLand)}
    if not isinstance(value, dict):
        raise InputError("not a table", place=place, found=repr(value), expected="length_mm, width_mm, source, …")
    for key in value:
        if key not in known:
            raise InputError("unknown field", place=place, found=key, expected=" | ".join(sorted(known)))
    for key in ("length_mm", "width_mm", "source"):
        if key not in value:
            raise InputError("a field is missing", place=place, expected=key)
    read: dict[str, Any] = {
        key: _millimetres(item, f"{place}, {key}") if key.endswith("_mm") else item for key, item in value.items()
    }
    return PublishedLand(**read)


@cache
def catalogue() -> Mapping[str, Outline]:
    """Every shipped outline by name, in family order.

    >>> len(catalogue()) >= 45
    True
    """
    found: dict[str, Outline] = {}
    files = sorted(resources.files("landwise.outlines").joinpath("catalogue_data").iterdir(), key=lambda f: f.name)
    for file in files:
        if not file.name.endswith(".toml"):
            continue
        for outline in read_outlines(file.read_text(encoding="utf-8"), file=file.name):
            if outline.name in found:
                raise InputError("an outline is described twice", file=file.name, place=outline.name)
            found[outline.name] = outline
    return MappingProxyType(found)


def _plain(name: str) -> str:
    return re.sub(r"[^a-z0-9.]", "", name.lower())


@cache
def _names() -> Mapping[str, str]:
    """Plain spelling of each name and alias to the outline's name."""
    names: dict[str, str] = {}
    for outline in catalogue().values():
        for spelling in (outline.name, *outline.also):
            names.setdefault(_plain(spelling), outline.name)
    return MappingProxyType(names)


def find(name: str, own: Iterable[Outline] = ()) -> Outline:
    """An outline by its name or one of its other names, a user's own first.

    Parameters
    ----------
    name : str
        As in the catalogue or among its `also`; case, dashes and blanks don't matter.
    own : iterable of Outline
        A user's outlines, which may replace shipped ones of the same name.

    Raises
    ------
    UnknownNameError
        With the nearest names.

    Examples
    --------
    >>> find("so14").name
    'SO-14'
    """
    wanted = _plain(name)
    for outline in own:
        if wanted in {_plain(spelling) for spelling in (outline.name, *outline.also)}:
            return outline
    if wanted in _names():
        return catalogue()[_names()[wanted]]
    near = difflib.get_close_matches(wanted, _names(), n=4)
    close = ", ".join(dict.fromkeys(_names()[spelling] for spelling in near))
    raise UnknownNameError("unknown outline", found=name, expected=close or "a name that `landwise outlines` lists")
