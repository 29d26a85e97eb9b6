"""All drawings of parts to scale, under one roof: top view, side view, print section, rule, land-pattern sheet."""

from landwise.sheets.dimensions import Dimensioned
from landwise.sheets.landsheet import land_drawing
from landwise.sheets.marks import mm_rule
from landwise.sheets.plan import BARE, PART, top_view
from landwise.sheets.profile import SideView, SolderProfile, side_view
from landwise.sheets.section import print_section, section_of

__all__ = [
    "BARE",
    "PART",
    "Dimensioned",
    "SideView",
    "SolderProfile",
    "land_drawing",
    "mm_rule",
    "print_section",
    "section_of",
    "side_view",
    "top_view",
]
