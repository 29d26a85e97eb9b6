"""Reference designators: reading a cell that holds one, several, or a range of them."""

from __future__ import annotations

import re

LONGEST_RANGE = 2000
_RANGE = re.compile(r"\b([A-Za-z_]{1,8})(\d{1,5})\s*(?:-|–|—|…|\.{2,3}|\bto\b)\s*(?:\1)?(\d{1,5})\b")
_NAME = re.compile(r"[A-Za-z][\w+*./()-]{0,30}")
_TYPICAL = re.compile(r"[A-Za-z]{1,6}\d{1,5}[A-Za-z]?\d{0,4}")


def expand(cell: str) -> tuple[str, ...]:
    """All references of a cell, in order, ranges written out, each once.

    >>> expand("U7 - U9, U14")
    ('U7', 'U8', 'U9', 'U14')
    >>> expand("C1 C19 C26 ,")
    ('C1', 'C19', 'C26')
    >>> expand("P2, JP3-JP4")
    ('P2', 'JP3', 'JP4')
    """
    written = _RANGE.sub(_write_out, cell)
    found = [token.strip(".,") for token in re.split(r"[,;\s]+", written) if token.strip(".,")]
    return tuple(dict.fromkeys(token for token in found if _NAME.fullmatch(token)))


def _write_out(match: re.Match[str]) -> str:
    prefix, first, last = match[1], int(match[2]), int(match[3])
    if not first < last <= first + LONGEST_RANGE:
        return match[0]
    return " ".join(f"{prefix}{number}" for number in range(first, last + 1))


def looks_like_references(cell: str) -> bool:
    """Whether a cell holds nothing but references of the usual form.

    >>> looks_like_references("R1, R2"), looks_like_references("10k")
    (True, False)
    """
    names = expand(cell)
    return bool(names) and all(_TYPICAL.fullmatch(name) for name in names)


def prefix_of(reference: str) -> str:
    """The letters a reference begins with, in capitals."""
    match = re.match(r"[A-Za-z_]+", reference)
    return match[0].upper() if match else ""
