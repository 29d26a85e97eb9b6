"""What was worked before, by what it follows from: for callers that ask nearly the same again and again.

The engine gives the same numbers with and without it; a test compares whole results. What it keeps is bounded,
and the longest unused goes first.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Any, TypeVar

MOST_SHELVES = 200  # prints whose geometry is kept
MOST_RECALLED = 8_000  # sets of figures and rankings

T = TypeVar("T")


class Memory:
    """Geometry by print, and anything else by its key.

    Examples
    --------
    >>> memory = Memory()
    >>> memory.recalled("two", None, lambda: 1 + 1), memory.recalled("two", None, lambda: 0)
    (2, 2)
    """

    def __init__(self) -> None:
        self._turn = threading.Lock()
        self._shelves: OrderedDict[Hashable, dict[Any, Any]] = OrderedDict()
        self._recalled: OrderedDict[Hashable, tuple[object, Any]] = OrderedDict()

    def shelf(self, key: Hashable) -> dict[Any, Any]:
        """A dictionary of its own for a key."""
        with self._turn:
            found = self._shelves.setdefault(key, {})
            self._shelves.move_to_end(key)
            while len(self._shelves) > MOST_SHELVES:
                self._shelves.popitem(last=False)
            return found

    def recalled(self, key: Hashable, held: object, make: Callable[[], T]) -> T:
        """What was made for a key, or what is made now.

        Parameters
        ----------
        key : hashable
            Everything the value follows from.
        held : object
            An object it also follows from, told apart by its identity.
        make : callable
            Makes the value.
        """
        whole = (key, id(held))
        with self._turn:
            found = self._recalled.get(whole)
            if found is not None:
                self._recalled.move_to_end(whole)
                value: T = found[1]
                return value
        value = make()
        with self._turn:
            # Holding the object keeps its identity its own.
            self._recalled[whole] = (held, value)
            while len(self._recalled) > MOST_RECALLED:
                self._recalled.popitem(last=False)
        return value
