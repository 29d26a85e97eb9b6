"""From what the line worked out to Figures: each with its interval, its limit, its verdict and its trail."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from landwise.costs.board import PartCost
from landwise.evidence.figures import Figure
from landwise.judging.buying import told_unpriced
from landwise.judging.money import cost_figure
from landwise.judging.sight import layers_figure, probing_figure, reach_figure, seen_figure
from landwise.judging.size import area_figure, clearance_figure, gap_figure, height_figure, pitch_figure

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry
    from landwise.study.file import PartTable


def figures_of(geometry: Geometry, part: PartTable, cost: PartCost, hidden: int, bench: Bench) -> Mapping[str, Figure]:
    """All figures of one option, by key, in reading order."""
    if bench.memory is None:
        return MappingProxyType({**_all(geometry, part, hidden, bench), "cost": cost_figure(cost, geometry, bench)})
    known = bench.recalled(
        ("figures", told_unpriced(part, bench), hidden),
        geometry,
        lambda: _all(geometry, part, hidden, bench),
    )
    # Only these follow from the study's wishes, so only these are made anew when a limit moves.
    wished = (
        area_figure(geometry, bench),
        height_figure(geometry, bench),
        gap_figure(geometry, bench),
        seen_figure(geometry, hidden, bench),
        reach_figure(geometry, bench),
    )
    # What a part costs follows from its price, and nothing else does: a moved price works no joint again.
    money = {"cost": cost_figure(cost, geometry, bench)}
    return MappingProxyType({**known, **{figure.key: figure for figure in wished}, **money})


def _all(geometry: Geometry, part: PartTable, hidden: int, bench: Bench) -> Mapping[str, Figure]:
    """All but the cost, which comes last."""
    # Loaded here: a board that finds its figures kept needs none of the physics behind them.
    from landwise.judging.assembly import assembly_figures
    from landwise.judging.joints import joint_figures
    from landwise.judging.life import life_figures
    from landwise.judging.printmargin import print_margin_figure
    from landwise.judging.release import (
        area_ratio_figure,
        foil_figure,
        opening_figure,
        slump_figure,
        solder_figure,
        transfer_figure,
    )
    from landwise.judging.service import service_figures

    found = (
        area_figure(geometry, bench),
        height_figure(geometry, bench),
        pitch_figure(geometry, bench),
        area_ratio_figure(geometry),
        transfer_figure(geometry, bench),
        foil_figure(geometry, bench),
        opening_figure(geometry),
        print_margin_figure(geometry, bench),
        solder_figure(geometry),
        *joint_figures(geometry, part, bench),
        gap_figure(geometry, bench),
        clearance_figure(geometry, bench),
        slump_figure(geometry),
        seen_figure(geometry, hidden, bench),
        reach_figure(geometry, bench),
        probing_figure(geometry),
        layers_figure(geometry, bench),
        *assembly_figures(geometry, part, bench),
        *life_figures(geometry, part, bench),
        *service_figures(geometry, part, bench),
    )
    return MappingProxyType({figure.key: figure for figure in found})
