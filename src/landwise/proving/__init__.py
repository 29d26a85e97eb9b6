"""The evidence: published cases as data, what landwise computes for each, and what rests on every source.

An edge room: it looks into all stations to hold them against the outside, and no station looks back.
"""

from landwise.proving.resting import resting
from landwise.proving.tables import KINDS, SORTS, Case
from landwise.proving.work import Worked, all_cases, group, tally, work

__all__ = ["KINDS", "SORTS", "Case", "Worked", "all_cases", "group", "resting", "tally", "work"]
