"""Reference designators: reading a cell that holds one, several, or a range of them."""

from __future__ import annotations

import re
import unicodedata

from landwise.errors import InputError

LONGEST_RANGE = 2000
MOST_IN_A_CELL = 20_000
LONGEST_SAMPLE = 200
_RANGE = re.compile(
    r"\b([A-Za-z_]{1,8})(\d{1,5})\s*(?:[-‐–—−…~〜:]|\.{2,3}|\b(?:to|bis|thru|through)\b|(?<=\s)[àa]\s)\s*(?:\1)?"
    r"(\d{1,5})\b"
)
# `U1, 2, 5-7`: the letters are written once. A slash may part the halves of one name, so it needs three numbers.
_CARRIED = re.compile(
    r"(?<![A-Za-z0-9_$])(?P<letters>[A-Za-z_]{1,8})(?P<first>\d{1,5})"
    r"(?P<more>(?:\s*[,;&、]\s*\d{1,5}(?:\s*[-~]\s*\d{1,5})?(?![\w.]))+|(?:/\d{1,5}(?![\w.])){2,})"
)
_NAME = re.compile(r"[A-Za-z][\w+*./()$-]{0,30}")  # `U$1`: numbered by the program, not by the designer
_TYPICAL = re.compile(r"[A-Za-z]{1,6}\$?\d{1,5}[A-Za-z]?\d{0,4}")


def expand(cell: str) -> tuple[str, ...]:
    """All references of a cell, in order, ranges written out, each once.

    Raises
    ------
    InputError
        If the cell stands for more references than any board has.

    Examples
    --------
    >>> expand("U7 - U9, U14")
    ('U7', 'U8', 'U9', 'U14')
    >>> expand("C1 C19 C26 ,")
    ('C1', 'C19', 'C26')
    >>> expand("P2, JP3-JP4, U1/U2 & U5")
    ('P2', 'JP3', 'JP4', 'U1', 'U2', 'U5')
    >>> expand("U1, 2, 5-7"), expand("Ｕ１～Ｕ３")
    (('U1', 'U2', 'U5', 'U6', 'U7'), ('U1', 'U2', 'U3'))
    """
    cell = _CARRIED.sub(_with_letters, unicodedata.normalize("NFKC", cell))
    found: dict[str, None] = {}
    at = 0
    for match in _RANGE.finditer(cell):
        first, last = int(match[2]), int(match[3])
        if not first < last <= first + LONGEST_RANGE:
            continue
        found.update(dict.fromkeys(_split(cell[at : match.start()])))
        found.update(dict.fromkeys(f"{match[1]}{number}" for number in range(first, last + 1)))
        at = match.end()
        if len(found) > MOST_IN_A_CELL:
            raise InputError("too many references in one cell", expected=f"at most {MOST_IN_A_CELL}")
    found.update(dict.fromkeys(_split(cell[at:])))
    return tuple(found)


def _with_letters(match: re.Match[str]) -> str:
    """Every number of a list with the letters of the first."""
    numbers = re.findall(r"\d+(?:\s*[-~]\s*\d+)?", match["more"])
    return ", ".join(f"{match['letters']}{number}" for number in (match["first"], *numbers))


def _split(text: str) -> list[str]:
    tokens = [token.strip(".,:\"'") for token in re.split(r"[,;|&、，；\s]+", text)]
    found: list[str] = []
    for token in tokens:
        pieces = re.split(r"[/+]", token)
        # `U1/U2` is two places; `P1/2` or `LED+` is a name.
        if len(pieces) > 1 and all(_TYPICAL.fullmatch(piece) for piece in pieces):
            found += pieces
        elif _NAME.fullmatch(token):
            found.append(token)
    return found


def looks_like_references(cell: str) -> bool:
    """Whether a cell holds nothing but references of the usual form.

    >>> looks_like_references("R1, R2"), looks_like_references("10k")
    (True, False)
    """
    try:
        names = expand(cell[:LONGEST_SAMPLE])
    except InputError:
        return True  # far too many of them; the reader of the bill says where
    return bool(names) and all(_TYPICAL.fullmatch(name) for name in names)


def prefix_of(reference: str) -> str:
    """The letters a reference begins with, in capitals."""
    match = re.match(r"[A-Za-z_]+", reference)
    return match[0].upper() if match else ""
