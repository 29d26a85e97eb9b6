"""Land patterns: from an outline to copper, mask openings, holes and courtyard."""

from landwise.lands.model import LEVELS, STYLES, Bind, Land, LandPattern, Level, Style
from landwise.lands.pattern import land_pattern
from landwise.lands.rules import RULE_REASONS, LandRules

__all__ = [
    "LEVELS",
    "RULE_REASONS",
    "STYLES",
    "Bind",
    "Land",
    "LandPattern",
    "LandRules",
    "Level",
    "Style",
    "land_pattern",
]
