"""Dataclasses that are made when first needed are those that Python's own decorator makes at once."""

from __future__ import annotations

import copy
import dataclasses
import functools
import inspect
import pickle
import threading
from dataclasses import field

import pytest

from landwise.records import dataclass, later

PYTHONS_OWN = dataclasses.dataclass


def kinds(decorator):
    """The same classes by a decorator: plain, inheriting, with defaults and factories, by keyword, told apart."""

    @decorator(frozen=True)
    class Plain:
        """A record."""

        a: int
        b: str = "x"
        c: tuple = field(default=(), repr=False, compare=False)

        @functools.cached_property
        def twice(self):
            return self.a * 2

    @decorator(frozen=True)
    class Below(Plain):
        d: list = field(default_factory=list, hash=False)

        def __post_init__(self):
            object.__setattr__(self, "b", self.b.upper())

    @decorator(frozen=True, kw_only=True)
    class Named:
        a: int
        b: dataclasses.InitVar[int] = 3

        def __post_init__(self, b):
            object.__setattr__(self, "a", self.a + b)

    @decorator(frozen=True, eq=False)
    class Itself:
        a: int

    return Plain, Below, Named, Itself


OURS, PYTHONS = kinds(dataclass), kinds(PYTHONS_OWN)
PAIRS = pytest.mark.parametrize(
    ("ours", "pythons"), list(zip(OURS, PYTHONS, strict=True)), ids=lambda one: one.__name__
)


def told(kind):
    """What a class is as a dataclass."""
    fields = [
        (one.name, one.type, one.default, one.repr, one.compare, one.hash, one.kw_only)
        for one in dataclasses.fields(kind)
    ]
    return (
        fields,
        repr(kind.__dataclass_params__),
        kind.__match_args__,
        str(inspect.signature(kind)),
        sorted(vars(kind)),
    )


@PAIRS
def test_a_class_is_what_pythons_decorator_makes(ours, pythons):
    assert told(ours) == told(pythons)


FIRST = {
    "made": lambda kind: kind(a=1),
    "printed": lambda kind: repr(kind(a=1)).replace(hex(0), ""),
    "equal": lambda kind: (kind(a=1) == kind(a=1), kind(a=1) == kind(a=2), kind(a=1) == 1),
    "hashed": lambda kind: len({kind(a=1), kind(a=1), kind(a=2)}),
    "replaced": lambda kind: dataclasses.replace(kind(a=1), a=5).a,
    "unmade": lambda kind: object.__new__(kind) == object.__new__(kind) if not dataclasses.fields(kind) else None,
    "a dataclass": dataclasses.is_dataclass,
    "as a dict": lambda kind: dataclasses.asdict(kind(a=1)),
    "copied": lambda kind: copy.deepcopy(kind(a=1)).a,
    "pattern": lambda kind: kind.__match_args__,
    "missing": lambda kind: kind(),
    "too many": lambda kind: kind(1, 2, 3, 4, 5, 6),
    "set": lambda kind: setattr(kind(a=1), "a", 2),
    "deleted": lambda kind: delattr(kind(a=1), "a"),
    "new attribute": lambda kind: setattr(kind(a=1), "other", 2),
    "default": lambda kind: kind.b,
}


def outcome(action, kind):
    """What comes of an action, or its error, without what differs between two classes of one name."""
    try:
        found = action(kind)
    except Exception as error:  # which one is what is compared
        return type(error), str(error)
    return str(found).split(" object at ")[0]


@pytest.mark.parametrize("first", FIRST)
@pytest.mark.parametrize("number", range(len(OURS)), ids=[one.__name__ for one in OURS])
def test_whatever_is_asked_first_answers_as_pythons_own(first, number):
    """Each time of classes that nothing was asked of."""
    if first == "replaced" and OURS[number].__name__ == "Named":
        pytest.skip("replaces no field that is only given")
    assert outcome(FIRST[first], kinds(dataclass)[number]) == outcome(FIRST[first], kinds(PYTHONS_OWN)[number])


def test_nothing_is_made_before_it_is_asked_for(monkeypatch):
    made = []

    def counted(**asked):
        made.append(asked)
        return PYTHONS_OWN(**asked)

    monkeypatch.setattr(dataclasses, "dataclass", counted)
    kind = kinds(dataclass)[0]
    assert made == []
    value = object.__new__(kind)  # as Python's pickling makes one
    vars(value).update(a=1, b="x", c=())
    assert value.a == 1
    assert made == []
    assert value == kind(1)
    assert made == [{"frozen": True}]


def test_what_changes_is_made_at_once(monkeypatch):
    made = []
    monkeypatch.setattr(dataclasses, "dataclass", lambda **asked: lambda kind: made.append(asked) or kind)

    class Changing:
        a: int

    later(Changing)
    later(Changing, frozen=True, slots=True)
    Changing.__eq__ = object.__eq__
    later(Changing, frozen=True)
    assert made == [{}, {"frozen": True, "slots": True}, {"frozen": True}]


def test_threads_that_ask_at_once_all_find_it_made():
    """A value read from a file is hashed by several threads before its class is made."""
    for _ in range(20):
        kind = kinds(dataclass)[0]
        start, found = threading.Barrier(4), []
        values = []
        for _ in range(4):
            value = object.__new__(kind)
            vars(value).update(a=1, b="x", c=())
            values.append(value)

        def ask(value, start=start, found=found, kind=kind):
            start.wait()
            found.append((hash(value), value == kind(1), repr(value)))

        threads = [threading.Thread(target=ask, args=(value,)) for value in values]
        for one in threads:
            one.start()
        for one in threads:
            one.join()
        assert len(found) == 4
        assert set(found) == {(hash((1, "x")), True, repr(kind(1)))}


@dataclass(frozen=True)
class Kept:
    a: int


def test_a_value_is_pickled_as_ever():
    assert pickle.loads(pickle.dumps(Kept(3))) == Kept(3)


def test_every_class_of_ours_can_be_made():
    """A fault in one would show where it is first used, not where it is loaded: all of them are asked here."""
    import importlib
    import pkgutil

    import landwise

    asked = 0
    for found in pkgutil.walk_packages(landwise.__path__, "landwise."):
        if found.name.endswith("__main__"):
            continue
        module = importlib.import_module(found.name)
        for kind in vars(module).values():
            if isinstance(kind, type) and kind.__module__ == found.name and dataclasses.is_dataclass(kind):
                assert inspect.signature(kind.__init__).parameters, kind
                asked += 1
    assert asked > 400
