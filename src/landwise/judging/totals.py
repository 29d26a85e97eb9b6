"""The board's sums over chosen options; what the whole board shares is counted once."""

from __future__ import annotations

from collections.abc import Sequence

from landwise.assembly.yields import board_yield
from landwise.judging.bench import Bench
from landwise.judging.results import BoardTotals, OptionResult


def totals(options: Sequence[tuple[OptionResult, int]], bench: Bench) -> BoardTotals:
    """Board sums. Money is the parts' own; what the board shares comes with the choice for the whole board."""
    cost = sum(count * option.cost.total for option, count in options)
    demands = {
        option.geometry.demand.kind: option.geometry.demand.says
        for option, _ in options
        if option.geometry.demand.kind != "none"
    }
    board = board_yield([(option.geometry.rates, count) for option, count in options if option.geometry.rates])
    return BoardTotals(
        parts=sum(count for _, count in options),
        area_mm2=sum(option.area_mm2 * count for option, count in options),
        cost=cost,
        placements=sum(count for option, count in options if not option.geometry.outline.drilled),
        holes=sum(
            option.geometry.outline.terminals * count for option, count in options if option.geometry.outline.drilled
        ),
        hidden_joints=sum(option.geometry.sights.not_at_all * count for option, count in options),
        outlines=len({option.name for option, _ in options}),
        least_pitch_mm=min(option.geometry.outline.pitch_mm for option, _ in options),
        foil_demand="; ".join(demands.values()) or f"none: the {bench.line.foil_um:g} µm foil serves",
        prices_known=all(option.cost.price_known for option, _ in options),
        defects=board.defects.value if board else None,
        hidden_defects=board.hidden if board else None,
        first_pass=board.first_pass.value if board else None,
        dpmo=board.dpmo.value if board else None,
    )
