"""What works a total of the board again: named functions of values, for the trails of `board.totals`."""

from __future__ import annotations

from collections.abc import Sequence

from landwise.access.plans import SAMPLED, Plan
from landwise.assembly.lines import Soldering
from landwise.assembly.partrates import PartRates
from landwise.assembly.rare import Estimate
from landwise.assembly.yields import BoardYield, board_yield
from landwise.costs.control import plan_loads
from landwise.costs.loads import Load
from landwise.costs.panels import images
from landwise.evidence.trails import numbers
from landwise.judging.money import Band
from landwise.outlines import Outline
from landwise.study.file import Board


def of_all_places(each: Band, count: int) -> Band:
    """So many times as much: low, value, high. [money]"""
    low, value, high = (count * one for one in each)
    return low, value, high


def all_loads(**parts: Sequence[Load]) -> tuple[Load, ...]:
    """The loads of all parts, and of what they share, in one list."""
    return tuple(load for loads in parts.values() for load in loads)


def line_of_board(loads: Sequence[Load], line: str, run: int, **rates: Band) -> Band:
    """One line of the board's cost, with its rates at their low ends, values and high ends. [money]"""
    found = [0.0, 0.0, 0.0]
    for load in loads:
        if load.line == line:
            for k in range(3):
                product = load.units / (run if load.per_run else 1)
                for name in load.rates:
                    product *= rates[name][k]
                found[k] += product
    low, value, high = found
    return low, value, high


def shared_plan(plan: Plan, xray_anyway: bool) -> tuple[Load, ...]:
    """What a plan of inspection and test costs whatever the parts."""
    return plan_loads(plan, xray_paid=SAMPLED if xray_anyway else 0.0)


def step_depth(board_um: float, part_um: float) -> float:
    """How much thinner the foil is over a part than over the board. [µm]"""
    return board_um - part_um


def placed_area(area_mm2: float, keep_out_mm2: float, count: int) -> float:
    """Area of all places of a part, with what a step in the foil adds around each. [mm²]"""
    return count * (area_mm2 + keep_out_mm2)


def rest_of_board(board: Board, counts: tuple[int, ...], **areas: float) -> float | None:
    """Board area paid beside these parts; None where the board's size is not stated, or it pays for panels. [mm²]

    Where saved area is room and no money, the whole board is bought.
    """
    if board.length is None or board.width is None or board.panel is not None:
        return None
    used = sum(count * area for count, area in zip(counts, areas.values(), strict=True))
    return board.length * board.width - used * board.area_is_money


def images_on(board: Board, length_mm: float, width_mm: float) -> int:
    """How many boards of a size one panel of the study holds."""
    assert board.panel is not None
    return images(board.panel.as_panel(), length_mm, width_mm)


def panel_area(board: Board) -> float:
    """The whole panel of the study, border and all. [mm²]"""
    assert board.panel is not None
    return board.panel.as_panel().area_mm2


def sum_of_parts(**parts: float) -> float:
    """Sum over the parts."""
    return sum(parts.values())


def drilled_among(drilled_anyway: bool, soldering: Soldering, **outlines: Outline) -> bool:
    """Whether drilled parts bring a second soldering process to the board."""
    return soldering == "process" and not drilled_anyway and any(outline.drilled for outline in outlines.values())


def printed_among(printed_anyway: bool, **outlines: Outline) -> bool:
    """Whether printed parts bring foil, print and reflow to a board that nothing else would be printed for."""
    return not printed_anyway and not all(outline.drilled for outline in outlines.values())


def yield_of_board(counts: tuple[int, ...], **rates: PartRates | None) -> BoardYield | None:
    """Expected defects and first-pass yield of a board, of the parts that are printed."""
    return board_yield([(one, count) for one, count in zip(rates.values(), counts, strict=True) if one])


def defects_of(found: BoardYield) -> Estimate:
    """Expected defects on one board."""
    return found.defects


def hidden_of(found: BoardYield) -> float:
    """Expected defects that can't be seen from above."""
    return found.hidden


def first_pass_of(found: BoardYield) -> Estimate:
    """Share of boards without a defect."""
    return found.first_pass


def dpmo_of(found: BoardYield) -> Estimate:
    """Defects per million opportunities."""
    return found.dpmo


def least_of(**parts: object) -> tuple[float | None, float | None, float | None]:
    """The least of the parts' values, with its interval."""
    return min((numbers(one) for one in parts.values()), key=lambda band: band[1] or 0.0)


def most_of(**parts: object) -> tuple[float | None, float | None, float | None]:
    """The greatest of the parts' values, with its interval."""
    return max((numbers(one) for one in parts.values()), key=lambda band: band[1] or 0.0)
