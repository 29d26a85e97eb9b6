"""Plates, shaking, heat and signals as landwise computes them."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np

from landwise.outlines import Outline, Range, find
from landwise.service import heat, shaking, vibration
from landwise.service.board_heat import HeatBoard, Source, board_heat
from landwise.service.clearance import spacing
from landwise.service.electrical import bounce_band
from landwise.service.environments import environment
from landwise.service.families import edge_of_line, family_of
from landwise.service.filaments import Piece, inductance_matrix
from landwise.service.mission import PLACE_TOP_C
from landwise.service.package_inductance import PackageInductance, package_inductance
from landwise.service.plate import Plate, plate_modes
from landwise.service.resistances import order_of, sheets, spread_of
from landwise.service.shaking import sine_field

__all__ = [
    "allowed_power",
    "axes_square",
    "board_over_sheet",
    "corner_square",
    "environment_cell",
    "family_edge",
    "flat_pack_neighbour",
    "flat_pack_own",
    "highest_power",
    "junction",
    "octal_bounce",
    "order",
    "package_constant",
    "place_top",
    "plate_parameter",
    "plate_sag",
    "profile",
    "saved_by_supply",
    "sheet",
    "sheet_cell",
    "spacing_at",
    "spread",
    "steinberg",
    "theta_needed",
    "via",
]
SQUARE = Plate(100, 100, 1.0, 20000, 0.3, 20000)


@cache
def _parameters(edges: str) -> tuple[float, ...]:
    plate = replace(SQUARE, edges=edges)
    factor = 2 * math.pi * 0.01 * math.sqrt(plate.mass_mg / (plate.length_mm * plate.width_mm) / plate.stiffness_n_m)
    return tuple(float(one) * factor for one in plate_modes(plate, 6, 20).frequency_hz)


def plate_parameter(edges: str, mode: float) -> float:
    """ω·a²·√(ρh/D) of a square plate, Poisson 0.3, by finite elements; `mode` counts from 1, rigid motion left out."""
    return _parameters(edges)[int(mode) - 1]


def axes_square(edges: str) -> float:
    """The same for the first mode, over √12: the factor of a handbook's table for squares."""
    return _parameters(edges)[0] / math.sqrt(12)


def corner_square() -> float:
    """ω·a²·√(ρh/D) of a free square on its four corner points, Poisson 0.3."""
    corners = ((0.0, 0.0), (0.0, 100.0), (100.0, 0.0), (100.0, 100.0))
    plate = replace(SQUARE, supports=corners)
    factor = 2 * math.pi * 0.01 * math.sqrt(plate.mass_mg / 1e4 / plate.stiffness_n_m)
    return float(plate_modes(plate, 1, 20).frequency_hz[0]) * factor


def plate_sag(edges: str, ratio: float) -> float:
    """Greatest sag of a rectangle under its own weight, over q·a⁴/D, a the shorter side; Poisson 0.3."""
    plate = Plate(100 * ratio, 100, 1.0, 20000, 0.3, 20000 * ratio, edges)
    sag = np.abs(sine_field(plate_modes(plate, 20, 20), 1.0, 0.0)).max() / 1000
    load = plate.mass_mg * 1e-6 / (plate.length_mm * plate.width_mm * 1e-6) * vibration.GRAVITY_MM_S2 / 1000
    return float(sag * plate.stiffness_n_m / (load * 0.1**4))


def steinberg(edges: str) -> float:
    """First frequency [Hz] by finite elements of a 6 × 4 × 0.1 inch board, 2e6 psi, 0.12, 0.208 lb/in³."""
    mass = 6 * 4 * 0.1 * 0.208 * 453592.37
    plate = Plate(152.4, 101.6, 2.54, 13789.5, 0.12, mass, edges)
    return float(plate_modes(plate, 2).frequency_hz[0])


def profile() -> float:
    """Root mean square [g] of the carrier's profile (1 Hz, 1e-4) (4, 0.01) (100, 0.01) (200, 0.001 g²/Hz)."""
    return float(vibration.profile_rms(((1, 1e-4), (4, 0.01), (100, 0.01), (200, 0.001))))


# Length over the leads and distance of the lead rows of the '541 sheet's drawings, mm.
BOARD_541 = {
    "TSSOP-20": (6.5, 6.4),
    "VSSOP-20": (5.1, 4.9),
    "SSOP-20": (7.2, 7.8),
    "SO-20W": (12.8, 10.3),
    "TVSOP-20": (5.0, 6.4),
    "QFN-20-2.5x4.5": (4.5, 2.5),
    "QFN-20-3.5x4.5": (4.5, 3.5),
}


def board_over_sheet(outline: str) -> float:
    """Rise at the leads per watt on a board of `jesd51-boards` over the '541 sheet's θJA − ψJB; nothing is fitted."""
    board = HeatBoard(114.3, 76.2, (7.0, 33.0, 33.0, 7.0), (0.25, 1.1, 0.25))
    length, span = BOARD_541[outline]
    if outline.startswith("QFN"):
        rise = board_heat(board, (Source(57, 38, length, span, 1.0, 9),), 120).under(Source(57, 38, length, span, 1.0))
    else:
        rows = tuple(Source(57, 38 + side * (span / 2 - 0.35), length, 0.7, 0.5) for side in (-1, 1))
        rise = board_heat(board, rows, 120).under(rows[0])
    row = sheets()["octal-541"].rows[outline]
    if row.psi_jb is None:
        return math.nan
    return float(rise / (row.ja - row.psi_jb))


def highest_power(junction: float, air: float, theta: float) -> float:
    """Power [W] at which the junction reaches its limit [°C]."""
    return float(heat.highest_power(junction, air, theta))


def allowed_power(air: float, theta: float) -> float:
    """The same to 125 °C, in mW."""
    return 1e3 * float(heat.highest_power(125, air, theta))


def theta_needed(power: float, junction: float, air: float) -> float:
    """Thermal resistance [K/W] with which a power [W] just reaches the junction's limit [°C]."""
    low, high = 1.0, 1000.0
    while high - low > 1e-9:
        middle = (low + high) / 2
        low, high = (middle, high) if heat.junction_temperature(power, middle, air) < junction else (low, middle)
    return low


def junction(power: float, theta: float, air: float) -> float:
    """Junction temperature [°C]."""
    return float(heat.junction_temperature(power, theta, air))


def saved_by_supply(from_v: float, to_v: float) -> float:
    """Share of the dynamic power that a lower supply saves."""
    before, after = (heat.cmos_power(30, volts, 1e6, 1, 50) for volts in (from_v, to_v))
    return float(1 - after / before)


def sheet(key: str, outline: str) -> float:
    """θJA [K/W] of a package as a data sheet's table in `service/resistances.toml` has it."""
    return float(sheets()[key].rows[outline].ja)


def sheet_cell(sheet: str, outline: str, which: str) -> float:
    """A cell [K/W] of a data sheet's thermal table: `ja`, `jb` or `psi`."""
    row = sheets()[sheet].rows[outline]
    found = {"ja": row.ja, "jb": row.jb, "psi": row.psi_jb}[which]
    return math.nan if found is None else float(found)


def package_constant(family: str, end: str) -> float:
    """The displacement rule's constant of a family: its `low` end, `value` or `high` end."""
    return float(getattr(shaking.package_constant(family), end))


def environment_cell(name: str, number: float, which: str) -> float:
    """A cell of the table of environments: of a kind of cycle by its number, or of the place."""
    row = environment(name)
    if which in ("years", "failures"):
        return float(getattr(row, which))
    line = row.cycles[int(number)]
    return float({"swing": line.swing_k, "dwell": line.dwell_min, "per_year": line.per_year, "top": line.top_c}[which])


def place_top(name: str) -> float:
    """Hottest air of a place [°C]."""
    return float(PLACE_TOP_C[name])


def spread(outline: str, side: str) -> float:
    """The lowest (`low`) or highest (`high`) θJA [K/W] that data sheets print for a package."""
    found = spread_of(outline)
    if found is None:
        return math.nan
    return float(found.low if side == "low" else found.high)


def order(first: str, second: str, key: str) -> str:
    """Which of two packages a data sheet has cooler."""
    return order_of([first, second], sheets()[key])[0]


def via(apart: float, size: str) -> float:
    """Inductance [nH] of a via 60 mil long, radius 6 mil (`self`), what two so far [mm] apart share, and the `rest`."""
    one = Piece((0, 0, 0), (0, 0, 1.524), 0.3048, 0.3048, round=True)
    other = Piece((apart, 0, 0), (apart, 0, 1.524), 0.3048, 0.3048, round=True)
    matrix = inductance_matrix([[one], [other]])
    sizes = {"self": matrix[0, 0], "mutual": matrix[0, 1], "rest": matrix[0, 0] - matrix[0, 1]}
    return float(sizes[size])


# Flat packs of a gate-array data sheet's table: count, pitch, body, span, lead width [mm]; outlines recalled.
FLAT_PACKS = {
    "TQFP-100": (100, 0.5, 14, 16, 0.22),
    "TQFP-144": (144, 0.5, 20, 22, 0.22),
    "QFP-160": (160, 0.65, 28, 31.2, 0.3),
    "SQFP-208": (208, 0.5, 28, 30.6, 0.22),
    "SQFP-240": (240, 0.5, 32, 34.6, 0.22),
}


def _quad(name: str) -> Outline:
    count, pitch, body, span, lead = FLAT_PACKS[name]
    exact = Range.exact
    return Outline(
        name,
        "gull-wing quad",
        count,
        pitch,
        exact(body),
        exact(body),
        exact(1.6),
        exact(lead),
        "from memory",
        (),
        span_mm=exact(span),
        span_length_mm=exact(span),
        foot_mm=exact(0.6),
        terminal_thickness_mm=exact(0.15),
    )


@cache
def _inductance(pack: str) -> PackageInductance:
    return package_inductance(_quad(pack))


def flat_pack_own(pack: str) -> float:
    """Middle of a lead's own inductance [nH]."""
    found = _inductance(pack)
    return math.sqrt(found.least * found.most)


def flat_pack_neighbour(pack: str) -> float:
    """Middle of what a lead shares with its neighbour [nH]."""
    return flat_pack_own(pack) * float(_inductance(pack).coupling)


def octal_bounce(outline: str, side: str) -> float:
    """Least or greatest ground bounce [V] of an LVC octal, seven of eight outputs switching 50 pF at 3.3 V."""
    family = family_of("LVC")
    if family is None:
        return math.nan
    found = package_inductance(find(outline))
    band = bounce_band(7, (found.effective_low, found.effective_high), 50, 3.3, family.edge_ns)
    return float(band.low if side == "low" else band.high)


def family_edge(letters: str, length: float) -> float:
    """A family's fastest edge over the one that a line length [inch] implies there and back."""
    family = family_of(letters)
    return math.nan if family is None else float(np.clip(edge_of_line(length), *family.edge_ns) / edge_of_line(length))


def spacing_at(volts: float, place: str) -> float:
    """Least spacing [mm] between conductors."""
    return float(spacing(volts, place))
