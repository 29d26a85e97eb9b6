"""In which packages a function of a family is offered: seen, likely, not seen, or not known; never "nobody makes it".

The table holds facts derived from one assembler's published parts list of one day (source `offers-2026-05`): which
function of which family was sighted in which package, and how many order codes named it. Written by
`docs/make_supply.py`. A user's own offers outrank it; the study puts them in front (see `Supply.state` "stated").
"""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Literal

from landwise.outlines.model import Outline

State = Literal["stated", "seen", "likely", "not seen", "not known"]
SOURCE = "offers-2026-05"
SOURCES_IN_TABLE = 1
# A package is likely where at least this share of the functions beside it are sighted in it ...
LIKELY_SHARE = 0.4
# ... shares of small families leaning on all other families with the weight of so many functions.
LEANING = 2.0
FOUR_THOUSAND = "4000"
_FOUR_THOUSAND_MAKERS = frozenset(
    ["CD", "HEF", "HCF", "HCC", "MC1", "TC", "BU", "KK", "UTC", "HD1", "MM", "GD", "XD", "XL"]
)
LARGEST_SPARE = 2  # terminals: 14-terminal switches are sighted in 16-terminal bodies, single gates in four and six


@dataclass(frozen=True)
class Asked:
    """The part whose supply is asked for.

    Parameters
    ----------
    number : str
        Function number such as `1G08`; empty where only words are known.
    family : str
        Family letters; empty where the study leaves them open.
    terminals : int
        Of the function.
    little : bool
        One- to three-gate logic.
    least : int
        The fewest terminals that it can do with, where some of its terminals are open; 0: all are needed.
    alike : tuple of str
        Numbers that do what the words say, where only words are known.
    """

    number: str
    family: str
    terminals: int
    little: bool
    least: int = 0
    alike: tuple[str, ...] = ()

    @property
    def numbers(self) -> tuple[str, ...]:
        """The numbers whose sightings speak for it."""
        return (self.number,) if self.number else self.alike


@dataclass(frozen=True)
class Supply:
    """How a function stands in one package.

    Parameters
    ----------
    state : str
        `stated` (the study names it), `seen`, `likely`, `not seen`, or `not known` (nothing comparable is in the
        table).
    sightings : int
        Order codes that name it.
    sources : int
        Independent sources of supply or sight: makers of the user's offers, else lists it was sighted in; 0 if none.
    share : float or None
        Share of the comparable functions that were sighted in the package, as the rule weighs it.
    compared : int
        How many functions of the family that share rests on; 0 where only other families tell.
    families : tuple of str
        Families it was sighted in, where the study leaves the family open.
    numbers : tuple of str
        Numbers it was sighted under, where only words are known.
    """

    state: State
    sightings: int = 0
    sources: int = 0
    share: float | None = None
    compared: int = 0
    families: tuple[str, ...] = ()
    numbers: tuple[str, ...] = ()

    @property
    def may_be_planned(self) -> bool:
        """Whether the package is more than a hope: stated, seen or likely."""
        return self.state in ("stated", "seen", "likely")


@dataclass(frozen=True)
class Sighted:
    """One function of one family: its terminals and the order codes sighted by package."""

    number: str
    family: str
    little: bool
    terminals: int
    packages: Mapping[str, int]


Group = tuple[bool, int]


@cache
def sighted() -> Mapping[tuple[str, str], Sighted]:
    """Every function of the table by family and number.

    >>> sighted()["LVC", "1G08"].packages["SC-70-5"] > 3
    True
    """
    text = resources.files("landwise.outlines").joinpath("seen.csv").read_text(encoding="utf-8")
    rows: dict[tuple[str, str], tuple[bool, int, dict[str, int]]] = {}
    for row in csv.DictReader(line for line in text.splitlines() if not line.startswith("#")):
        key = row["family"], row["function"]
        held = rows.setdefault(key, (row["little"] == "1", int(row["terminals"]), {}))
        held[2][row["package"]] = int(row["sightings"])
    return MappingProxyType(
        {
            (family, number): Sighted(number, family, little, terminals, MappingProxyType(packages))
            for (family, number), (little, terminals, packages) in rows.items()
        }
    )


@dataclass(frozen=True)
class _Shares:
    """Of one group of functions (little or not, terminals): functions by family, and those sighted in each package."""

    functions: Mapping[str, int]
    sighted_in: Mapping[str, Mapping[str, int]]


@cache
def _shares() -> Mapping[Group, _Shares]:
    functions: dict[Group, Counter[str]] = {}
    packages: dict[Group, dict[str, Counter[str]]] = {}
    for one in sighted().values():
        group = one.little, one.terminals
        functions.setdefault(group, Counter())[one.family] += 1
        for package in one.packages:
            packages.setdefault(group, {}).setdefault(package, Counter())[one.family] += 1
    return MappingProxyType({group: _Shares(functions[group], packages.get(group, {})) for group in functions})


def family_key(letters: str) -> str:
    """The table's name of a family: the makers' lead-ins of the 4000 series are one family.

    >>> family_key("HEF"), family_key("lvc")
    ('4000', 'LVC')
    """
    upper = letters.strip().upper()
    return FOUR_THOUSAND if upper in _FOUR_THOUSAND_MAKERS else upper


def package_names(outline: Outline) -> frozenset[str]:
    """What the table may call an outline: its names; grids of balls without their pitch, which lists don't tell.

    >>> from landwise.outlines.catalogue import find
    >>> sorted(package_names(find("WLP-5-0.5")) & {"WLP-5", "WLP-5-0.5"}), "BGA-96" in package_names(find("BGA-96-0.8"))
    (['WLP-5', 'WLP-5-0.5'], True)
    """
    names = {outline.name, *outline.also}
    if outline.name.startswith(("WLP-", "BGA-")):
        names.add(outline.name.rpartition("-")[0])
    return frozenset(names)


def supply_of(asked: Asked, outline: Outline) -> Supply:
    """How a function of a family stands in an outline's package.

    Parameters
    ----------
    asked : Asked
    outline : Outline

    Notes
    -----
    *Seen*: at least one order code of that function and family (of any family, where the study leaves it open; of any
    number that does what the words say, where only words are known).
    *Likely*: of the other functions of the family with the same terminals, little and others apart, a share of at
    least 0.4 is sighted in the package: (k + 2·p) / (n + 2), with k of n in the family and the share p in all other
    families. Each function left out in turn (computed over the table): of what the rule calls likely 67 % is sighted,
    and it finds 73 % of what is sighted; the share is an honest chance (of packages with a share near p, about p are
    sighted). The table holds about 66 % of the packages that makers list and about nine of ten of its own sources'
    sightings, so 67 % is a lower bound. No sighting never means that nobody makes it.

    Examples
    --------
    >>> from landwise.outlines.catalogue import find
    >>> gate = Asked("1G08", "LVC", 5, True)
    >>> supply_of(gate, find("SC-70-5")).state, supply_of(gate, find("DFN-6-2x2")).state
    ('seen', 'not seen')
    >>> supply_of(Asked("1G77", "AHC", 5, True), find("SC-70-5")).state
    'likely'
    """
    names, family = package_names(outline), family_key(asked.family)
    held = _held(asked.numbers, family)
    count = sum(one.packages.get(name, 0) for one in held for name in names)
    if count:
        its = [one for one in held if names & one.packages.keys()]
        seen_in = sorted({one.family for one in its}) if not family else []
        under = sorted({one.number for one in its}) if not asked.number else []
        return Supply("seen", count, SOURCES_IN_TABLE, families=tuple(seen_in), numbers=tuple(under))
    shares = _shares().get((asked.little, asked.terminals))
    if shares is None:
        return Supply("not known")
    share, compared = _share(shares, family, asked.numbers, names)
    return Supply("likely" if share >= LIKELY_SHARE else "not seen", share=share, compared=compared)


def _held(numbers: tuple[str, ...], family: str) -> list[Sighted]:
    if not numbers:
        return []
    if family:
        return [sighted()[family, number] for number in numbers if (family, number) in sighted()]
    return [one for (_, known), one in sighted().items() if known in numbers]


def _share(shares: _Shares, family: str, numbers: tuple[str, ...], names: Iterable[str]) -> tuple[float, int]:
    """Share of the comparable functions sighted under any of an outline's names, and how many of the family count."""
    # An outline has one name in the table; where two names are sighted the better one speaks.
    best = 0.0
    itself = sum((family, number) in sighted() for number in numbers)
    own = max(0, shares.functions.get(family, 0) - itself)
    others = sum(shares.functions.values()) - shares.functions.get(family, 0)
    for name in names:
        by_family = shares.sighted_in.get(name, {})
        inside = by_family.get(family, 0)
        outside = sum(by_family.values()) - inside
        everywhere = outside / others if others else 0.0
        best = max(best, (inside + LEANING * everywhere) / (own + LEANING))
    return best, own


def sighted_packages(asked: Asked) -> frozenset[str]:
    """The table's names of packages in which a function of a family was sighted.

    >>> "TSSOP-14" in sighted_packages(Asked("00", "HC", 14, False))
    True
    """
    return frozenset(name for one in _held(asked.numbers, family_key(asked.family)) for name in one.packages)


def terminals_sighted(number: str, family: str) -> int | None:
    """Terminals of a function as the table knows it; None where it is not in the table, or in several sizes.

    >>> terminals_sighted("595", "HC"), terminals_sighted("no such", "HC")
    (16, None)
    """
    counts = {one.terminals for one in _held((number,) if number else (), family_key(family))}
    return counts.pop() if len(counts) == 1 else None
