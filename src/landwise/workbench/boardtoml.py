"""Changes put into a study's own text: what does not change stays as it was written, comments and all."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from landwise.workbench.tomltext import toml_text, value_text

_HEADER = re.compile(r"\s*(\[\[?)\s*([A-Za-z0-9_.-]+)\s*\]\]?\s*(#.*)?$")
_KEY = re.compile(r"\s*([A-Za-z0-9_-]+)\s*=")
_TRAIL = re.compile(r"\s+#[^\"']*$")


@dataclass
class _Statement:
    """A key with the lines of its value, or a line that is no key."""

    key: str
    lines: list[str]


@dataclass
class _Table:
    """One table of the text: its header line and what stands below it."""

    name: str
    head: str
    body: list[_Statement] = field(default_factory=list)

    def lines(self) -> list[str]:
        """As they stand in the file."""
        return ([self.head] if self.head else []) + [line for one in self.body for line in one.lines]


def edited(text: str, data: Mapping[str, Any], parts: Sequence[tuple[int | None, Mapping[str, Any]]]) -> str:
    """The text of a study after changes.

    Parameters
    ----------
    text : str
        As it stands.
    data : mapping
        All tables as they shall be, but the parts.
    parts : sequence of (int or None, mapping)
        The parts as they shall be, each with its place in the text; None for a new one.

    Examples
    --------
    >>> text = '[want] # limits\\nmax_height = "3 mm" # of the case\\n\\n[[part]]\\nrefs = ["U1"]\\n'
    >>> print(edited(text, {"want": {"max_height": "2 mm"}}, [(0, {"refs": ["U1"], "terminals": 14})]))
    [want] # limits
    max_height = "2 mm" # of the case
    <BLANKLINE>
    [[part]]
    refs = ["U1"]
    terminals = 14
    <BLANKLINE>
    """
    whole = {**data, **({"part": [dict(part) for _, part in parts]} if parts else {})}
    try:
        made = _patched(text, data, parts)
        if tomllib.loads(made) == tomllib.loads(toml_text(whole)):
            return made
    except (tomllib.TOMLDecodeError, LookupError):
        pass  # a text laid out in a way this does not follow: it is written anew, without its comments
    return toml_text(whole)


def _patched(text: str, data: Mapping[str, Any], parts: Sequence[tuple[int | None, Mapping[str, Any]]]) -> str:
    was = tomllib.loads(text)
    tables = _read(text)
    own = [table for table in tables if table.name != "part"]
    listed = [table for table in tables if table.name == "part"]
    for name, value in data.items():
        if isinstance(value, Mapping):
            _set_table(own, name, was.get(name, {}), value)
        elif was.get(name) != value:
            _set(own[0], name, value)
    old = was.get("part", [])
    if len(listed) != len(old):
        raise LookupError("parts that are no tables of their own")
    for at, part in parts:
        table = _Table("part", "[[part]]") if at is None else listed[at]
        if at is None and own[-1].lines() and own[-1].lines()[-1].strip():
            own[-1].body.append(_Statement("", [""]))
        _set_keys(table, {} if at is None else old[at], part)
        own.append(table)
    return "\n".join(line for table in own for line in table.lines()).rstrip("\n") + "\n"


def _read(text: str) -> list[_Table]:
    """The tables of a text in their order; the first is what stands before any header."""
    tables = [_Table("", "")]
    lines = text.split("\n")
    at = 0
    while at < len(lines):
        header, key = _HEADER.match(lines[at]), _KEY.match(lines[at])
        if header:
            tables.append(_Table(header[2], lines[at]))
            at += 1
        elif key:
            end = at + 1
            # A value may go on over lines: it ends where the statement can be read.
            while not _reads("\n".join(lines[at:end])):
                end += 1
                if end > len(lines):
                    raise LookupError(f"line {at + 1}")
            tables[-1].body.append(_Statement(key[1], lines[at:end]))
            at = end
        else:
            tables[-1].body.append(_Statement("", [lines[at]]))
            at += 1
    return tables


def _reads(text: str) -> bool:
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return False
    return True


def _set_table(tables: list[_Table], name: str, was: Mapping[str, Any], now: Mapping[str, Any]) -> None:
    if was == now:
        return
    table = next((one for one in tables if one.name == name), None)
    if table is None:
        table = _Table(name, f"[{name}]")
        inner = [at for at, one in enumerate(tables) if one.name.startswith(f"{name}.")]
        place = inner[0] if inner else len(tables)
        if place and tables[place - 1].lines() and tables[place - 1].lines()[-1].strip():
            tables[place - 1].body.append(_Statement("", [""]))
        tables.insert(place, table)
        table.body.append(_Statement("", [""]))
    for key in [key for key, value in now.items() if isinstance(value, Mapping)]:
        below = next((one for one in tables if one.name == f"{name}.{key}"), None)
        if below is not None:
            _set_keys(below, was.get(key, {}), now[key])
            was = {inner: value for inner, value in was.items() if inner != key}
            now = {inner: value for inner, value in now.items() if inner != key}
    _set_keys(table, was, now)


def _set_keys(table: _Table, was: Mapping[str, Any], now: Mapping[str, Any]) -> None:
    for key in was:
        if key not in now:
            table.body = [one for one in table.body if one.key != key]
    for key, value in now.items():
        if was.get(key) != value or key not in was:
            _set(table, key, value)


def _set(table: _Table, key: str, value: Any) -> None:
    line = f"{key} = {value_text(value)}"
    for one in table.body:
        if one.key == key:
            trail = _TRAIL.search(one.lines[0]) if len(one.lines) == 1 else None
            # What was a guess is none any more once somebody has said it.
            one.lines = [line + (trail[0] if trail and "guess" not in trail[0] else "")]
            return
    last = max((at for at, one in enumerate(table.body) if one.key), default=-1)
    table.body.insert(last + 1, _Statement(key, [line]))
