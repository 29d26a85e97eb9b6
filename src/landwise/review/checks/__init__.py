"""What an engineer would point at, one side at a time: all checks, worst finding first."""

from __future__ import annotations

from landwise.review.checks import onland, parts, underfoil
from landwise.review.checks.situation import KEYS, Situation
from landwise.review.model import Finding

__all__ = ["CHECKS", "KEYS", "Situation", "find_all"]
CHECKS = (*underfoil.CHECKS, *onland.CHECKS, *parts.CHECKS)


def find_all(given: Situation) -> tuple[Finding, ...]:
    """Every finding of one side, worst first."""
    found = [finding for check in CHECKS for finding in check(given)]
    order = {"fails": 0, "marginal": 1, "not known": 2, "holds": 3}
    keys = list(KEYS)
    return tuple(sorted(found, key=lambda f: (order[f.level], keys.index(f.key), -len(f.apertures), f.component)))
