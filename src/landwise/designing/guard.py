"""No gain from the model's own errors: a design is held against the print before it wherever the model may be wrong."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from landwise.designing.case import Case
from landwise.designing.curves import wall_curve
from landwise.designing.frame import measured
from landwise.designing.margins import margin_of, worked
from landwise.designing.points import centres_of
from landwise.errors import LandwiseError
from landwise.joints.mounted import mounted
from landwise.joints.standing import ball_stand
from landwise.lands.model import LandPattern
from landwise.outlines import Outline
from landwise.printing.model import Print

Array = NDArray[np.float64]
# Inputs whose own 90 % range moves the rates most; each is put at both of its ends, one at a time.
UNCERTAIN = ("transfer", "slump_share", "slump_between", "take_back_spread", "remaining_share", "coplanarity_share")
SLACK = 0.02  # standard deviations: below what the fast model resolves
BALLS_KEPT = 0.95  # of a ball joint's height, so that nine tenths of its life stay
STAND_KEPT = 0.73  # of a leadless part's height by force balance, a little below what the search is held to
WISHED_MM = 0.050
WANTED_CLASS = 2  # dedicated service: no fillet may fall below it, nor below what it was
MOST = float(margin_of(0.0))


@dataclass(frozen=True)
class Held:
    """What a print's joints come to: classes met by a lead, and the height of a leadless part or of balls. [mm]"""

    classes: tuple[int, ...] = ()
    leadless_mm: float | None = None
    on_pad: bool = False
    balls_mm: float | None = None

    def kept_by(self, other: Held) -> bool:
        """Whether another print's joints do: every class wanted, and no more height lost than may be."""
        kept = zip(self.classes, other.classes, strict=False)
        if len(other.classes) < len(self.classes) or any(now < min(was, WANTED_CLASS) for was, now in kept):
            return False
        if self.leadless_mm is not None and other.leadless_mm is not None:
            least = STAND_KEPT * self.leadless_mm
            if self.on_pad:
                least = min(self.leadless_mm, 0.95 * WISHED_MM)
            if other.leadless_mm < least:
                return False
        if self.balls_mm is not None:
            return other.balls_mm is not None and other.balls_mm >= BALLS_KEPT * self.balls_mm
        return True


def held_joints(outline: Outline, pattern: LandPattern, printed: Print) -> Held:
    """What the joints of a print come to."""
    try:
        stand = ball_stand(outline, pattern, printed)
    except LandwiseError:
        return Held()
    found = mounted(outline, pattern, printed, stand)
    lead, leadless = found.lead, found.leadless
    return Held(
        classes=(lead.joint_class, lead.class_low, lead.class_raised) if lead else (),
        leadless_mm=leadless.height_mm if leadless else None,
        on_pad=leadless is not None and leadless.window is not None,
        balls_mm=stand.height_mm if stand else None,
    )


def beats_everywhere(case: Case, row: Array) -> bool:
    """Whether a design is as good as the print before it at both ends of what the model leaves open.

    Notes
    -----
    The ends are those of the range that reported rates carry: every uncertain input at both ends of its own 90 % range,
    one at a time, the changes combined as the root of the sum of their squares. A design has to keep the margin of the
    print before it in the middle and at both ends of that range, at both ends of the transfer's band by itself, and
    under a law of transfer that no design is made with (`wall_curve`).
    """
    design = measured(case.frame, row[None])
    centres = case.centres_at(design, case.centres)
    both = measured(case.frame, np.vstack([case.base, row]))
    margins = case.rates(both, centres).margin
    moved = [margins[1:] - margins[0]]
    for uncertain in UNCERTAIN:
        if uncertain == "transfer":
            continue
        changes = []
        for end in ("low", "high"):
            ends = {uncertain: end}
            if uncertain == "coplanarity_share":
                ends["flush_coplanarity_share"] = end
            found = worked(case.frame, both, case.foil_um, case.line.at(ends), [(case.pastes[0], centres[0])])
            changes.append(found.margin[0] - margins[0])
        moved.append(np.array(changes))
    worse = np.sqrt(sum(np.minimum(0.0, one.min(axis=0)) ** 2 for one in moved))
    better = np.sqrt(sum(np.maximum(0.0, one.max(axis=0)) ** 2 for one in moved))
    other = centres_of(case.frame, design, case.foil_um, case.line, wall_curve, centres[0])
    wall = worked(case.frame, both, case.foil_um, case.line, [(wall_curve, other)]).margin
    ends_of = np.vstack([margins, margins[0] - worse, np.minimum(margins[0] + better, MOST), wall])
    return bool(np.all(ends_of[:, 1] >= ends_of[:, 0] - SLACK))
