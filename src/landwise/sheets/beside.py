"""Work that goes on in a thread of its own, for a library that lets go of the interpreter while it works."""

from __future__ import annotations

from collections.abc import Callable
from threading import Thread
from typing import Generic, TypeVar

T = TypeVar("T")


class Beside(Generic[T]):
    """Work begun now, whose result is fetched later.

    Whoever began it goes on meanwhile; on a second core it then takes no time of its own. The process does not end
    before the work has.

    Parameters
    ----------
    work : callable
        Reads nothing that is changed meanwhile.

    Examples
    --------
    >>> sum_of = Beside(lambda: sum(range(5)))
    >>> sum_of.result()
    10
    """

    def __init__(self, work: Callable[[], T]) -> None:
        self._work = work
        self._made: list[T] = []
        self._error: BaseException | None = None
        self._thread = Thread(target=self._run)
        self._thread.start()

    def _run(self) -> None:
        try:
            self._made.append(self._work())
        except BaseException as error:  # raised where the result is fetched
            self._error = error

    def result(self) -> T:
        """What the work gives, waited for.

        Raises
        ------
        whatever the work raised
        """
        self._thread.join()
        if self._error is not None:
            raise self._error
        return self._made[0]
