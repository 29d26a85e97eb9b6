"""What a value is made of, as a short mark: values of equal content have equal marks, in every run of one version.

For keys of what is kept (`landwise.memory.known`) where the content holds arrays, whose text leaves out their middle.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import fields, is_dataclass

import numpy as np


def mark_of(*values: object) -> str:
    """A mark of all that the values hold, 40 hexadecimal digits.

    Parameters
    ----------
    values : objects
        Plain values, arrays, tuples, lists, mappings (in their order) and dataclasses of these.

    Raises
    ------
    TypeError
        For anything else, whose content is not known.

    Examples
    --------
    >>> middle = np.zeros(5000)
    >>> middle[2500] = 1.0
    >>> repr(middle) == repr(np.zeros(5000)), mark_of(middle) == mark_of(np.zeros(5000))
    (True, False)
    >>> mark_of(("ab", "c")) == mark_of(("a", "bc")), mark_of(1) == mark_of(1.0), mark_of(2.5) == mark_of(2.5)
    (False, False, True)
    """
    digest = hashlib.blake2b(digest_size=20)
    _add(digest, values)
    return digest.hexdigest()


def number_of(content: object, size: int) -> int:
    """A whole number of so many bytes that follows from a plain value's text: a seed, the same on every machine.

    Parameters
    ----------
    content : object
        Numbers, texts and tuples of them, frozen values that print all they hold.
    size : int
        Bytes of the number, up to 64.

    Examples
    --------
    >>> number_of(("a part", 0.1), 7) == number_of(("a part", 0.1), 7) != number_of(("a part", 0.2), 7)
    True
    """
    return int.from_bytes(hashlib.blake2b(repr(content).encode(), digest_size=size).digest(), "big")


def _add(digest: hashlib.blake2b, value: object) -> None:
    """Every piece goes in with its kind and its length, so that no two contents are the same bytes."""
    if isinstance(value, np.ndarray):
        if value.dtype.hasobject:
            raise TypeError("an array of objects has no content of its own")
        digest.update(f"array {value.dtype.str} {value.shape};".encode())
        digest.update(np.ascontiguousarray(value).tobytes())
    elif value is None or isinstance(value, (bool, int, float, str, np.generic)):
        text = repr(value).encode()
        digest.update(b"%s %d;" % (type(value).__name__.encode(), len(text)))
        digest.update(text)
    elif isinstance(value, (tuple, list)):
        digest.update(b"row %d;" % len(value))
        for one in value:
            _add(digest, one)
    elif isinstance(value, Mapping):
        digest.update(b"map %d;" % len(value))
        for key, one in value.items():
            _add(digest, key)
            _add(digest, one)
    elif is_dataclass(value) and not isinstance(value, type):
        named = fields(value)
        digest.update(f"{type(value).__module__}.{type(value).__qualname__} {len(named)};".encode())
        for field in named:
            _add(digest, getattr(value, field.name))
    else:
        raise TypeError(f"no content that is known: {type(value).__name__}")
