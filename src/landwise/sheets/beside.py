"""Work that goes on in a thread of its own, for a library that lets go of the interpreter while it works."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TypeVar

T = TypeVar("T")


def beside(work: Callable[[], T]) -> Future[T]:
    """Work begun now, whose result, or fault, is fetched later.

    Whoever began it goes on meanwhile; on a second core it then takes no time of its own. The process does not end
    before the work has.

    Parameters
    ----------
    work : callable
        Reads nothing that is changed meanwhile.

    Examples
    --------
    >>> sum_of = beside(lambda: sum(range(5)))
    >>> sum_of.result()
    10
    """
    one = ThreadPoolExecutor(max_workers=1)
    begun = one.submit(work)
    one.shutdown(wait=False)
    return begun
