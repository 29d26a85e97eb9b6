"""Packages: bodies, terminals and tolerances, from data files and each family's pattern."""

from landwise.outlines.catalogue import catalogue, find
from landwise.outlines.checks import problems
from landwise.outlines.model import FAMILIES, GRIDS, LEADED, LEADLESS, Outline, PublishedLand, Range, Terminal
from landwise.outlines.naming import Named, naming
from landwise.outlines.patterns import terminals
from landwise.outlines.reading import examine_outlines, outline_from, read_outlines

__all__ = [
    "FAMILIES",
    "GRIDS",
    "LEADED",
    "LEADLESS",
    "Named",
    "Outline",
    "PublishedLand",
    "Range",
    "Terminal",
    "catalogue",
    "examine_outlines",
    "find",
    "naming",
    "outline_from",
    "problems",
    "read_outlines",
    "terminals",
]
