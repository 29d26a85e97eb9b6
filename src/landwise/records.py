"""Dataclasses whose methods are compiled when one of them is first needed, not when their module is loaded.

Python compiles six methods of every frozen dataclass from text, which takes it a third of the start of a command: four
hundred such classes are loaded, and values are made of few of them. Here a class waits. Whatever is asked of it first
(a value made, compared, printed, its fields) has Python's own `dataclasses.dataclass` make all of them, as it would
have at once.
"""

from __future__ import annotations

import dataclasses
import inspect
import threading
from collections.abc import Callable, Iterator
from types import CellType, FunctionType
from typing import TYPE_CHECKING, Any

# What `dataclasses.dataclass` gives a frozen class, and what it gives one that is compared by its content.
GIVEN = ("__init__", "__repr__", "__setattr__", "__delattr__", "__match_args__")
GIVEN_TOLD = ("__dataclass_fields__", "__dataclass_params__")
COMPARED = ("__eq__", "__hash__")
KNOWN = frozenset({"frozen", "eq", "kw_only"})  # words of the decorator that are followed here
# What every class has of its own, and no copy takes over.
OWN = ("__dict__", "__weakref__")
_turn = threading.RLock()


class _Waiting:
    """Stands for one attribute of a class until it is asked for."""

    def __init__(self, name: str, make: Callable[[], None]) -> None:
        self._name, self._make = name, make

    def __get__(self, value: object, kind: type) -> object:
        self._make()
        return getattr(kind if value is None else value, self._name)


def later(kind: type, **asked: bool) -> type:
    """A class that becomes a dataclass when it is first asked for anything of one; at once where it is no frozen one.

    Parameters
    ----------
    kind : type
    **asked
        Words of `dataclasses.dataclass`.
    """
    names = (*GIVEN, *GIVEN_TOLD, *(COMPARED if asked.get("eq", True) else ()))
    if not asked.get("frozen") or not asked.keys() <= KNOWN or any(name in vars(kind) for name in names):
        return dataclasses.dataclass(**asked)(kind)
    written = {name: value for name, value in vars(kind).items() if name not in OWN}
    written |= {"__annotations__": inspect.get_annotations(kind), "__qualname__": kind.__qualname__}
    waiting = set(names)

    def make() -> None:
        # Made of a copy, and then taken over one by one: another thread finds each as it waits, or made.
        with _turn:
            if not waiting:
                return
            copy: type = dataclasses.dataclass(**asked)(type(kind)(kind.__name__, kind.__bases__, written))
            for name in sorted(waiting, key=GIVEN_TOLD.__contains__):
                made = vars(copy)[name]
                for cell in _cells(made):
                    if cell.cell_contents is copy:
                        cell.cell_contents = kind
                setattr(kind, name, made)
            waiting.clear()

    for name, value in written.items():
        if isinstance(value, dataclasses.Field):  # as a dataclass shows it
            if value.default is dataclasses.MISSING:
                delattr(kind, name)
            else:
                setattr(kind, name, value.default)
    for name in names:
        setattr(kind, name, _Waiting(name, make))
    return kind


def _cells(made: object) -> Iterator[CellType]:
    """Where a method holds the class it was made for: its own and those of what it wraps."""
    while isinstance(made, FunctionType):
        yield from made.__closure__ or ()
        made = getattr(made, "__wrapped__", None)


if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
else:

    def dataclass(kind: type | None = None, /, **asked: bool) -> Any:
        """`dataclasses.dataclass`, made when it is first needed.

        Examples
        --------
        >>> @dataclass(frozen=True)
        ... class Size:
        ...     wide: float
        ...     tall: float = 1.0
        >>> Size(2.0), Size(2.0) == Size(2.0, 1.0), len({Size(2.0), Size(2.0)})
        (Size(wide=2.0, tall=1.0), True, 1)
        """
        return later(kind, **asked) if kind is not None else lambda one: later(one, **asked)
