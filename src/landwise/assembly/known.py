"""Rates once worked, kept by content: the same part on the same line is not worked twice in one process.

Kept in memory only, least recently used out first. Nothing is written to disk: a part is worked in some ten
milliseconds, less than a file that could be stale is worth.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Any, TypeVar

MOST_KEPT = 4096  # some 10 kB each

T = TypeVar("T")
_kept: OrderedDict[str, Any] = OrderedDict()
_lock = threading.Lock()


def known_rates(work: Callable[[], T], *content: object) -> T:
    """What `work` gives, worked only if the same content was not seen before.

    Parameters
    ----------
    work : callable
        Its result follows from `content` alone.
    content : objects
        Everything that it follows from, as frozen values whose text tells them apart.

    Examples
    --------
    >>> calls = []
    >>> for _ in range(2):
    ...     known_rates(lambda: calls.append("worked"), "an example", 0.1)
    >>> calls
    ['worked']
    """
    key = repr(content)
    with _lock:
        if key in _kept:
            _kept.move_to_end(key)
            before: T = _kept[key]
            return before
    found = work()
    with _lock:
        _kept[key] = found
        while len(_kept) > MOST_KEPT:
            _kept.popitem(last=False)
    return found


def forget() -> None:
    """Forget everything, as a new process would."""
    with _lock:
        _kept.clear()
