"""Sizes that the board may come to have on its panel: with each, every shared decision is weighed once.

Saved area is money in steps on a panel: so many boards fit, until one more does. Each step is a shared decision of its
own, with its panels a board as what it costs and with the room it leaves for the parts as a limit, so that the search,
its proof and its explanations know nothing else of panels. A board follows what is on it both ways: its area is that
of the board as it is, less today's courtyards (a part's smallest where its package is not known), plus the chosen ones,
one for one. Tracks and all other parts keep the room they have.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from landwise.board.judged import Setups
from landwise.board.model import Decision
from landwise.board.paid import panel_loads
from landwise.choosing.optimum.model import Array, Mask, Row
from landwise.costs.loads import Load
from landwise.costs.panels import BoardSize, coarser, images, panels_a_board, sizes
from landwise.judging.limits import Limit, LimitKey
from landwise.study.file import Board, BoardClass

Kind = TypeVar("Kind", bound=np.generic)
MOST_SIZES = 24
MOST_CELLS = 6_000_000  # of (sizes, decisions, parts, options): a large board is weighed at fewer sizes
ROOM = "room-for-parts"  # the row that ties a size to what lies on it


def sizes_of(setups: Setups, area: Array, exists: Mask, rest_mm2: float) -> tuple[BoardSize, ...]:
    """The sizes that the board is weighed at, today's first; none where no panel is stated.

    Parameters
    ----------
    setups : Setups
    area : array (decisions, parts, options)
        Courtyards of all places, with the margins of steps. [mm²]
    exists : bool array (parts, options)
    rest_mm2 : float
        Board area beside the courtyards. [mm²]
    """
    board = setups.bench.content.board
    if board.panel is None:
        return ()
    assert board.length is not None  # the study was refused otherwise
    assert board.width is not None
    panel, own = board.panel.as_panel(), BoardSize(0, board.length, board.width)
    own = replace(own, images=images(panel, own.length_mm, own.width_mm))
    if not board.gives_way:
        return (own,)
    there = np.where(exists, area, np.nan)
    # Where parts stand for several groupings, not all of them come, and any of them may be missing.
    least = float(np.nanmin(there, axis=(0, 2)).sum()) if setups.parts is setups.today else 0.0
    ends = (
        min(own.area_mm2, max(rest_mm2, 1.0) + least),
        max(own.area_mm2, rest_mm2 + float(np.nanmax(there, axis=(0, 2)).sum())),
    )
    found = sizes(panel, own.length_mm, own.width_mm, ends, board.shrinks)
    today = next(n for n in range(len(found) - 1, -1, -1) if found[n].area_mm2 >= own.area_mm2 * (1 - 1e-9))
    kept = coarser(found, max(2, min(MOST_SIZES, MOST_CELLS // max(1, area.size))), today)
    first = found[today]
    return (first, *(one for one in kept if one != first))


def sized(decisions: Sequence[Decision], found: Sequence[BoardSize]) -> tuple[Decision, ...]:
    """Every shared decision at every size, those of the first size first."""
    return tuple(replace(one, size=size) for size in found for one in decisions) if found else tuple(decisions)


def repeated(table: NDArray[Kind], times: int) -> NDArray[Kind]:
    """A table over all shared decisions, once for each size."""
    return np.tile(table, (times, *[1] * (table.ndim - 1))) if times > 1 else table


def panel_of(board: Board, decision: Decision, run: int) -> tuple[Load, ...]:
    """What the board pays for its panel under a shared decision; nothing where no panel is stated."""
    if board.panel is None or decision.size is None:
        return ()
    kind, panel = decision.board, board.panel.as_panel()
    price = panel_price(board, kind)
    return panel_loads(panel.area_mm2, panels_a_board(run, decision.size.images), kind.layers, kind.rate, price)


def panel_price(board: Board, kind: BoardClass) -> float | None:
    """Of one panel of a class of board; None where its area is paid at the rate. [money]"""
    if board.panel is None or board.panel.price is None:
        return None
    return board.panel.price if kind.panel_price is None else kind.panel_price


def rows_of_sizes(
    found: Sequence[BoardSize], decisions: int, area: Array, rest_mm2: float, *, follows: bool
) -> dict[Limit, Row]:
    """What lies on a board of each size, as limits; `area` is repeated for the sizes already.

    Where the outline is fixed (`follows` false) a board has the size that is stated, whatever lies on it.

    The largest size takes what lies on it whatever it is; where a panel can't hold such a board, that is a limit of
    its own, for it can be told and lifted.
    """
    if not found or not follows:
        return {}
    top = max(size.area_mm2 for size in found)
    most = rest_mm2 + float(area.max(axis=(0, 2)).sum())
    smaller = np.repeat([0.0 if size.area_mm2 == top else most - size.area_mm2 for size in found], decisions)
    rows = {}
    if len(found) > 1:
        rows[Limit(ROOM)] = Row(ROOM, area, most - rest_mm2, smaller, "mm2", tied=True)
    if top < most * (1 - 1e-9):
        limit = Limit(LimitKey.PANEL)
        rows[limit] = Row(limit.name, area, top - rest_mm2, unit="mm2")
    return rows
