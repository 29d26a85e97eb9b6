"""A key that stands for one object and no other, so that work on large frozen data is done once."""

from __future__ import annotations

from typing import Generic, TypeVar

Thing = TypeVar("Thing")


class Same(Generic[Thing]):
    """Equal only to the same object. A cache that holds it keeps the object alive, so its identity stays its own.

    >>> first, second = [1], [1]
    >>> Same(first) == Same(first), Same(first) == Same(second)
    (True, False)
    """

    __slots__ = ("what",)

    def __init__(self, what: Thing) -> None:
        self.what = what

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Same) and self.what is other.what

    def __hash__(self) -> int:
        return id(self.what)
