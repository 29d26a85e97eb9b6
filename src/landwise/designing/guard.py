"""No gain from the model's own errors: a design is held against the print before it wherever the model may be wrong."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from landwise.assembly.drawn import names, prior_scores
from landwise.assembly.knowledge import default_knowledge
from landwise.designing.case import Case, Scored
from landwise.designing.curves import wall_curve
from landwise.designing.frame import Table, measured
from landwise.designing.lockstep import Search
from landwise.designing.margins import Rates, margin_of, worked
from landwise.designing.points import Centres
from landwise.errors import LandwiseError
from landwise.joints.mounted import mounted
from landwise.joints.standing import ball_stand
from landwise.lands.model import LandPattern
from landwise.outlines import Outline
from landwise.printing.model import Print

Array = NDArray[np.float64]
SLACK = 0.02  # standard deviations: below what the fast model resolves
BALLS_KEPT = 0.95  # of a ball joint's height, so that nine tenths of its life stay
STAND_KEPT = 0.73  # of a leadless part's height by force balance, a little below what the search is held to
WISHED_MM = 0.050
WANTED_CLASS = 2  # dedicated service: no fillet may fall below it, nor below what it was
DRAWS = 64  # of what is not known
SETTLED = 1.25  # times the line's scatter at which a target that is held is held well enough
TARGET = 100.0  # per million joints, what a line holds bridges and opens to


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


def beats_everywhere(case: Case, row: Array, result: Scored) -> Search[bool]:
    """Whether a design is as good as the print before it at both ends of what the model leaves open.

    `result` is the design's score by design points of its own.

    Notes
    -----
    The model is worked at common draws of everything that is not known: every term of the scatter with a range, and the
    place in the transfer's band. A design has to keep the margin of the print before it in the middle, at 5 and at 95 %
    of those draws, at both ends of the transfer's band by itself, and under a law of transfer that no design is made
    with (`wall_curve`). Where it holds the target at one and a quarter times the scatter it need be no better.
    """
    centres = yield from case.search_centres(row)
    rows = np.vstack([case.base, row])
    both = measured(case.frame, rows)
    margins = np.stack([result.before, result.margins[:, 0]], axis=1)
    scores = prior_scores(DRAWS)
    named = {name: scores[:, k, None, None] for k, name in enumerate(names())}
    spreads = default_knowledge().deposits[:DRAWS]
    drawn = case.line.scatter.drawn({**named, "deposits": spreads[:, None, None]})
    one = [(case.pastes[0], centres[0])]
    every = worked(case.frame, both, case.foil_um, case.line, one, balance=case.balance, scatter=drawn).margin
    ends = np.quantile(every, (0.05, 0.95), axis=0)
    around: tuple[Centres, ...] = yield case.around(row, (wall_curve,), centres[:1])
    answer: tuple[Table, Rates] = yield case.rated(rows, around, (wall_curve,))
    held = np.vstack([margins, ends, answer[1].margin])
    least = np.minimum(held[:, 0], SETTLED * float(margin_of(TARGET / 1e6)))
    return bool(np.all(held[:, 1] >= least - SLACK))
