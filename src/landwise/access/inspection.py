"""Which joints can be seen, from where, and what the line needs to look at them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from landwise.outlines import LEADED, LEADLESS, Outline, terminals
from landwise.outlines.model import Terminal

Sight = Literal["from above", "from the side", "not at all"]
SIGHTS: tuple[Sight, ...] = ("from above", "from the side", "not at all")
# Practice classes: gull-wing joints show toe, heel and sides; leadless ones only a wetted flank; grids only
# their outer row, obliquely.
SOURCES = ("visibility-practice", "aoi-surface-only")


@dataclass(frozen=True)
class Sights:
    """How many joints of a part can be seen from where.

    `needs` is what inspection of all of them takes, in the words of `assembly.lines.VIEWS`.
    """

    from_above: int
    from_the_side: int
    not_at_all: int
    needs: tuple[str, ...]
    why: str

    @property
    def joints(self) -> int:
        """All joints, the exposed pad included."""
        return self.from_above + self.from_the_side + self.not_at_all

    @property
    def seen_share(self) -> float:
        """Share of joints that optical inspection from above judges. [-]"""
        return self.from_above / self.joints


def sight(outline: Outline, terminal: Terminal) -> Sight:
    """From where one joint can be judged.

    Notes
    -----
    Common practice: a gull-wing or flat lead shows its joint from above; a drilled lead shows both of its
    fillets; a leadless terminal shows a fillet from above only where its flank is made to wet, otherwise
    from the side at best; of a grid only the outer row shows, from the side; whatever lies under the body
    does not show.
    """
    if terminal.side == "centre":
        return "not at all"
    if outline.drilled or outline.family in LEADED:
        return "from above"
    if outline.family in LEADLESS:
        if outline.wettable_flank:
            return "from above"
        return "from the side" if outline.pull_back_mm <= 0 else "not at all"
    return "from the side" if _outer(outline, terminal) else "not at all"


def _outer(outline: Outline, terminal: Terminal) -> bool:
    balls = [(ball.x_mm, ball.y_mm) for ball in terminals(outline)]
    edge_x = max(abs(x) for x, _ in balls)
    edge_y = max(abs(y) for _, y in balls)
    return abs(abs(terminal.x_mm) - edge_x) < 1e-6 or abs(abs(terminal.y_mm) - edge_y) < 1e-6


def sights(outline: Outline) -> Sights:
    """Count a part's joints by how they can be seen.

    Examples
    --------
    >>> from landwise.outlines import find
    >>> sights(find("SO-14")).seen_share
    1.0
    """
    seen = [sight(outline, terminal) for terminal in terminals(outline)]
    above, side, hidden = (seen.count(where) for where in SIGHTS)
    needs = ["optical"] * (above > 0) + ["side view"] * (side > 0) + ["x-ray"] * (hidden > 0)
    kind = "drilled" if outline.drilled else outline.family
    if hidden:
        why = f"{hidden} of {len(seen)} joints lie under the body ({kind}): only X-ray shows them"
    elif side:
        why = f"{side} of {len(seen)} joints show at the body's edge only ({kind}): a tilted camera or X-ray"
    else:
        why = f"all {len(seen)} joints show from above ({kind})"
    return Sights(above, side, hidden, tuple(needs), why)


def hidden_from(outline: Outline, views: tuple[str, ...]) -> int:
    """Joints that a line with these views can't judge.

    >>> from landwise.outlines import find
    >>> hidden_from(find("SON-5-0.8x0.8"), ("optical",)), hidden_from(find("SO-14"), ("optical",))
    (5, 0)
    """
    found = sights(outline)
    unseen = found.not_at_all if "x-ray" not in views else 0
    if not {"side view", "x-ray"} & set(views):
        unseen += found.from_the_side
    return unseen
