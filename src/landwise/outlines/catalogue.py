"""The catalogue: every outline landwise ships, read from `catalogue_data/`, and finding one by name."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from functools import cache
from importlib import resources
from types import MappingProxyType

from landwise.errors import InputError, UnknownNameError
from landwise.memory import kept
from landwise.outlines.model import Outline
from landwise.outlines.reading import read_outlines


@cache
def catalogue() -> Mapping[str, Outline]:
    """Every shipped outline by name, in family order.

    >>> len(catalogue()) >= 45
    True
    """
    return MappingProxyType(kept("catalogue", _read))


def _read() -> dict[str, Outline]:
    found: dict[str, Outline] = {}
    files = sorted(resources.files("landwise.outlines").joinpath("catalogue_data").iterdir(), key=lambda f: f.name)
    for file in files:
        if not file.name.endswith(".toml"):
            continue
        for outline in read_outlines(file.read_text(encoding="utf-8"), file=file.name):
            if outline.name in found:
                raise InputError("an outline is described twice", file=file.name, place=outline.name)
            found[outline.name] = outline
    return found


def plain(name: str) -> str:
    """A name without what people write differently: case, dashes, blanks.

    >>> plain("SOT-23 5")
    'sot235'
    """
    return re.sub(r"[^a-z0-9.]", "", name.lower())


@cache
def _names() -> Mapping[str, str]:
    """Plain spelling of each name and alias to the outline's name."""
    names: dict[str, str] = {}
    for outline in catalogue().values():
        for spelling in (outline.name, *outline.also):
            names.setdefault(plain(spelling), outline.name)
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
    wanted = plain(name)
    for outline in own:
        if wanted in {plain(spelling) for spelling in (outline.name, *outline.also)}:
            return outline
    if wanted in _names():
        return catalogue()[_names()[wanted]]
    near = difflib.get_close_matches(wanted, _names(), n=4)
    close = ", ".join(dict.fromkeys(_names()[spelling] for spelling in near))
    raise UnknownNameError(
        "unknown outline",
        found=name,
        expected=close or "a name that `landwise outlines` lists",
        about="outline",
    )
