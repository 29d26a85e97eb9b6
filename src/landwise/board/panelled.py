"""What a chosen board takes of its panel: boards a panel today and as chosen, and the next step of money."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from landwise.board.chosen import BoardChoice
from landwise.board.model import BoardModel, Decision
from landwise.board.sizes import panel_of
from landwise.costs.loads import money
from landwise.costs.panels import BoardSize, images, sizes


@dataclass(frozen=True)
class NextStep:
    """The next size at which the board costs less: boards a panel, its sides, what is still to be saved, what it saves.

    `saves` is money per board, `more_mm2` board area.
    """

    images: int
    length_mm: float
    width_mm: float
    more_mm2: float
    saves: float


@dataclass(frozen=True)
class Panelled:
    """A chosen board on its panel.

    Parameters
    ----------
    fixed : bool
        Whether the outline is fixed, so that saved area is room and no money.
    today, chosen : BoardSize
        The board as it is stated, and as it comes out, with how many a panel holds.
    saved_mm2 : float
        Courtyards of today less those chosen; a part whose package is not known counts at its smallest.
    today_money, money : float
        What the panel costs each board, at today's class and at the chosen one. [money per board]
    following : NextStep or None
    """

    fixed: bool
    today: BoardSize
    chosen: BoardSize
    saved_mm2: float
    today_money: float
    money: float
    following: NextStep | None


def panelled(choice: BoardChoice) -> Panelled | None:
    """The chosen board on its panel; None where no panel is stated, or nothing was chosen."""
    model, best = choice.model, choice.best
    board = model.bench.content.board
    if board.panel is None or board.length is None or board.width is None or not best.found:
        return None
    decision, panel = model.decisions[best.decision], board.panel.as_panel()
    today = BoardSize(images(panel, board.length, board.width), board.length, board.width)
    used = sum(float(model.area.use[best.decision, p, k]) for p, k in enumerate(best.choice))
    needed = model.rest_mm2 + used
    saved = today.area_mm2 - needed
    size = decision.size
    assert size is not None  # a panel is stated
    made = today
    if board.gives_way:
        long = board.length if size.length_mm == board.length else needed / board.width
        made = BoardSize(size.images, long, needed / long)
    own = _money(model, decision, made.images)
    return Panelled(
        fixed=not board.gives_way,
        today=today,
        chosen=made,
        saved_mm2=saved,
        today_money=_money(model, model.decisions[0], today.images),
        money=own,
        following=_following(model, decision, made, own),
    )


def _following(model: BoardModel, decision: Decision, made: BoardSize, own: float) -> NextStep | None:
    """The next step that some choice of packages leaves room for; on a fixed outline, if it could give way."""
    board, use = model.bench.content.board, model.area.use[0]
    assert board.panel is not None
    least = model.rest_mm2 + float(np.where(model.problem.exists, use, np.inf).min(axis=1).sum())
    ends = (max(1.0, min(least, made.area_mm2)), made.area_mm2)
    found = sizes(board.panel.as_panel(), made.length_mm, made.width_mm, ends, board.shrinks)
    for size in found:  # the largest first
        less = own - _money(model, decision, size.images)
        if size.images > made.images and less > 0:
            return NextStep(size.images, size.length_mm, size.width_mm, made.area_mm2 - size.area_mm2, less)
    return None


def _money(model: BoardModel, decision: Decision, count: int) -> float:
    """What so many boards a panel cost each board under a decision's class. [money per board]"""
    content = model.bench.content
    at = replace(decision, size=BoardSize(count, 0.0, 0.0))
    return money(panel_of(content.board, at, content.costs.run), model.bench.rates, content.costs.run)
