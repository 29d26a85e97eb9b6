"""Formula-book entries of the assembly room."""

from __future__ import annotations

import math
from dataclasses import dataclass

from landwise.assembly.scatter import scatter
from landwise.errors import InputError
from landwise.evidence.book import Formula, Input, Output, Outputs, gathered
from landwise.printing.model import POWDERS, TECHNOLOGIES, Foil, Technology, powder_of


@dataclass(frozen=True)
class _Pair:
    pitch: float
    land_length: float
    land_width: float
    aperture_length: float | None
    aperture_width: float | None
    terminal_length: float
    terminal_width: float
    foil: float
    lead_thickness: float | None
    print_offset: float
    placement_offset: float
    technology: Technology
    powder: str


def _bridge_rate(at: _Pair) -> Outputs:
    import numpy as np

    from landwise.assembly import mechanisms as m
    from landwise.assembly.knowledge import PER_MILLION
    from landwise.assembly.pairmodel import Neighbours, pair_model
    from landwise.assembly.partrates import part_rates

    aperture = (
        at.land_length if at.aperture_length is None else at.aperture_length,
        at.land_width if at.aperture_width is None else at.aperture_width,
    )
    neighbours = Neighbours(
        at.pitch,
        (at.land_length, at.land_width),
        aperture,
        (at.terminal_length, at.terminal_width),
        lead_um=at.lead_thickness,
    )
    spread = scatter(at.print_offset, at.placement_offset)
    model = pair_model(neighbours, Foil(at.foil, at.technology), spread, powder=powder_of(at.powder))
    known = part_rates(model)
    found, model = known.bridges, known.model or model
    placed, one = m.shared(np.zeros((m.SHARED, 1)), model), np.ones(1)
    ends = model.joints[0], model.joints[1]
    edge = m.spread_mm(model, model.joints[0], placed, one)
    return {
        "rate": found.value * PER_MILLION,
        "low": found.low * PER_MILLION,
        "high": found.high * PER_MILLION,
        "gap": at.pitch - aperture[1],
        "gap_left": float(m.left_apart_mm(model.pairs[0], ends, placed, edge, edge)[0][0]),
        "fullness": float(m.fullness(model.pairs[0], ends, one, one)[0]),
    }


def _yield(joint_dpmo: float, joints: float, placement_dpmo: float, component_dpmo: float, parts: float) -> Outputs:
    from landwise.assembly.yields import dpmo, opportunities

    rates, counts = (joint_dpmo, placement_dpmo, component_dpmo), (joints, parts, parts)
    if any(rate < 0 or rate > 1e6 for rate in rates):
        raise InputError("a rate is counted per million", place="yield", found=", ".join(f"{rate:g}" for rate in rates))
    if any(count < 0 for count in counts):
        raise InputError("counts can't be negative", place="yield", found=f"{joints:g} joints, {parts:g} parts")
    defects = sum(rate * count for rate, count in zip(rates, counts, strict=True)) / 1e6
    number = opportunities(int(parts), int(joints))
    product = math.prod((1 - rate / 1e6) ** count for rate, count in zip(rates, counts, strict=True))
    return {
        "yield": math.exp(-defects),
        "yield_product": product,
        "defects": defects,
        "opportunities": float(number),
        "dpmo": dpmo(defects, number),
    }


BOOK: tuple[Formula, ...] = (
    Formula(
        "bridge-rate",
        "How often two neighbours of a row bridge",
        (
            Input("pitch", "length", "from middle to middle"),
            Input("land_length", "length", "land length"),
            Input("land_width", "length", "land width, along the row"),
            Input("aperture_length", "length", "aperture length; the land's by default", optional=True),
            Input("aperture_width", "length", "aperture width; the land's by default", optional=True),
            Input("terminal_length", "length", "length of the terminal that lies on the land"),
            Input("terminal_width", "length", "terminal width"),
            Input("foil", "thin length", "foil thickness"),
            Input("lead_thickness", "thin length", "of a lead; left out for a flush terminal", optional=True),
            Input("print_offset", "length", "what 99.7 % of prints stay within", "0.03 mm"),
            Input("placement_offset", "length", "what 99.7 % of placements stay within", "0.05 mm"),
            Input("technology", "choice", "how the apertures were made", "laser-cut", TECHNOLOGIES),
            Input("powder", "choice", "powder type", "t4", tuple(powder.lower() for powder in POWDERS)),
        ),
        (
            Output("rate", "", "bridges per million such pairs"),
            Output("low", "", "lower end of the 90 % range over everything that is not known"),
            Output("high", "", "upper end"),
            Output("gap", "mm", "between the apertures"),
            Output("gap_left", "mm", "left after slump and squeeze-out at their middle values"),
            Output("fullness", "", "solder of both joints over what they take back"),
        ),
        gathered(_Pair, _bridge_rate),
        "rows of equal rectangular lands; mean and range over lines as they may be, anchored to one published line",
        ("rate-simulation", "bridge-energy", "slump-ipc-a-21", "scatter-assumption", "transfer-prior-memory"),
        "P(slump + squeeze-out + offset ≥ gap and solder > taken back)",
    ),
    Formula(
        "yield",
        "First-pass yield of a board from rates of joints, placements and components",
        (
            Input("joint_dpmo", "ratio", "defects per million terminations"),
            Input("joints", "count", "terminations on the board"),
            Input("placement_dpmo", "ratio", "defects per million placements", "0"),
            Input("component_dpmo", "ratio", "defects per million components", "0"),
            Input("parts", "count", "parts on the board", "0"),
        ),
        (
            Output("yield", "", "share of boards without a defect, exp(−defects)"),
            Output("yield_product", "", "the same as a product over all opportunities"),
            Output("defects", "", "expected defects on one board"),
            Output("opportunities", "", "components + placements + terminations"),
            Output("dpmo", "", "defects per million of them"),
        ),
        _yield,
        "independent defects; a study also lets defects of one board hang together",
        ("dpmo-definition", "dpmo-yield"),
        "Y = exp(−Σ DPMO·n/10⁶)",
    ),
)
