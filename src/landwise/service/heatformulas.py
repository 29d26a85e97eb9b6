"""Formula-book entries of heat."""

from __future__ import annotations

from typing import Any

from landwise.evidence.book import Formula, Input, Output, Outputs
from landwise.outlines import catalogue, find
from landwise.service import board_heat, heat
from landwise.service.resistances import sheets, spread_of

_BOARD = (
    Input("length", "length", "side from the left to the right edge"),
    Input("width", "length", "other side"),
    Input("thickness", "length", "board thickness", "1.6 mm"),
)


def _junction(power: float, theta_ja: float, ambient: float, t_max: float) -> Outputs:
    temperature = heat.junction_temperature(power, theta_ja, ambient)
    return {"temperature": temperature, "margin": t_max - temperature}


def _cmos(cpd: float, supply: float, frequency: float, outputs: int, load: float) -> Outputs:
    return {"power": heat.cmos_power(cpd, supply, frequency, outputs, load)}


def _spreading(inner: float, outer: float, copper: float, film: float) -> Outputs:
    return {"resistance": heat.copper_spreading(inner, outer, copper, film)}


# the inputs of a formula by name: numbers, arrays or words, which the book checks
def _heat(**given: Any) -> Outputs:
    length, width, thickness, film = (given[name] for name in ("length", "width", "thickness", "film"))
    sheets, gaps = board_heat.stack(given["layers"], given["copper"], (given["share"],), thickness)
    board = board_heat.HeatBoard(length, width, sheets, gaps, film, film)
    via = board_heat.via_resistance(given["hole"], given["plating"], thickness)
    size = (given["part_length"], given["part_width"])
    source = board_heat.Source(length / 2, width / 2, *size, given["power"], given["vias"], via)
    rise = board_heat.board_heat(board, (source,)).under(source)
    return {"temperature": given["ambient"] + rise, "resistance": rise / source.power_w if source.power_w else None}


def _via(hole: float, plating: float, thickness: float, count: int) -> Outputs:
    return {"resistance": board_heat.via_resistance(hole, plating, thickness) / count}


def _slab(side: float, depth: float, conductivity: float, angle: float) -> Outputs:
    return {"resistance": board_heat.slab_spreading(side, depth, conductivity, angle)}


# the inputs of a formula by name: numbers, arrays or words, which the book checks
def _power(**given: Any) -> Outputs:
    ttl = heat.TtlInputs(given["ttl_inputs"], given["extra"], given["duty"])
    parts = heat.logic_power(
        given["cpd"], given["supply"], given["frequency"], given["outputs"], given["load"], given["static"], ttl
    )
    return {"total": parts.total_w, "static": parts.static_w, "internal": parts.internal_w, "load": parts.load_w}


def _most(junction: float, ambient: float, theta_ja: float) -> Outputs:
    return {"power": heat.highest_power(junction, ambient, theta_ja)}


def _published(outline: str) -> Outputs:
    spread = spread_of(find(outline).name)
    if spread is None:
        return {"low": None, "high": None, "factor": None}
    return {"low": spread.low, "high": spread.high, "factor": spread.factor}


def _names() -> tuple[str, ...]:
    printed = {name for sheet in sheets().values() for name in sheet.rows}
    return tuple(sorted(name.lower() for name in catalogue() if name in printed))


HEAT: tuple[Formula, ...] = (
    Formula(
        "junction-temperature",
        "Junction temperature and its margin",
        (
            Input("power", "power", "dissipated power"),
            Input("theta_ja", "thermal resistance", "junction to ambient, of this die, package and board"),
            Input("ambient", "temperature", "air temperature"),
            Input(
                "t_max",
                "temperature",
                "highest junction temperature; 125 °C is the usual absolute limit of plastic logic",
                "125 degC",
            ),
        ),
        (Output("temperature", "degC", "junction temperature"), Output("margin", "K", "below the limit")),
        _junction,
        "θJA from a sheet with the same board; published values of one package differ by two times",
        ("toshiba-junction",),
        "T = Ta + θ·P",
    ),
    Formula(
        "cmos-power",
        "Dynamic power of CMOS outputs",
        (
            Input("cpd", "capacitance", "power dissipation capacitance per output"),
            Input("supply", "voltage", "supply"),
            Input("frequency", "frequency", "switching frequency"),
            Input("outputs", "count", "outputs switching", "1"),
            Input("load", "capacitance", "load per output"),
        ),
        (Output("power", "W", "dynamic power"),),
        _cmos,
        "rail-to-rail swing, equal loads",
        ("ti-cmos-power",),
        "P = (Cpd + CL)·f·Vcc²·N",
    ),
    Formula(
        "copper-spreading",
        "Thermal resistance of a copper ring that loses heat from one face",
        (
            Input("inner", "length", "inner radius"),
            Input("outer", "length", "outer radius"),
            Input("copper", "thin length", "copper thickness", "35 um"),
            Input("film", "ratio", "film coefficient in W/m²K", "10"),
        ),
        (Output("resistance", "K/W", "from the inner edge to air"),),
        _spreading,
        "copper of 385 W/mK, adiabatic rim",
        ("annular-fin",),
    ),
    Formula(
        "board-heat",
        "Board temperature under one part, conduction in the copper and air on both faces",
        (
            *_BOARD,
            Input("layers", "count", "copper layers, two or more", "4"),
            Input("copper", "thin length", "copper thickness", "35 um"),
            Input("share", "ratio", "share of copper on each layer", "0.5"),
            Input("part_length", "length", "heated length on the top face"),
            Input("part_width", "length", "heated width"),
            Input("power", "power", "power of the part, in the middle of the board"),
            Input("vias", "count", "thermal vias under it", "0"),
            Input("hole", "length", "their drilled hole", "0.3 mm"),
            Input("plating", "thin length", "their plating", "25 um"),
            Input("film", "ratio", "film coefficient of each face in W/m²K", "10"),
            Input("ambient", "temperature", "air", "25 degC"),
        ),
        (Output("temperature", "degC", "board under the part"), Output("resistance", "K/W", "to the air")),
        _heat,
        "steady, even films, copper as even sheets",
        ("board-conduction", "film-practice", "copper-share-practice", "via-barrel"),
        "k·t·∇²T − h·(T − Ta) + q = 0 on each layer",
    ),
    Formula(
        "via-heat",
        "Thermal resistance of plated holes",
        (
            Input("hole", "length", "drilled hole"),
            Input("plating", "thin length", "plating", "25 um"),
            Input("thickness", "length", "board thickness", "1.6 mm"),
            Input("count", "count", "holes side by side", "1"),
        ),
        (Output("resistance", "K/W", "from face to face"),),
        _via,
        "empty copper tubes of 385 W/mK",
        ("via-barrel",),
        "R = L/(kπ(ro² − ri²))",
    ),
    Formula(
        "slab-spreading",
        "Spreading resistance of a slab under a square source",
        (
            Input("side", "length", "side of the source"),
            Input("depth", "length", "thickness of the slab"),
            Input("conductivity", "ratio", "W/mK"),
            Input("angle", "angle", "spreading angle", "45 deg"),
        ),
        (Output("resistance", "K/W", "through the slab"),),
        _slab,
        "a rule with a spreading angle, not a solution of the field",
        ("infineon-slab",),
        "R = d/(λ·a·(a + 2d·tan α))",
    ),
    Formula(
        "logic-power",
        "Static, internal and load power of CMOS logic",
        (
            Input("cpd", "capacitance", "power dissipation capacitance per output"),
            Input("supply", "voltage", "supply"),
            Input("frequency", "frequency", "switching frequency"),
            Input("outputs", "count", "outputs switching", "1"),
            Input("load", "capacitance", "load per output", "50 pF"),
            Input("static", "current", "supply current at rest", "0 A"),
            Input("ttl_inputs", "count", "inputs driven at TTL levels", "0"),
            Input("extra", "current", "what each of them adds", "0 A"),
            Input("duty", "ratio", "share of time they are high", "0.5"),
        ),
        (
            Output("total", "W", "power"),
            Output("static", "W", "at rest"),
            Output("internal", "W", "inside"),
            Output("load", "W", "into the load"),
        ),
        _power,
        "rail-to-rail swing, equal loads",
        ("ti-cmos-power",),
        "P = Vcc·(Icc + N·ΔIcc·D) + (Cpd + CL)·f·Vcc²·N",
    ),
    Formula(
        "highest-power",
        "Power at which the junction just reaches its limit",
        (
            Input("junction", "temperature", "highest junction temperature", "125 degC"),
            Input("ambient", "temperature", "air"),
            Input("theta_ja", "thermal resistance", "junction to ambient on this board"),
        ),
        (Output("power", "W", "highest power"),),
        _most,
        "θJA from a sheet with the same board; published values of one package differ by two times",
        ("toshiba-junction", "slva118-examples"),
        "P = (Tj − Ta)/θ",
    ),
    Formula(
        "published-theta",
        "What data sheets print for one package's thermal resistance",
        (Input("outline", "choice", "outline", None, _names()),),
        (Output("low", "K/W", "lowest"), Output("high", "K/W", "highest"), Output("factor", "", "highest over lowest")),
        _published,
        "each value belongs to its die and its test board: a range, no prediction",
        ("ti-scas298o", "ti-sces217-thermal", "ti-logic-data-book"),
    ),
)
