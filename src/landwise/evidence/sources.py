"""The sources behind landwise's figures: one entry each, in the TOML files of `evidence/sources/`.

A row says what the source is, where it can be found, and how far it was read:

- `verified`: the number was read in the text named;
- `second-hand`: read in a text that quotes the primary;
- `from memory`: recalled, the text was not found; ships with a wide interval, never as a citation;
- `common practice, no source`: a fact of the trade nobody needs to look up;
- `computed`: our own arithmetic from stated inputs, or an analytic identity.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType

from landwise.errors import InputError, UnknownNameError

MARKS = ("verified", "second-hand", "from memory", "common practice, no source", "computed")


@dataclass(frozen=True)
class Source:
    """One source: a short key, its title, where it stands, how far it was read, and what it is where that matters."""

    key: str
    title: str
    where: str
    mark: str
    note: str = ""
    kind: str = ""

    def __post_init__(self) -> None:
        if self.mark not in MARKS:
            raise InputError("unknown mark", place=f"source {self.key}", found=self.mark, expected=" | ".join(MARKS))


@cache
def all_sources() -> Mapping[str, Source]:
    """Every source by key, read once from the package's data files.

    >>> all(source.title for source in all_sources().values())
    True
    """
    found: dict[str, Source] = {}
    for file in sorted(resources.files("landwise.evidence").joinpath("sources").iterdir(), key=lambda f: f.name):
        if not file.name.endswith(".toml"):
            continue
        for key, row in tomllib.loads(file.read_text(encoding="utf-8")).items():
            if key in found:
                raise InputError("a source is described twice", file=file.name, place=key)
            found[key] = Source(key=key, **row)
    return MappingProxyType(found)


def source(key: str) -> Source:
    """The source of that key.

    Raises
    ------
    UnknownNameError
        If no file describes it.
    """
    try:
        return all_sources()[key]
    except KeyError:
        raise UnknownNameError("no such source", found=key, expected="a key of evidence/sources/*.toml") from None
