"""What landwise computes for the cases that no formula of the book answers: one small function a measure.

A measure takes the inputs of a row by name, in the units its docstring says, and returns a number or a word.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from importlib import import_module
from types import MappingProxyType

from landwise.errors import InputError, UnknownNameError

Answer = float | str
Measure = Callable[..., Answer]
ROOMS = ("lands", "printing", "joints", "assembly", "service", "life", "choosing", "parts")


@cache
def measures() -> Mapping[str, Measure]:
    """Every measure by key: `room.name`, the public functions of the modules beside this one.

    >>> "joints.torsion" in measures()
    True
    """
    found: dict[str, Measure] = {}
    for room in ROOMS:
        module = import_module(f"landwise.proving.measures.{room}")
        found |= {f"{room}.{name}": getattr(module, name) for name in module.__all__}
    return MappingProxyType(found)


def measured(key: str, inputs: Mapping[str, object]) -> Answer:
    """Work one measure.

    Raises
    ------
    UnknownNameError
        For a key that there is not.
    InputError
        For inputs that it doesn't take.

    >>> round(float(measured("joints.torsion", {"ratio": 1.0})), 3)
    0.141
    """
    if key not in measures():
        raise UnknownNameError("no such measure", found=key, expected=", ".join(sorted(measures())))
    try:
        return measures()[key](**inputs)
    except TypeError as error:
        raise InputError("a measure doesn't take these inputs", place=key, found=str(error)) from None
