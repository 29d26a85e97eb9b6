"""Values that share parts, as bytes and back: a judged board with its trails, whose steps are told apart by identity.

Python's own pickling keeps what is shared shared, and reads half a million values in a quarter of a second. What it
may make is held to landwise's own classes and functions, arrays, and Python's plain containers: bytes that name
anything else are refused before anything is made of them.

Most of a judged board are the trails of options that nobody looks at again. A class that says `read_later` is written
apart, some values a group, and read back as an empty value of its class that is filled the first time anything of it is
asked for: whoever asks can't tell the difference, and it stays the same value. The sum of all bytes is checked before
the first is read, so that what is read later was whole then.
"""

from __future__ import annotations

import copyreg
import gc
import io
import pickle
import threading
import zlib
from array import array
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from enum import Enum
from functools import cache
from types import MappingProxyType
from typing import Any

OURS = "landwise."
# A frozen value's method that says what tells it from others: where a read-only mapping holds several that are the
# same, one is kept.
TOLD_APART = "told_apart"
READ_LATER = "read_later"  # a class that is read when first asked for
GROUP = 32  # of them read together: those of a figure or two
UNREAD = "unread"
Reduced = tuple[Callable[..., object], tuple[dict[object, object]]]
Place = tuple[int, int]
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
    with undisturbed():
        return _Book(value).bytes()


# whatever was written; who reads it knows what it wrote
def unpacked(data: bytes | memoryview) -> Any:
    """The value again.

    Raises
    ------
    NotOurs
        For bytes that name anything but values of landwise, arrays and plain containers.
    pickle.UnpicklingError, EOFError, ValueError, KeyError, TypeError, AttributeError, ImportError, IndexError
        For bytes that are no value at all.
    zlib.error
        The same.
    """
    with undisturbed():
        return _Kept(data).value()


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


# --- writing ---


class _Book:
    """A value and all that is read later, each in its group; the first group is the value without that."""

    def __init__(self, value: object) -> None:
        self._sorts: dict[type, str] = {}
        self._owners: dict[int, int] = {}  # group that holds a value of ours, by its identity
        self._shared: dict[int, Place] = {}  # where other groups find it
        self._numbers: dict[int, int] = {}  # of what is read later
        self._later: list[object] = []
        self._homes: list[Place] = []
        self._groups: list[_Group] = []
        waiting = self._written([value])
        while waiting:
            waiting += self._written(waiting.pop())

    def _written(self, values: Sequence[object]) -> list[list[object]]:
        """Write a group; groups of what was met in it for the first time, the first of them last."""
        number, before = len(self._groups), len(self._later)
        group = _Group(self, number)
        self._groups.append(group)
        if number:
            for place, one in enumerate(values):
                self._homes[self._numbers[id(one)]] = (number, place)
        group.dump([dict(vars(one)) for one in values] if number else values[0])
        met = self._later[before:]
        self._homes += [(0, 0)] * len(met)
        return [met[k : k + GROUP] for k in range(0, len(met), GROUP)][::-1]

    def told(self, value: object, here: int) -> int | Place | None:
        """How a group names a value: by its number if it is read later, by its place in another group; None for what it
        holds itself."""
        sort = self._sorts.get(type(value))
        if sort is None:
            sort = self._sorts[type(value)] = _sort_of(type(value))
        if sort == "plain":
            return None
        same = id(value)  # every value is held by the group that wrote it
        if sort == "later":
            number = self._numbers.get(same)
            if number is None:
                number = self._numbers[same] = len(self._later)
                self._later.append(value)
            return number
        owner = self._owners.setdefault(same, here)
        if owner == here:
            return None
        place = self._shared.get(same)
        if place is None:
            place = self._shared[same] = owner, len(self._groups[owner].shared)
            self._groups[owner].shared.append(value)
        return place

    def bytes(self) -> bytes:
        """All groups, once everything is written."""
        kinds = tuple(dict.fromkeys(_full(type(one)) for one in self._later))
        which = bytes(kinds.index(_full(type(one))) for one in self._later)
        return framed([group.bytes() for group in self._groups], self._homes, kinds, which)


def framed(
    groups: Sequence[bytes], homes: Sequence[Place] = (), kinds: Sequence[type] = (), which: bytes = b""
) -> bytes:
    """Groups as one file: sum of the rest, length of the head, head, groups.

    Parameters
    ----------
    groups : sequence of bytes
        Each pickled twice over: what it holds, and what other groups find there.
    homes : sequence of (group, place)
        Of what is read later.
    kinds : sequence of type
        Classes of what is read later.
    which : bytes
        Which of them each is.
    """
    bodies = [zlib.compress(group, 1) for group in groups]
    places = array("I", [number for place in homes for number in place])
    told = tuple(len(one) for one in bodies), places.tobytes(), tuple(kinds), which
    head = zlib.compress(pickle.dumps(told, protocol=5), 1)
    rest = b"".join((len(head).to_bytes(4, "big"), head, *bodies))
    return zlib.crc32(rest).to_bytes(4, "big") + rest


def _sort_of(kind: type) -> str:
    if getattr(kind, READ_LATER, False):
        return "later"
    array_of_numbers = (kind.__module__, kind.__name__) == ("numpy", "ndarray")
    ours = kind.__module__.startswith(OURS) and not issubclass(kind, (Enum, type))
    return "ours" if ours or array_of_numbers else "plain"


class _Group(pickle.Pickler):
    def __init__(self, book: _Book, number: int) -> None:
        self._into = io.BytesIO()
        super().__init__(self._into, protocol=5)
        self._book, self._number = book, number
        self.shared: list[object] = []
        alike: dict[Hashable, object] = {}

        def reduced(content: Mapping[object, object]) -> Reduced:
            return _proxy, ({name: _once(one, alike) for name, one in content.items()},)

        self.dispatch_table = copyreg.dispatch_table | {MappingProxyType: reduced}

    # Python asks once for each value of a class, and never for the many numbers, texts and plain containers (for those
    # too it would ask a `persistent_id`).
    def reducer_override(self, value: object) -> Any:
        told = self._book.told(value, self._number)
        if told is None:
            return NotImplemented
        return (_later, (told,)) if isinstance(told, int) else (_shared, told)

    def bytes(self) -> bytes:
        """What was written, and then what other groups find here."""
        self.dump(self.shared)
        return self._into.getvalue()


# --- reading ---


class _Kept:
    """Written groups, each read when something of it is asked for."""

    def __init__(self, data: bytes | memoryview) -> None:
        rest = memoryview(data)[4:]
        if zlib.crc32(rest).to_bytes(4, "big") != data[:4]:
            raise pickle.UnpicklingError("not as it was written")
        start = 4 + int.from_bytes(rest[:4], "big")
        lengths, homes, kinds, which = _Reader(self, zlib.decompress(rest[4:start])).load()
        self._bodies: list[memoryview] = []
        for length in lengths:
            self._bodies.append(rest[start : start + length])
            start += length
        flat = array("I", homes)
        self._homes = list(zip(flat[::2], flat[1::2], strict=True))
        self._kinds = [unread(kind) for kind in kinds]
        self._which = which
        self._found: dict[int, object] = {}
        self._groups: dict[int, list[object]] = {}  # what other groups find there
        self._members: list[list[int]] = [[] for _ in self._bodies]
        for number, (group, _) in enumerate(self._homes):
            self._members[group].append(number)

    # whatever was written; who reads it knows what it wrote
    def value(self) -> Any:
        """The value, with what is read later still unread."""
        reader = _Reader(self, zlib.decompress(self._bodies[0]))
        value = reader.load()
        self._groups[0] = reader.load()
        return value

    def later(self, number: int) -> object:
        """What is read later, by its number."""
        found = self._found.get(number)
        if found is None:
            kind = self._kinds[self._which[number]]
            found = self._found[number] = object.__new__(kind)
            object.__getattribute__(found, "__dict__")[UNREAD] = self, number
        return found

    def shared(self, group: int, place: int) -> object:
        """What another group finds in one."""
        return self._read(group)[place]

    def fill(self, number: int) -> None:
        """Read the group of something that is asked for."""
        self._read(self._homes[number][0])

    def _read(self, group: int) -> list[object]:
        found = self._groups.get(group)
        if found is None:
            with undisturbed():
                reader = _Reader(self, zlib.decompress(self._bodies[group]))
                states = reader.load()
                found = self._groups[group] = reader.load()
                for number in self._members[group]:
                    one = self.later(number)
                    own = object.__getattribute__(one, "__dict__")
                    own.clear()
                    own.update(states[self._homes[number][1]])
                    object.__setattr__(one, "__class__", type(one).__base__)
        return found


class _Reader(pickle.Unpickler):
    def __init__(self, kept: _Kept, data: bytes) -> None:
        super().__init__(io.BytesIO(data))
        self._kept = kept

    def find_class(self, module: str, name: str) -> object:
        if module == __name__ and name in (_later.__name__, _shared.__name__):
            return self._kept.later if name == _later.__name__ else self._kept.shared
        if (module, name) in OTHERS:
            return super().find_class(module, name)
        if module.startswith(OURS):
            found = super().find_class(module, name)
            # Not what one of our modules only imports.
            if str(getattr(found, "__module__", "")).startswith(OURS):
                return found
        raise NotOurs(f"no value of landwise: {module}.{name}")


_turn = threading.RLock()


@cache
def unread(kind: type) -> type:
    """A class for values that are not read yet: the first time anything of one is asked for, it becomes its kind."""

    def asked(self: object, name: str) -> object:
        with _turn:
            waiting = object.__getattribute__(self, "__dict__").get(UNREAD)
            if waiting is not None:
                kept, number = waiting
                kept.fill(number)
        return getattr(self, name)

    own = {"__slots__": (), "__getattribute__": asked, "__module__": kind.__module__, "__qualname__": kind.__qualname__}
    return type(kind.__name__, (kind,), own)


def _full(kind: type) -> type:
    """The class itself, of one of its unread values too."""
    base = kind.__base__
    return base if base is not None and getattr(base, READ_LATER, False) else kind


def _once(value: object, alike: dict[Hashable, object]) -> object:
    """A value, or the first one met that says it is the same: most of a trail are inputs that every step has."""
    tells: Callable[[object], Hashable] | None = getattr(type(value), TOLD_APART, None)
    return value if tells is None else alike.setdefault((type(value), tells(value)), value)


def _later(number: int) -> object:
    """What is read later, by its number: the name under which a reader's own `later` stands in a group."""
    raise NotOurs(f"value {number} without its file")


def _shared(group: int, place: int) -> object:
    """What another group holds: the name under which a reader's own `shared` stands in a group."""
    raise NotOurs(f"value {place} of group {group} without its file")


def _proxy(content: dict[object, object]) -> Mapping[object, object]:
    return MappingProxyType(content)


def _reduced(content: Mapping[object, object]) -> Reduced:
    return _proxy, (dict(content),)


def send_read_only_mappings() -> None:
    """Read-only mappings travel between processes as what they hold; Python itself does not send them."""
    copyreg.pickle(MappingProxyType, _reduced)  # type: ignore[arg-type]  # stubs want a class of our own
