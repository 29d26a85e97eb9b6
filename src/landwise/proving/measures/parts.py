"""Reading order numbers, package designators and functions as landwise does."""

from __future__ import annotations

from types import MappingProxyType

from landwise.fabdata.bills import Bill, BillLine
from landwise.fabdata.functions import functions
from landwise.fabdata.packages import read_package
from landwise.fabdata.parts import recognise
from landwise.outlines import Range, catalogue

__all__ = ["dimension", "outline", "style", "terminals", "terminals_of"]


def outline(number: str) -> str:
    """The catalogue's outline of an order number on a bill."""
    line = BillLine(1, ("U1",), 1, MappingProxyType({"value": number}))
    found = recognise(Bill("bill", MappingProxyType({"value": "value"}), (line,), (), ())).logic
    return found[0].outline if found else "not known"


def style(designator: str) -> str:
    """The package style that a designator names."""
    found = read_package(designator)
    return "not known" if found is None or found.style is None else str(found.style)


def terminals_of(designator: str) -> float:
    """The terminals that a designator names."""
    found = read_package(designator)
    return float("nan") if found is None or found.terminals is None else float(found.terminals)


def terminals(function: str) -> float:
    """Terminals of a standard function."""
    return float(functions()[function].terminals)


def dimension(outline: str, dimension: str, limit: str) -> float:
    """A dimension of the catalogue [mm]: its `min`, `max` or `nom`."""
    found: Range | float = getattr(catalogue()[outline], dimension)
    if isinstance(found, Range):
        return float(getattr(found, limit))
    return float(found)
