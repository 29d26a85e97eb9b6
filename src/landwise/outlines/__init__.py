"""Packages: bodies, terminals and tolerances, from data files and each family's pattern."""

from landwise.outlines.catalogue import catalogue, find, outline_from, read_outlines
from landwise.outlines.checks import problems
from landwise.outlines.model import FAMILIES, GRIDS, LEADED, LEADLESS, Outline, PublishedLand, Range, Terminal
from landwise.outlines.patterns import terminals

__all__ = [
    "FAMILIES",
    "GRIDS",
    "LEADED",
    "LEADLESS",
    "Outline",
    "PublishedLand",
    "Range",
    "Terminal",
    "catalogue",
    "find",
    "outline_from",
    "problems",
    "read_outlines",
    "terminals",
]
