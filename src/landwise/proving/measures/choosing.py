"""Packing as landwise searches and proves it."""

from __future__ import annotations

from landwise.choosing.packing import Item, Room, check_packing

__all__ = ["squares"]


def squares(count: int, length: int, width: int) -> str:
    """Whether squares of sides 1 to `count` lie in a rectangle: `fits`, `does not fit` or not known."""
    items = [Item(f"U{k}", k, k) for k in range(1, count + 1)]
    return str(check_packing(items, Room(length, width)).verdict)
