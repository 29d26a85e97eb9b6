"""Formula-book entries of what the board does in service: shaking, heat, signals, dirt."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from landwise.evidence.book import Formula, Input, Output
from landwise.outlines import catalogue, find
from landwise.service import board_heat, contamination, electrical, heat, shaking, vibration
from landwise.service.families import FAMILIES, LINE_SOURCE, edge_of_line
from landwise.service.families import SOURCE as FAMILY_SOURCE
from landwise.service.package_inductance import package_inductance
from landwise.service.plate import Plate, plate_modes
from landwise.service.resistances import sheets, spread_of


def _points(
    length: float,
    width: float,
    thickness: float,
    modulus: float,
    poisson: float,
    mass: float,
    edges: str,
    inset: float | None,
    screws_hold: str,
) -> Mapping[str, Any]:
    corners: tuple[tuple[float, float], ...] = ()
    if inset is not None:
        corners = tuple((x, y) for x in (inset, length - inset) for y in (inset, width - inset))
    plate = Plate(length, width, thickness, modulus, poisson, mass, edges, corners, screws_hold == "yes")
    modes = plate_modes(plate, 3)
    first, second, third = (float(f) for f in modes.frequency_hz)
    return {"first": first, "second": second, "third": third, "participation": abs(float(modes.participation[0]))}


def _pulse(peak: float, duration: float, frequency: float) -> Mapping[str, Any]:
    factor = vibration.shock_amplification(frequency, duration)
    moved = peak * factor * vibration.GRAVITY_MM_S2 / (2 * 3.141592653589793 * frequency) ** 2
    return {"factor": factor, "response": peak * factor, "displacement": moved}


def _drop(drop: float, frequency: float) -> Mapping[str, Any]:
    return {"response": vibration.drop_response(drop, frequency)}


def _static(deflection: float) -> Mapping[str, Any]:
    return {"frequency": vibration.static_frequency(deflection)}


def _lead(
    strain: float, part_length: float, thickness: float, free_length: float, lead_width: float, lead_thickness: float
) -> Mapping[str, Any]:
    opening = shaking.opening_mm(strain, part_length, thickness)
    return {
        "opening": opening * 1000,
        "stress": shaking.lead_stress_mpa(opening, free_length, lead_thickness),
        "force": shaking.lead_force_n(opening, free_length, lead_width, lead_thickness),
    }


def _heat(
    length: float,
    width: float,
    thickness: float,
    layers: int,
    copper: float,
    share: float,
    part_length: float,
    part_width: float,
    power: float,
    vias: int,
    hole: float,
    plating: float,
    film: float,
    ambient: float,
) -> Mapping[str, Any]:
    sheets, gaps = board_heat.stack(layers, copper, (share,), thickness)
    board = board_heat.HeatBoard(length, width, sheets, gaps, film, film)
    via = board_heat.via_resistance(hole, plating, thickness)
    source = board_heat.Source(length / 2, width / 2, part_length, part_width, power, vias, via)
    rise = board_heat.board_heat(board, (source,)).under(source)
    return {"temperature": ambient + rise, "resistance": rise / power if power else None}


def _via(hole: float, plating: float, thickness: float, count: int) -> Mapping[str, Any]:
    return {"resistance": board_heat.via_resistance(hole, plating, thickness) / count}


def _slab(side: float, depth: float, conductivity: float, angle: float) -> Mapping[str, Any]:
    return {"resistance": board_heat.slab_spreading(side, depth, conductivity, angle)}


def _power(
    cpd: float,
    supply: float,
    frequency: float,
    outputs: int,
    load: float,
    static: float,
    ttl_inputs: int,
    extra: float,
    duty: float,
) -> Mapping[str, Any]:
    parts = heat.logic_power(cpd, supply, frequency, outputs, load, static, ttl_inputs, extra, duty)
    return {"total": parts.total_w, "static": parts.static_w, "internal": parts.internal_w, "load": parts.load_w}


def _most(junction: float, ambient: float, theta_ja: float) -> Mapping[str, Any]:
    return {"power": heat.highest_power(junction, ambient, theta_ja)}


def _published(outline: str) -> Mapping[str, Any]:
    spread = spread_of(find(outline).name)
    if spread is None:
        return {"low": None, "high": None, "factor": None}
    return {"low": spread.low, "high": spread.high, "factor": spread.factor}


def _package(outline: str) -> Mapping[str, Any]:
    found = package_inductance(find(outline))
    return {
        "ground_low": found.ground_low,
        "ground_high": found.ground_high,
        "effective_low": found.effective_low,
        "effective_high": found.effective_high,
        "least": found.least,
        "most": found.most,
    }


def _decoupling(
    outputs: int, package: float, load: float, swing: float, edge_time: float, sag: float, track: float, height: float
) -> Mapping[str, Any]:
    per_mm = 2 * electrical.track_plane_nh_mm(track, height)
    return {"distance": electrical.decoupling_distance(outputs, package, load, swing, edge_time, sag, per_mm)}


def _family(family: str, supply: float | None) -> Mapping[str, Any]:
    found = FAMILIES[family.upper()]
    volts = supply or found.supply_v
    return {
        "edge_low": found.edge_ns[0],
        "edge_high": found.edge_ns[1],
        "threshold": found.threshold(volts),
        "faster": found.faster,
    }


def _line(length: float) -> Mapping[str, Any]:
    return {"edge": edge_of_line(length / 25.4)}


def _migration(voltage: float, gap: float, air: str) -> Mapping[str, Any]:
    found = contamination.migration(voltage, gap, air)  # type: ignore[arg-type]
    return {"field": found.field_v_mm, "verdict": found.verdict, "says": found.says}


def _coat(gap: float, coat: str) -> Mapping[str, Any]:
    found = contamination.coat_reach(gap, coat, True)
    return {"ratio": found.ratio, "verdict": found.verdict, "says": found.says}


def _names() -> tuple[str, ...]:
    printed = {name for sheet in sheets().values() for name in sheet.rows}
    return tuple(sorted(name.lower() for name in catalogue() if name in printed))


def _outlines() -> tuple[str, ...]:
    return tuple(sorted(name.lower() for name in catalogue()))


_BOARD = (
    Input("length", "length", "side from the left to the right edge"),
    Input("width", "length", "other side"),
    Input("thickness", "length", "board thickness", "1.6 mm"),
)

BOARD: tuple[Formula, ...] = (
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
    Formula(
        "package-inductance",
        "Inductance of a package's terminals from its drawing",
        (Input("outline", "choice", "outline", None, _outlines()),),
        (
            Output("ground_low", "nH", "ground terminal, least"),
            Output("ground_high", "nH", "ground terminal, most"),
            Output("effective_low", "nH", "with returns and mutuals, least"),
            Output("effective_high", "nH", "with returns and mutuals, most"),
            Output("least", "nH", "lowest of all terminals"),
            Output("most", "nH", "highest of all terminals"),
        ),
        _package,
        "die and bond wires assumed as a band; no measurement of logic packages backs it",
        ("grover-bar", "neumann-mutual", "die-size-practice", "orca2-inductance"),
        "Neumann's integral over straight pieces",
    ),
    Formula(
        "decoupling-distance",
        "Farthest capacitor that holds the supply up while outputs switch",
        (
            Input("outputs", "count", "outputs switching together"),
            Input("package", "inductance", "supply and ground terminal together"),
            Input("load", "capacitance", "load per output", "50 pF"),
            Input("swing", "voltage", "swing"),
            Input("edge_time", "time", "edge"),
            Input("sag", "voltage", "allowed sag"),
            Input("track", "length", "track width", "0.25 mm"),
            Input("height", "length", "height over the plane", "0.25 mm"),
        ),
        (Output("distance", "mm", "distance, 0 where none is near enough"),),
        _decoupling,
        "tracks over a plane, ideal capacitor, rounded edge: the true distance is shorter",
        ("ti-ground-bounce", "track-plane-memory", "decoupling-sheets"),
        "N·(Lp + L')·1.52·C·ΔV/t² = sag",
    ),
    Formula(
        "logic-family",
        "Edges and input threshold of a logic family",
        (
            Input("family", "choice", "family letters", None, tuple(name.lower() for name in FAMILIES)),
            Input("supply", "voltage", "supply; the family's own where not given", optional=True),
        ),
        (
            Output("edge_low", "ns", "fastest edge"),
            Output("edge_high", "ns", "slowest edge"),
            Output("threshold", "V", "highest voltage taken as low"),
            Output("faster", "", "the next faster family"),
        ),
        _family,
        "recalled bands",
        (FAMILY_SOURCE,),
    ),
    Formula(
        "line-edge",
        "Edge that a line length just holds there and back",
        (Input("length", "length", "length of the line"),),
        (Output("edge", "ns", "edge"),),
        _line,
        "0.15 ns per inch of track on epoxy glass (recalled)",
        (LINE_SOURCE,),
        "t = 2·l·0.15 ns/inch",
    ),
    Formula(
        "migration-field",
        "Field between terminals and its class of exposure",
        (
            Input("voltage", "voltage", "between the terminals"),
            Input("gap", "length", "gap"),
            Input(
                "air",
                "choice",
                "; ".join(f"{k}: {v}" for k, v in contamination.AIRS.items()),
                "dry",
                tuple(contamination.AIRS),
            ),
        ),
        (
            Output("field", "V/mm", "field"),
            Output("verdict", "", "holds, marginal or fails; a class, not a chance"),
            Output("says", "", "why"),
        ),
        _migration,
        "a class of exposure; residues decide, and no formula here knows them",
        ("ecm-mechanism", "ecm-coated", "ecm-bell", contamination.TEST_SOURCE),
        "V/gap",
        "safety standards and local codes override it; circuits on mains want licensed practice",
    ),
    Formula(
        "coat-reach",
        "Whether a conformal coat gets under a body",
        (
            Input("gap", "thin length", "gap under the body"),
            Input("coat", "choice", "kind of coat", None, tuple(contamination.COATS)),
        ),
        (
            Output("ratio", "", "gap over two films"),
            Output("verdict", "", "holds or marginal"),
            Output("says", "", "why"),
        ),
        _coat,
        "a rule of landwise's own on recalled thicknesses",
        (*contamination.COAT_SOURCES, "coat-capillary"),
        "gap/(2·film)",
    ),
)
