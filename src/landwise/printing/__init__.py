"""What the foil leaves on the lands: apertures, paste transfer, deposits, and the foils that work."""

from landwise.printing.apertures import RULE_REASONS, ApertureRules, apertures, pane_coverage
from landwise.printing.bounds import BoundMet, bounds_met
from landwise.printing.bridging import Bridging, bridging, squeeze_spread
from landwise.printing.deposits import print_part
from landwise.printing.foils import Demand, FoilWindow, Stencils, foil_window, line_demand, step_keep_out
from landwise.printing.holes import DrilledJoint, HolePaste, fillet_volume, paste_in_hole
from landwise.printing.model import POWDERS, TECHNOLOGIES, Aperture, Deposit, Foil, Powder, Print, Technology, Transfer
from landwise.printing.paste import least_opening_um, metal_fraction, paste_metal_fraction, slump_spacing
from landwise.printing.release import AREA_RATIO_LIMIT, ASPECT_LIMIT, area_ratio, aspect_ratio, thickest_for
from landwise.printing.transfer import failing_area_ratio, holding_area_ratio, release_verdict, transfer

__all__ = [
    "AREA_RATIO_LIMIT",
    "ASPECT_LIMIT",
    "POWDERS",
    "RULE_REASONS",
    "TECHNOLOGIES",
    "Aperture",
    "ApertureRules",
    "BoundMet",
    "Bridging",
    "Demand",
    "Deposit",
    "DrilledJoint",
    "Foil",
    "FoilWindow",
    "HolePaste",
    "Powder",
    "Print",
    "Stencils",
    "Technology",
    "Transfer",
    "apertures",
    "area_ratio",
    "aspect_ratio",
    "bounds_met",
    "bridging",
    "failing_area_ratio",
    "fillet_volume",
    "foil_window",
    "holding_area_ratio",
    "least_opening_um",
    "line_demand",
    "metal_fraction",
    "pane_coverage",
    "paste_in_hole",
    "paste_metal_fraction",
    "print_part",
    "release_verdict",
    "slump_spacing",
    "squeeze_spread",
    "step_keep_out",
    "thickest_for",
    "transfer",
]
