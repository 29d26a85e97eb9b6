"""Formula-book entries of strength, life and moisture beside the older ones in `formulas`."""

from __future__ import annotations

from typing import Any

from landwise.evidence.book import Formula, Input, Output, Outputs
from landwise.service import moisture
from landwise.service.handbook import LEADS, Apart, handbook_rate
from landwise.service.handbook import SOURCES as HANDBOOK_SOURCES
from landwise.service.materials import Layer, stack_expansion
from landwise.service.strength import SOURCES as STRENGTH_SOURCES
from landwise.service.strength import TENSION_OVER_SHEAR, peel_load, solder_shear
from landwise.service.underfill import SOURCES as UNDERFILL_SOURCES
from landwise.service.underfill import shear_relief


def _joint_shear(area: float, speed: float, temperature: float) -> Outputs:
    stress = solder_shear(speed / 60, temperature)
    return {
        "stress": stress.value,
        "shear": stress.value * area,
        "low": stress.low * area,
        "high": stress.high * area,
        "pull": stress.value * area * TENSION_OVER_SHEAR,
    }


def _peel(width: float, thickness: float, tension: float, lead_yield: float) -> Outputs:
    return {"load": peel_load(width, thickness, tension, lead_yield)}


def _stack(
    thickness_1: float, modulus_1: float, expansion_1: float, thickness_2: float, modulus_2: float, expansion_2: float
) -> Outputs:
    layers = [
        Layer(thickness_1, modulus_1 / 1000, expansion_1),
        Layer(thickness_2, modulus_2 / 1000, expansion_2),
    ]
    return {"expansion": stack_expansion(layers)}


def _relief(
    reach: float,
    gap: float,
    shear: float,
    part_modulus: float,
    part_thickness: float,
    board_modulus: float,
    board_thickness: float,
) -> Outputs:
    part, board = (part_modulus / 1000, part_thickness), (board_modulus / 1000, board_thickness)
    return {"relief": shear_relief(reach, gap, shear / 1000, part, board)}


# the inputs of a formula by name: numbers, arrays or words, which the book checks
def _handbook(**given: Any) -> Outputs:
    apart = Apart(given["cte_board"], given["cte_part"], given["delta_t"], given["rise"])
    found = handbook_rate(
        given["reach"], given["height"], apart, given["cycle_rate"] * 3600, given["years"], given["leads"]
    )
    return {"cycles": found.cycles, "life": found.life_h, "failed": found.failed, "rate": found.rate_per_mh}


def _hang(weight: float, area: float, outline: float) -> Outputs:
    found = moisture.hang(weight, area, outline)
    return {
        "per_area": found.per_area_mg_mm2,
        "per_outline": found.per_outline_mg_mm,
        "holds": found.holds,
        "safe": found.safe,
    }


LIFE_BOOK: tuple[Formula, ...] = (
    Formula(
        "joint-shear",
        "Load at which a soldered area comes off",
        (
            Input("area", "area", "attached metal"),
            Input("speed", "ratio", "speed of the push in mm/min, 0.05 to 50", "30"),
            Input("temperature", "temperature", "20 to 100 °C", "20 degC"),
        ),
        (
            Output("stress", "MPa", "shear strength of the solder"),
            Output("shear", "N", "from the side"),
            Output("low", "N", "lower end of the 90 % interval, from the side"),
            Output("high", "N", "upper end"),
            Output("pull", "N", "straight off, √3 of it, all of the area sharing"),
        ),
        _joint_shear,
        "quasi-static, 20 to 100 °C; faster, joints break brittle at the interface",
        STRENGTH_SOURCES,
        "τ = 23 MPa·(v / 0.1 mm/min)^0.05 at 20 °C, 14/23 of it at 100 °C",
    ),
    Formula(
        "peel-load",
        "Load at the heel that peels a lead's foot off its land",
        (
            Input("width", "length", "lead width"),
            Input("thickness", "length", "lead thickness"),
            Input("tension", "pressure", "solder's tensile strength", "49 MPa"),
            Input("lead_yield", "pressure", "lead's yield strength", "380 MPa"),
        ),
        (Output("load", "N", "per lead"),),
        _peel,
        "foot longer than the hinge is from the heel; fillets left out",
        ("peel-hinge", "lead-strength-memory"),
        "P = w·t·√(σ·σy/2)",
    ),
    Formula(
        "stack-expansion",
        "In-plane expansion of two bonded layers",
        (
            Input("thickness_1", "length", "first layer's thickness"),
            Input("modulus_1", "pressure", "its modulus"),
            Input("expansion_1", "expansion", "its expansion"),
            Input("thickness_2", "length", "second layer's thickness"),
            Input("modulus_2", "pressure", "its modulus"),
            Input("expansion_2", "expansion", "its expansion"),
        ),
        (Output("expansion", "ppm/K", "of both together"),),
        _stack,
        "flat stacks: no bending, one Poisson's ratio",
        ("composite-pch",),
        "α = Σ(E·α·t)/Σ(E·t)",
    ),
    Formula(
        "handbook-rate",
        "Failure rate of surface joints by the military handbook",
        (
            Input("reach", "length", "half the largest distance between joints"),
            Input("height", "length", "solder height; 8 mil for leads"),
            Input("cte_board", "expansion", "board", "15 ppm/K"),
            Input("cte_part", "expansion", "part: plastic 7, ceramic 6 in the handbook", "7 ppm/K"),
            Input("delta_t", "temperature difference", "swing"),
            Input("rise", "temperature difference", "the part's own rise", "0 K"),
            Input("cycle_rate", "frequency", "cycles, such as '0.03 /h'"),
            Input("years", "ratio", "design life in years"),
            Input("leads", "choice", "kind of leads", "leadless", tuple(LEADS)),
        ),
        (
            Output("cycles", "", "to failure"),
            Output("life", "h", "characteristic life"),
            Output("failed", "", "effective share failed by the design life"),
            Output("rate", "per 1e6 h", "failure rate"),
        ),
        _handbook,
        "recalled form; leaded and leadless by one factor of 5000, which no test backs",
        HANDBOOK_SOURCES,
        "N = 3.5·[d/(0.65h)·|αs·ΔT − αp·(ΔT + rise)|]^−2.26·π; λ = ECF·CR/N",
    ),
    Formula(
        "underfill-relief",
        "Strain of the outermost ball that an underfill leaves",
        (
            Input("reach", "length", "from the middle to the outermost ball"),
            Input("gap", "length", "height of the joints"),
            Input("shear", "pressure", "shear modulus of the underfill", "2 GPa"),
            Input("part_modulus", "pressure", "of the body: silicon 150 GPa, laminate about 20", "150 GPa"),
            Input("part_thickness", "length", "of the body"),
            Input("board_modulus", "pressure", "of the board", "25.8 GPa"),
            Input("board_thickness", "length", "of the board", "1.6 mm"),
        ),
        (Output("relief", "", "share of the strain without underfill"),),
        _relief,
        "below the underfill's glass transition, no bending; its own expansion upward is left out",
        UNDERFILL_SOURCES,
        "tanh(βL)/(βL), β² = G/h·(1/E₁t₁ + 1/E₂t₂)",
    ),
    Formula(
        "hang-on",
        "How heavily a part hangs upside down in reflow",
        (
            Input("weight", "mass", "of the part"),
            Input("area", "area", "wetted by all joints"),
            Input("outline", "length", "of all joints"),
        ),
        (
            Output("per_area", "mg/mm2", "to be below 46.5"),
            Output("per_outline", "mg/mm", "4 to be safe; parts let go at 9 to 13"),
            Output("holds", "", "by area"),
            Output("safe", "", "by both rules"),
        ),
        _hang,
        "still air",
        moisture.HANG_SOURCES,
        "30 g per square inch",
    ),
)
