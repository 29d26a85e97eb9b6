"""Prints, foils and bridging under one name; `landwise.printing` offers the same."""

from landwise.printing.bridging import Bridging, bridging
from landwise.printing.deposits import print_part
from landwise.printing.foils import (
    COPLANARITY_SOURCE,
    COPLANARITY_UM,
    KEEP_OUT_PER_STEP,
    KEEP_OUT_SOURCE,
    Demand,
    FoilWindow,
    foil_window,
    line_demand,
    step_keep_out,
)

__all__ = [
    "COPLANARITY_SOURCE",
    "COPLANARITY_UM",
    "KEEP_OUT_PER_STEP",
    "KEEP_OUT_SOURCE",
    "Bridging",
    "Demand",
    "FoilWindow",
    "bridging",
    "foil_window",
    "line_demand",
    "print_part",
    "step_keep_out",
]
