"""The verdict of each part under one foil: its worst finding, its weakest opening, its expected defects."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from landwise.evidence.figures import Verdict
from landwise.review.checks import Situation
from landwise.review.model import Finding
from landwise.review.naming import packages_of
from landwise.review.partlevels import PartLevels
from landwise.review.verdicts import word


@dataclass(frozen=True)
class PartVerdict:
    """One part under the side's best foil: its verdict, its weakest aperture, expected defects as it came.

    `known` tells whether its joints are counted, or only its prints.
    """

    part: int
    verdict: Verdict
    apertures: int
    least_ratio: float
    defects: float
    known: bool
    package: str


def part_verdicts(given: Situation, findings: Sequence[Finding], levels: PartLevels) -> tuple[PartVerdict, ...]:
    """The parts of a side that have paste, worst first."""
    under = given.under
    order = ("holds", "not known", "marginal", "fails")
    level: dict[str, Verdict] = {}
    for finding in findings:
        if finding.component and order.index(finding.level) > order.index(level.get(finding.component, "holds")):
            level[finding.component] = finding.level
    its = given.part_of
    count = len(given.parts)
    number = np.bincount(its[its >= 0], minlength=count)
    least = np.full(count, np.inf)
    np.minimum.at(least, its[its >= 0], under.area_ratio[its >= 0])
    worst = np.zeros(count, dtype=np.int64)
    np.maximum.at(worst, its[its >= 0], under.code[its >= 0])
    words, _ = packages_of(given.parts, given.frames)
    found = []
    for k in np.flatnonzero(number):
        verdict = word(worst[k])
        other = level.get(given.parts[k].name, "holds")
        if order.index(other) > order.index(verdict):
            verdict = other
        found.append(
            PartVerdict(
                int(k),
                verdict,
                int(number[k]),
                float(least[k]),
                float(levels.defects[k]),
                bool(levels.known[k]),
                words[k],
            )
        )
    return tuple(sorted(found, key=lambda p: (-order.index(p.verdict), -p.defects, p.least_ratio)))
