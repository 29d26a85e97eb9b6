"""What names lead to an outline: its own and other names, a maker's package letters, a drawing's number.

Makers' houses carry numbers, not names; the letters are facts of their data sheets, each mapping marked.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType

from landwise.errors import UnknownNameError
from landwise.outlines.catalogue import catalogue, find, plain
from landwise.outlines.marks import weakest
from landwise.outlines.model import Outline

# Letters of an order code, terminals in four digits and a revision: the number of a maker's drawing.
_DRAWING = re.compile(r"(?P<letters>[A-Z]{1,4})(?P<terminals>0\d{3})[A-Z]?", re.I)


@dataclass(frozen=True)
class Letters:
    """One maker's package letters: the house's number, the outlines they stand for, and how far that was read."""

    house: str
    letters: str
    outlines: tuple[str, ...]
    mark: str


@dataclass(frozen=True)
class Named:
    """An outline that a name leads to, how (`name`, `letters`, `drawing`), by which house, and the mapping's mark."""

    outline: Outline
    by: str
    mark: str
    house: str = ""


@cache
def letters_table() -> Mapping[str, tuple[Letters, ...]]:
    """Package letters in capitals to their meanings, one for each house that uses them.

    Examples
    --------
    >>> [(row.house, row.outlines) for row in letters_table()["DRL"]]
    [('h1', ('SOT-5x3-5', 'SOT-5x3-6'))]
    """
    text = resources.files("landwise.outlines").joinpath("naming_data", "letters.csv").read_text(encoding="utf-8")
    found: dict[str, tuple[Letters, ...]] = {}
    for row in csv.DictReader(text.splitlines()):
        entry = Letters(row["house"], row["letters"], tuple(row["outlines"].split()), row["mark"])
        found[entry.letters] = (*found.get(entry.letters, ()), entry)
    return MappingProxyType(found)


def naming(text: str, terminals: int | None = None, own: Iterable[Outline] = ()) -> tuple[Named, ...]:
    """Every outline that a name, a maker's package letters or a drawing's number leads to.

    Parameters
    ----------
    text : str
        `TSSOP-14`, `PW`, `PW0014A`, …; case, dashes and blanks don't matter.
    terminals : int, optional
        Keep only outlines of so many terminals (a part's own count, not the pad).
    own : iterable of Outline
        A user's outlines, found by their names before shipped ones.

    Returns
    -------
    tuple of Named
        The outline of that name alone, where there is one; otherwise each outline that the letters stand for,
        with the mark of that mapping: letters that two houses use differently lead to both. Empty where
        nothing is known.

    Examples
    --------
    >>> [(named.outline.name, named.by, named.mark) for named in naming("DRL")]
    [('SOT-5x3-5', 'letters', 'verified'), ('SOT-5x3-6', 'letters', 'verified')]
    >>> [named.outline.name for named in naming("PW0014A")], naming("soic-14")[0].outline.name
    (['TSSOP-14'], 'SO-14')
    """
    wanted = text.strip()
    try:
        named = find(wanted, tuple(own))
    except UnknownNameError:
        return _by_letters(wanted.upper(), terminals)
    return (Named(named, "name", "verified"),) if terminals in (None, named.terminals) else ()


def _by_letters(text: str, terminals: int | None) -> tuple[Named, ...]:
    by = "letters"
    match = _DRAWING.fullmatch(plain(text).upper())
    if match and match["letters"] in letters_table():
        by, text, terminals = "drawing", match["letters"], int(match["terminals"])
    found: dict[str, Named] = {}
    for row in letters_table().get(text, ()):
        for name in row.outlines:
            outline = catalogue()[name]
            if terminals not in (None, outline.terminals):
                continue
            before = found.get(name)
            # Two houses may use the same letters for the same outline: the better reading stands.
            if before is None or weakest((before.mark, row.mark)) == before.mark:
                found[name] = Named(outline, by, row.mark, row.house)
    return tuple(found.values())
