"""Values that share parts, as bytes and back: a judged board with its trails, whose steps are told apart by identity.

Python's own pickling keeps what is shared shared, and reads half a million values in a quarter of a second. What it
may make is held to landwise's own classes and functions, arrays, and Python's plain containers: bytes that name
anything else are refused before anything is made of them.
"""

from __future__ import annotations

import copyreg
import gc
import io
import pickle
from collections.abc import Callable, Hashable, Iterator, Mapping
from contextlib import contextmanager
from types import MappingProxyType
from typing import Any

OURS = "landwise."
# A frozen value's method that says what tells it from others: where a read-only mapping holds several that are the
# same, one is kept.
TOLD_APART = "told_apart"
Reduced = tuple[Callable[..., object], tuple[dict[object, object]]]
# What else a value may be made of: how the standard library and numpy write themselves down.
OTHERS = frozenset(
    [
        *(("builtins", name) for name in ("set", "frozenset", "slice", "bytearray", "complex")),
        *(("datetime", name) for name in ("date", "datetime", "timedelta", "timezone")),
        *(("numpy", name) for name in ("ndarray", "dtype")),
        *(
            (f"numpy.{core}.{module}", name)
            for core in ("_core", "core")
            for module, name in (
                ("multiarray", "_reconstruct"),
                ("multiarray", "scalar"),
                ("numeric", "_frombuffer"),
            )
        ),
    ]
)


class NotOurs(pickle.UnpicklingError):
    """Bytes that would make something else than a value of landwise."""


def packed(value: object) -> bytes:
    """A value as bytes.

    Raises
    ------
    TypeError, AttributeError, pickle.PicklingError, RecursionError
        For what can't be written down, such as a function inside a function.

    Examples
    --------
    >>> shared = (1.5, 2.5)
    >>> one, other = unpacked(packed((shared, shared)))
    >>> one, one is other
    ((1.5, 2.5), True)
    """
    alike: dict[Hashable, object] = {}

    def reduced(content: Mapping[object, object]) -> Reduced:
        return _proxy, ({name: _once(one, alike) for name, one in content.items()},)

    into = io.BytesIO()
    writer = pickle.Pickler(into, protocol=5)
    writer.dispatch_table = copyreg.dispatch_table | {MappingProxyType: reduced}
    writer.dump(value)
    return into.getvalue()


# whatever was written; who reads it knows what it wrote
def unpacked(data: bytes) -> Any:
    """The value again.

    Raises
    ------
    NotOurs
        For bytes that name anything but values of landwise, arrays and plain containers.
    pickle.UnpicklingError, EOFError, ValueError, KeyError, TypeError, AttributeError, ImportError, IndexError
        For bytes that are no value at all.
    """
    with undisturbed():
        return _Reader(io.BytesIO(data)).load()


@contextmanager
def undisturbed() -> Iterator[None]:
    """Nothing that is made meanwhile is looked through for rubbish: all of it is kept, and looking takes most of the
    time."""
    on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if on:
            gc.enable()


class _Reader(pickle.Unpickler):
    def find_class(self, module: str, name: str) -> object:
        if (module, name) in OTHERS:
            return super().find_class(module, name)
        if module.startswith(OURS):
            found = super().find_class(module, name)
            # Not what one of our modules only imports.
            if str(getattr(found, "__module__", "")).startswith(OURS):
                return found
        raise NotOurs(f"no value of landwise: {module}.{name}")


def _once(value: object, alike: dict[Hashable, object]) -> object:
    """A value, or the first one met that says it is the same: most of a trail are inputs that every step has."""
    tells: Callable[[object], Hashable] | None = getattr(type(value), TOLD_APART, None)
    return value if tells is None else alike.setdefault((type(value), tells(value)), value)


def _proxy(content: dict[object, object]) -> Mapping[object, object]:
    return MappingProxyType(content)


def _reduced(content: Mapping[object, object]) -> Reduced:
    return _proxy, (dict(content),)


def send_read_only_mappings() -> None:
    """Read-only mappings travel between processes as what they hold; Python itself does not send them."""
    copyreg.pickle(MappingProxyType, _reduced)  # type: ignore[arg-type]  # stubs want a class of our own
