"""What was worked lately from the same objects: a few values, the longest unused goes first.

For what is asked for several times in a row, such as the geometry of one print: told apart by the objects that it
follows from, not by their content, so that asking costs next to nothing. The values themselves don't depend on it.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

T = TypeVar("T")


class Lately(Generic[T]):
    """Values by the objects and the key they follow from.

    Parameters
    ----------
    most : int
        Values that are kept.

    Examples
    --------
    >>> part, lately = [0.5], Lately[float](most=2)
    >>> lately.of((part,), "pitch", lambda: 0.65), lately.of((part,), "pitch", lambda: 0.0)
    (0.65, 0.65)
    >>> lately.of(([0.5],), "pitch", lambda: 0.8)
    0.8
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._turn = threading.Lock()
        self._kept: OrderedDict[Hashable, tuple[tuple[object, ...], T]] = OrderedDict()

    def known(self, held: tuple[object, ...], key: Hashable) -> T | None:
        """What was made, and is still kept; arguments as of `of`."""
        with self._turn:
            found = self._kept.get((*map(id, held), key))
        return None if found is None else found[1]

    def of(self, held: tuple[object, ...], key: Hashable, make: Callable[[], T]) -> T:
        """What was made from the same objects under the same key, or what is made now.

        Parameters
        ----------
        held : tuple of objects
            Told apart by their identity; never changed afterwards.
        key : hashable
            Everything else that the value follows from.
        make : callable
            Makes the value.
        """
        whole = (*map(id, held), key)
        with self._turn:
            found = self._kept.get(whole)
            if found is not None:
                self._kept.move_to_end(whole)
                return found[1]
        value = make()
        with self._turn:
            # Holding the objects keeps their identities their own.
            self._kept[whole] = (held, value)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return value
