"""Do the courtyards fit on the board? Bounds, a packer, an exact search for a few, and a checker of its own."""

from landwise.choosing.packing.answer import check_packing
from landwise.choosing.packing.check import faults
from landwise.choosing.packing.model import BOTTOM, NO_PRINT, TOP, Answer, Item, Keepout, Placed, Rect, Room, Strip

__all__ = [
    "BOTTOM",
    "NO_PRINT",
    "TOP",
    "Answer",
    "Item",
    "Keepout",
    "Placed",
    "Rect",
    "Room",
    "Strip",
    "check_packing",
    "faults",
]
