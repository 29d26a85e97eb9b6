"""Freed memory handed back to the system, where the C library keeps it.

A large film is made of millions of small pieces of memory; what is freed between two stages lies scattered among what
is kept, and the GNU C library hands none of it back by itself. Elsewhere nothing needs doing, and nothing is done.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import cache

MANY = 5_000  # shapes: below, it isn't worth the tens of milliseconds


@cache
def _trim() -> Callable[[int], int] | None:
    """The C library's own way (`malloc_trim`, GNU C library manual); None where it has none."""
    if sys.platform != "linux":
        return None
    import ctypes

    try:
        found: Callable[[int], int] = ctypes.CDLL(None).malloc_trim
    except (OSError, AttributeError):
        return None
    return found


def give_back(shapes: int) -> bool:
    """Hand back what was freed while so many shapes were worked; whether any was.

    Examples
    --------
    >>> give_back(12)
    False
    """
    trim = _trim() if shapes >= MANY else None
    return trim is not None and bool(trim(0))
