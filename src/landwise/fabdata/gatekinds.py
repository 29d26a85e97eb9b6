"""Packages of one function that hold different numbers of it: single, dual, triple, quad, hex, octal, two octals.

Derived from the table of functions: two numbers are kinds of one function where their words say the same but for the
count, and their numbers agree but for how they count (`1G08`, `2G08`, `08`; `244`, `16244`).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from landwise.fabdata.functions import Function, functions, known

COUNT_WORDS = re.compile(r"^(single|dual|triple|quad|hex|octal|16-bit|32-bit|20-bit|18-bit)\s+")
# Words of the older families for what the newer ones call otherwise; the pins of a gate are the same.
SAME_WORDS = (("open collector", "open drain"), ("inverter buffer", "inverter"), ("NAND buffer", "NAND gate"))
ONE_SIGNAL_IN = re.compile(
    r"^(unbuffered )?(inverter|buffer)\b(?!.*3-state)"
)  # a five-terminal one has a terminal to spare


SUPPLIES = 2  # terminals


@dataclass(frozen=True)
class Kind:
    """One package of a function.

    Parameters
    ----------
    number : str
        Such as `1G08`.
    units : int
        How many of the function one package holds.
    terminals : int
    words : str
    """

    number: str
    units: int
    terminals: int
    words: str


def core_of(number: str) -> str:
    """What numbers of one function share: `1G08`, `2G08` and `08` are all `08`.

    >>> core_of("1G08"), core_of("08"), core_of("16244"), core_of("244"), core_of("8T245")
    ('08', '08', '244', '244', 'T245')
    """
    upper = number.strip().upper()
    little = re.fullmatch(r"[123]G(.+)", upper)
    if little:
        return little[1]
    wide = re.fullmatch(r"\d{1,2}(T\d+)", upper)
    if wide:
        return wide[1]
    return re.sub(r"^(16|32)(?=\d{3})", "", upper)


def bare_words(words: str) -> str:
    """A function's words without the count, older terms replaced.

    >>> bare_words("quad 2-input AND gate") == bare_words("single 2-input AND gate")
    True
    """
    said = COUNT_WORDS.sub("", words.strip())
    for old, new in SAME_WORDS:
        said = said.replace(old, new)
    return said


@cache
def _by_function() -> Mapping[tuple[str, str], tuple[Kind, ...]]:
    found: dict[tuple[str, str], dict[str, Kind]] = {}
    for function in functions().values():
        if COUNT_WORDS.match(function.words):
            key = core_of(function.number), bare_words(function.words)
            kind = Kind(function.number, function.units, function.terminals, function.words)
            found.setdefault(key, {})[function.number] = kind
    return MappingProxyType({key: _with_own_signals(tuple(some.values())) for key, some in found.items()})


def _with_own_signals(kinds: tuple[Kind, ...]) -> tuple[Kind, ...]:
    """Those that bring every signal of every unit to terminals of their own, as the smallest one does.

    What shares a clock, a select, an enable or a direction among its units can't stand for units apart.
    """
    ordered = sorted(kinds, key=lambda one: (one.units, one.number))
    signals = signals_of(ordered[0])
    return tuple(one for one in ordered if one.terminals - SUPPLIES >= signals * one.units / ordered[0].units)


def signals_of(kind: Kind) -> int:
    """Signals of one package: its terminals without the two supplies, and without one to spare.

    Examples
    --------
    >>> [signals_of(one) for one in (kinds_of("1G08")[0], kinds_of("1G04")[0], kinds_of("74")[0])]
    [3, 2, 6]
    """
    return 2 * kind.units if ONE_SIGNAL_IN.match(bare_words(kind.words)) else kind.terminals - SUPPLIES


def kinds_of(number: str, family: str = "") -> tuple[Kind, ...]:
    """All packages of a number's function, fewest units first; none where the function is not known or not counted.

    Examples
    --------
    >>> [(kind.number, kind.units) for kind in kinds_of("1G08")]
    [('1G08', 1), ('2G08', 2), ('08', 4)]
    >>> [kind.number for kind in kinds_of("125")], [kind.number for kind in kinds_of("126")]
    (['1G125', '2G125', '125'], ['1G126', '2G126', '126'])
    >>> [kind.number for kind in kinds_of("244")], [kind.number for kind in kinds_of("374")], kinds_of("595")
    (['244', '16244', '32244'], ['1G374'], ())
    """
    function = known(number.strip().upper(), family)
    return () if function is None else _of(function)


def _of(function: Function) -> tuple[Kind, ...]:
    return _by_function().get((core_of(function.number), bare_words(function.words)), ())


def kinds_by_words(words: str) -> tuple[Kind, ...]:
    """All packages of a function named in words: `2-input AND`, with or without a count.

    Where several numbers mean the same words the one with most packages is taken.

    Examples
    --------
    >>> [kind.number for kind in kinds_by_words("2-input AND")]
    ['1G08', '2G08', '08']
    >>> [kind.number for kind in kinds_by_words("dual inverter")][:3]
    ['1G04', '2G04', '3G04']
    """
    wanted = bare_words(words).lower().removesuffix(" gate").strip()
    fits = [some for (_, said), some in _by_function().items() if said.lower().removesuffix(" gate") == wanted]
    return max(fits, key=len, default=())
