"""Formula-book entries of vibration, shock and bending."""

from __future__ import annotations

from typing import Any

from landwise.evidence.book import Formula, Input, Output, Outputs
from landwise.service import shaking, vibration
from landwise.service.plate import Plate, plate_modes

_BOARD = (
    Input("length", "length", "side from the left to the right edge"),
    Input("width", "length", "other side"),
    Input("thickness", "length", "board thickness", "1.6 mm"),
)


def _plate(
    length: float, width: float, thickness: float, modulus: float, poisson: float, mass: float, edges: str
) -> Outputs:
    return {"frequency": vibration.plate_frequency(length, width, thickness, modulus, poisson, mass, edges)}


def _limit(
    board_length: float,
    part_length: float,
    thickness: float,
    package_constant: float,
    position_factor: float,
    cycles: int,
    psd: float | None,
    sine: float | None,
) -> Outputs:
    z = vibration.displacement_limit(board_length, part_length, thickness, package_constant, position_factor, cycles)
    outputs = {"displacement": z}
    if psd is not None or sine is not None:
        outputs["min_frequency"] = vibration.least_frequency(z, psd_g2_hz=psd, sine_g=sine)
    return outputs


def _random(frequency: float, q: float, psd: float) -> Outputs:
    g_rms, z = vibration.random_response(frequency, q, psd)
    return {"g_rms": g_rms, "displacement_3sigma": z}


def _half_sine(peak: float, duration: float) -> Outputs:
    velocity, drop = vibration.half_sine_velocity(peak, duration)
    return {"velocity": velocity, "drop": drop}


# the inputs of a formula by name: numbers, arrays or words, which the book checks
def _points(**given: Any) -> Outputs:
    length, width, inset = given["length"], given["width"], given["inset"]
    corners: tuple[tuple[float, float], ...] = ()
    if inset is not None:
        corners = tuple((x, y) for x in (inset, length - inset) for y in (inset, width - inset))
    plate = Plate(
        length,
        width,
        given["thickness"],
        given["modulus"],
        given["poisson"],
        given["mass"],
        given["edges"],
        corners,
        given["screws_hold"] == "yes",
    )
    modes = plate_modes(plate, 3)
    first, second, third = (float(f) for f in modes.frequency_hz)
    return {"first": first, "second": second, "third": third, "participation": abs(float(modes.participation[0]))}


def _pulse(peak: float, duration: float, frequency: float) -> Outputs:
    factor = vibration.shock_amplification(frequency, duration)
    moved = peak * factor * vibration.GRAVITY_MM_S2 / (2 * 3.141592653589793 * frequency) ** 2
    return {"factor": factor, "response": peak * factor, "displacement": moved}


def _drop(drop: float, frequency: float) -> Outputs:
    return {"response": vibration.drop_response(drop, frequency)}


def _static(deflection: float) -> Outputs:
    return {"frequency": vibration.static_frequency(deflection)}


def _lead(
    strain: float, part_length: float, thickness: float, free_length: float, lead_width: float, lead_thickness: float
) -> Outputs:
    opening = shaking.opening_mm(strain, part_length, thickness)
    return {
        "opening": opening * 1000,
        "stress": shaking.lead_stress_mpa(opening, free_length, lead_thickness),
        "force": shaking.lead_force_n(opening, free_length, lead_width, lead_thickness),
    }


SHAKING: tuple[Formula, ...] = (
    Formula(
        "plate-frequency",
        "First natural frequency of a board",
        (
            Input("length", "length", "side from the left to the right edge"),
            Input("width", "length", "other side"),
            Input("thickness", "length", "thickness"),
            Input("modulus", "pressure", "Young's modulus"),
            Input("poisson", "ratio", "Poisson's ratio", "0.12"),
            Input("mass", "mass", "mass of board and parts"),
            Input(
                "edges",
                "choice",
                "edges from the left clockwise: s supported, x fixed, f free",
                None,
                tuple(vibration.EDGES),
            ),
        ),
        (Output("frequency", "Hz", "first natural frequency"),),
        _plate,
        "thin plates, mass spread evenly; a clamped square comes out 3 % high",
        ("steinberg-plates",),
        "f = k(a, b)·√(D/ρ), D = E·h³/12(1 − ν²)",
    ),
    Formula(
        "vibration-limit",
        "Board displacement that a part stands, and the board frequency that keeps it",
        (
            Input("board_length", "length", "board edge parallel to the part"),
            Input("part_length", "length", "length of the part"),
            Input("thickness", "length", "board thickness"),
            Input("package_constant", "ratio", "DIP 1.0, ball grid 1.75, leadless ceramic 2.25, fine-pitch leads 0.75"),
            Input("position_factor", "ratio", "1 in the middle, 0.5 at a quarter both ways", "1"),
            Input("cycles", "count", "stress reversals", "20000000"),
            Input("psd", "acceleration density", "random level, for the least frequency", optional=True),
            Input("sine", "acceleration", "sine level, for the least frequency", optional=True),
        ),
        (
            Output("displacement", "mm", "three-sigma displacement, or sine amplitude"),
            Output("min_frequency", "Hz", "least board frequency at the level"),
        ),
        _limit,
        "thin boards, small parts; no constant is published for plastic leadless or wafer-level parts",
        ("steinberg-limit",),
        "Z = 0.00022·B/(C·h·r·√L) inch",
    ),
    Formula(
        "random-response",
        "Response of a board to random vibration",
        (
            Input("frequency", "frequency", "natural frequency"),
            Input("q", "ratio", "transmissibility, about √f"),
            Input("psd", "acceleration density", "input level near the frequency"),
        ),
        (Output("g_rms", "g", "acceleration"), Output("displacement_3sigma", "mm", "three-sigma displacement")),
        _random,
        "one mode, flat input near it",
        ("miles-femci",),
        "G = √(π/2·f·Q·P)",
    ),
    Formula(
        "half-sine-shock",
        "Velocity and drop height of a half-sine pulse",
        (Input("peak", "acceleration", "peak"), Input("duration", "time", "length of the pulse")),
        (Output("velocity", "cm/s", "velocity change"), Output("drop", "cm", "drop height of the same velocity")),
        _half_sine,
        "any half-sine",
        ("half-sine",),
        "Δv = 2/π·A·t",
    ),
    Formula(
        "plate-modes",
        "Natural frequencies of a board by finite elements",
        (
            *_BOARD,
            Input("modulus", "pressure", "Young's modulus", "20.7 GPa"),
            Input("poisson", "ratio", "Poisson's ratio", "0.18"),
            Input("mass", "mass", "mass of board and parts"),
            Input(
                "edges",
                "choice",
                "edges from the left clockwise: s supported, x fixed, f free",
                "ffff",
                tuple(a + b + c + d for a in "sxf" for b in "sxf" for c in "sxf" for d in "sxf"),
            ),
            Input("inset", "length", "four corner screws, so far from both edges", optional=True),
            Input("screws_hold", "choice", "do screws also keep the board from tilting", "no", ("no", "yes")),
        ),
        (
            Output("first", "Hz", "first natural frequency"),
            Output("second", "Hz", "second"),
            Output("third", "Hz", "third"),
            Output("participation", "", "how far the first shape moves against a mass on a spring"),
        ),
        _points,
        "thin flat plates of one material, mass spread evenly, small motion",
        ("kirchhoff-plate", "vpcs-sdls01", "harris-plates"),
        "D·∇⁴w = ρ·ω²·w",
    ),
    Formula(
        "shock-response",
        "Answer of a board to a half-sine pulse",
        (
            Input("peak", "acceleration", "peak of the pulse"),
            Input("duration", "time", "its length"),
            Input("frequency", "frequency", "natural frequency of the board"),
        ),
        (
            Output("factor", "", "response over peak"),
            Output("response", "g", "acceleration of the board's middle"),
            Output("displacement", "mm", "its displacement"),
        ),
        _pulse,
        "one undamped mode",
        ("half-sine-response",),
        "the larger of the swing during the pulse and |2β·cos(π/2β)/(1 − β²)| after it",
    ),
    Formula(
        "drop-shock",
        "Acceleration of a board whose fall is stopped at once",
        (Input("drop", "length", "height"), Input("frequency", "frequency", "natural frequency")),
        (Output("response", "g", "acceleration"),),
        _drop,
        "stops short against the board's period",
        ("stembl-profile",),
        "G = 2πf·√(2gH)/g",
    ),
    Formula(
        "static-frequency",
        "Natural frequency from the sag under its own weight",
        (Input("deflection", "length", "sag"),),
        (Output("frequency", "Hz", "natural frequency"),),
        _static,
        "one mode, linear spring",
        ("stembl-profile",),
        "f = √(g/δ)/2π",
    ),
    Formula(
        "lead-stress",
        "Stress of a lead and force on its joint on a bent board",
        (
            Input("strain", "ratio", "surface strain of the board, such as 500 ppm"),
            Input("part_length", "length", "length of the part"),
            Input("thickness", "length", "board thickness", "1.6 mm"),
            Input("free_length", "length", "free length of the lead"),
            Input("lead_width", "length", "width of the lead"),
            Input("lead_thickness", "length", "its thickness"),
        ),
        (
            Output("opening", "um", "how far the board draws away at the part's end"),
            Output("stress", "MPa", "bending stress at the lead's root"),
            Output("force", "N", "force on the joint"),
        ),
        _lead,
        "flat stiff part, lead at least twice as long as thick, copper of 120 GPa, no stress concentration",
        ("kirchhoff-plate",),
        "δ = κL²/8, κ = 2ε/h; σ = 3Etδ/2l²",
    ),
)
