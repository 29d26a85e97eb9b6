"""Which numbers do what words say: `hex Schmitt inverter` is 14, 19, 4584 and 40106; and what a part asks of supply."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache, lru_cache
from types import MappingProxyType

from landwise.fabdata.functions import Function, functions, is_little, least_terminals
from landwise.fabdata.functiontongues import in_english
from landwise.fabdata.gatekinds import SAME_WORDS
from landwise.outlines.supply import Asked

COUNTS = frozenset(
    ["single", "dual", "triple", "quad", "hex", "octal", "nine-wide", "16-bit", "18-bit", "20-bit", "32-bit"]
)
# One spelling for what is written in several; the table of functions is read through the same ones.
_SPELT = (
    (r"\b(two|three|four)(?=[\s-]*inp)", lambda m: {"two": "2", "three": "3", "four": "4"}[m[1]]),
    (r"(\d)[\s-]*inp(?:ut)?s?\b", r"\1-input"),
    (r"\b(?:3|tri|three)[\s-]*state\b", "3-state"),
    (r"(\d)[\s-]*bit\b", r"\1-bit"),
    (r"schmitt[\s-]*trigger(?:s|ed)?\b", "schmitt"),
    (r"\bexclusive[\s-]*or\b", "xor"),
    (r"flip[\s-]*flop", "flip-flop"),
    (r"\bd[\s-]type", "d-type"),
    (r"\bpositive[\s-]+(?=nand|nor|and|or)", ""),
    (r"\bquadruple\b", "quad"),
    (r"\bdouble\b", "dual"),
    (r"\b(?:buffer\s*/\s*)?line driver", "buffer"),
    (r"\bbus transceiver", "transceiver"),
    (r"\bd-type (?:transparent )?latch", "transparent latch"),
)
_SILENT = frozenset(["gate", "ic", "logic", "with"])  # said or not, the function is the same
_WIDE, _OF_WIDE = frozenset(["octal", "16-bit", "18-bit", "20-bit", "32-bit"]), "3-state"  # goes without saying there
LITTLE_TERMINALS = 8  # functions without a number: so few terminals mean one to three gates
LONGEST_WORDS = 200  # of a function; what is longer names none


def _said(text: str) -> frozenset[str]:
    """The words that tell one function from another, in one spelling and in no order."""
    said = text.lower()
    for pattern, spelling in _SPELT:
        said = re.sub(pattern, spelling, said)
    for old, new in SAME_WORDS:
        said = said.replace(old.lower(), new.lower())
    words = re.findall(r"[a-z0-9][a-z0-9-]*", said)
    single = (word[:-1] if len(word) > 4 and word.endswith("s") and not word.endswith("ss") else word for word in words)
    found = frozenset(single) - _SILENT
    return found - {_OF_WIDE} if found & _WIDE else found


@cache
def _by_words() -> Mapping[frozenset[str], tuple[Function, ...]]:
    """Functions by their words without the count."""
    found: dict[frozenset[str], list[Function]] = {}
    for function in functions().values():
        found.setdefault(_said(function.words) - COUNTS, []).append(function)
    return MappingProxyType({words: tuple(some) for words, some in found.items()})


@lru_cache(maxsize=256)
def numbers_of_words(text: str, terminals: int) -> tuple[str, ...]:
    """Numbers of all functions that do what words say in so many terminals; none where the words name none.

    Parameters
    ----------
    text : str
        In any order of words; without a count the terminals tell it.
    terminals : int

    Examples
    --------
    >>> numbers_of_words("hex Schmitt inverter", 14), numbers_of_words("2-input AND", 5)
    (('14', '19', '40106', '4584'), ('1G08',))
    >>> numbers_of_words("2-input gate", 5), numbers_of_words("6-fach Inverter", 14)
    ((), ('04', '1004', '4069'))
    """
    if len(text) > LONGEST_WORDS:
        return ()
    words = _said(in_english(text) or text)
    counts = words & COUNTS
    return tuple(
        sorted(
            {
                function.number
                for function in _by_words().get(words - COUNTS, ())
                if function.terminals == terminals and (not counts or _said(function.words) & COUNTS == counts)
            }
        )
    )


def asked_for(number: str, family: str, words: str, terminals: int, little: bool | None = None) -> Asked:
    """The part as the table of sightings knows it: by its number, else by all numbers that do what its words say.

    Parameters
    ----------
    number, family, words : str
        Each may be empty.
    terminals : int
    little : bool, optional
        Whether it is one- to three-gate logic, where that is known.

    Examples
    --------
    >>> asked_for("", "", "hex Schmitt inverter", 14).alike, asked_for("1g04", "lvc", "", 5).least
    (('14', '19', '40106', '4584'), 4)
    """
    number, family = number.upper(), family.upper()
    alike = () if number else numbers_of_words(words, terminals)
    numbers = (number,) if number else alike
    if little is None:
        little = is_little(numbers[0]) if numbers else terminals <= LITTLE_TERMINALS
    least = min(least_terminals(one, family, terminals) for one in numbers or ("",))
    return Asked(number, family, terminals, little, least, alike)
