"""Formula-book entries of the service room."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from landwise.errors import InputError
from landwise.evidence.book import Formula, Input, Output
from landwise.service import clearance as spacing_table
from landwise.service import electrical, heat, moisture, thermal_cycling, vibration
from landwise.service.board_formulas import BOARD
from landwise.service.lifeformulas import LIFE_BOOK

_FATIGUE = tuple(thermal_cycling.FATIGUE_SETS)
_ACCELERATION = tuple(thermal_cycling.ACCELERATION_SETS)


def _leadless(
    dnp: float,
    cte_part: float,
    cte_board: float,
    delta_t: float,
    height: float,
    mean_solder_temp: float,
    dwell: float,
    factor: float,
    alloy: str,
) -> Mapping[str, Any]:
    strain = thermal_cycling.leadless_strain(dnp, cte_part - cte_board, delta_t, height, factor)
    exponent = thermal_cycling.fatigue_exponent(mean_solder_temp, dwell / 60, alloy)
    return {
        "cycles": thermal_cycling.median_cycles(strain, exponent, alloy),
        "strain_range": strain,
        "exponent": exponent,
    }


def _leaded(
    stiffness: float,
    dnp: float,
    cte_part: float,
    cte_board: float,
    delta_t: float,
    joint_area: float,
    height: float,
    mean_solder_temp: float,
    dwell: float,
    factor: float,
    alloy: str,
) -> Mapping[str, Any]:
    term = thermal_cycling.leaded_energy_term(stiffness, dnp, cte_part - cte_board, delta_t, joint_area, height, factor)
    exponent = thermal_cycling.fatigue_exponent(mean_solder_temp, dwell / 60, alloy)
    return {"cycles": thermal_cycling.median_cycles(term, exponent, alloy), "energy_term": term, "exponent": exponent}


def _acceleration(
    field_delta_t: float,
    test_delta_t: float,
    field_freq: float,
    test_freq: float,
    field_t_max: float,
    test_t_max: float,
    alloy: str,
    field_dwell: float | None,
    test_dwell: float | None,
) -> Mapping[str, Any]:
    return {
        "factor": thermal_cycling.acceleration_factor(
            field_delta_t,
            test_delta_t,
            field_freq,
            test_freq,
            field_t_max,
            test_t_max,
            alloy,
            field_dwell_min=None if field_dwell is None else field_dwell / 60,
            test_dwell_min=None if test_dwell is None else test_dwell / 60,
        )
    }


def _weibull(median: float, share: float, shape: float) -> Mapping[str, Any]:
    return {"cycles": thermal_cycling.weibull_cycles(median, share, shape)}


def _plate(
    length: float, width: float, thickness: float, modulus: float, poisson: float, mass: float, edges: str
) -> Mapping[str, Any]:
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
) -> Mapping[str, Any]:
    z = vibration.displacement_limit(board_length, part_length, thickness, package_constant, position_factor, cycles)
    outputs = {"displacement": z}
    if psd is not None or sine is not None:
        outputs["min_frequency"] = vibration.least_frequency(z, psd_g2_hz=psd, sine_g=sine)
    return outputs


def _random(frequency: float, q: float, psd: float) -> Mapping[str, Any]:
    g_rms, z = vibration.random_response(frequency, q, psd)
    return {"g_rms": g_rms, "displacement_3sigma": z}


def _half_sine(peak: float, duration: float) -> Mapping[str, Any]:
    velocity, drop = vibration.half_sine_velocity(peak, duration)
    return {"velocity": velocity, "drop": drop}


def _junction(power: float, theta_ja: float, ambient: float, t_max: float) -> Mapping[str, Any]:
    temperature = heat.junction_temperature(power, theta_ja, ambient)
    return {"temperature": temperature, "margin": t_max - temperature}


def _cmos(cpd: float, supply: float, frequency: float, outputs: int, load: float) -> Mapping[str, Any]:
    return {"power": heat.cmos_power(cpd, supply, frequency, outputs, load)}


def _spreading(inner: float, outer: float, copper: float, film: float) -> Mapping[str, Any]:
    return {"resistance": heat.copper_spreading(inner, outer, copper, film)}


def _inductance(length: float, width: float, thickness: float) -> Mapping[str, Any]:
    return {"inductance": electrical.lead_inductance(length, width, thickness)}


def _wire(length: float, diameter: float) -> Mapping[str, Any]:
    return {"inductance": electrical.wire_inductance(length, diameter)}


def _mutual(length: float, spacing: float) -> Mapping[str, Any]:
    return {"inductance": electrical.mutual_inductance(length, spacing)}


def _bounce(
    outputs: int, inductance: float, load: float, swing: float, edge_time: float, form: str
) -> Mapping[str, Any]:
    volts = electrical.ground_bounce(outputs, inductance, load, swing, edge_time, form)
    return {"voltage": volts, "flag": volts > swing / 3}


def _current(width: float, copper: float, rise: float, place: str) -> Mapping[str, Any]:
    return {"current": electrical.trace_current(width, copper, rise, place)}


def _floor_life(level: str, thickness: float) -> Mapping[str, Any]:
    time = moisture.floor_life(level)
    if time is None:
        return {"time": None, "bake": None}
    if level == "2":
        return {"time": time / moisture.HOUR, "bake": None}
    bake = moisture.bake(level, thickness)
    if bake is None:
        raise InputError("no bake for this level", place="level", found=level)
    return {
        "time": time / moisture.HOUR,
        "bake": bake.at_125_s / moisture.HOUR,
        "bake_90": bake.at_90_s / moisture.HOUR,
        "bake_40": bake.at_40_s / moisture.HOUR,
    }


def _classification(thickness: float, volume: float) -> Mapping[str, Any]:
    return {"temperature": moisture.classification_temperature(thickness, volume)}


def _clearance(voltage: float, condition: str) -> Mapping[str, Any]:
    return {"spacing": spacing_table.spacing(voltage, condition)}


_ALLOY = "solder constants; sets with -recalled in their name are from memory and never a default"
_CYCLING = (
    Input("dnp", "length", "distance of the joint from the part's neutral point"),
    Input("cte_part", "expansion", "thermal expansion of the part"),
    Input("cte_board", "expansion", "thermal expansion of the board"),
    Input("delta_t", "temperature difference", "temperature swing"),
)
_DWELL = (
    Input("mean_solder_temp", "temperature", "mean cyclic solder temperature"),
    Input("dwell", "time", "half-cycle dwell"),
)

BOOK: tuple[Formula, ...] = (
    Formula(
        "leadless-cycles",
        "Median life of a leadless joint in thermal cycling",
        (
            *_CYCLING,
            Input("height", "length", "solder height"),
            *_DWELL,
            Input("factor", "ratio", "non-ideal factor, 1.0 to 1.5 for balls, 0.7 to 1.2 with fillets", "1"),
            Input("alloy", "choice", _ALLOY, "snpb", _FATIGUE),
        ),
        (
            Output("cycles", "", "cycles to 50 % failures"),
            Output("strain_range", "", "cyclic shear strain range"),
            Output("exponent", "", "fatigue ductility exponent c"),
        ),
        _leadless,
        "dwells of a minute and longer, −55 to 150 °C, strains up to 50 %; first order, compare rather than predict",
        ("engelmaier-dfr", "engelmaier-2008-notebook", "sac-2009-memory"),
        "Δγ = F·L·|Δα·ΔT|/h; N = ½·(2εf/Δγ)^(−1/c)",
    ),
    Formula(
        "leaded-cycles",
        "Median life of a leaded joint in thermal cycling",
        (
            Input("stiffness", "stiffness", "diagonal stiffness of the free lead"),
            *_CYCLING,
            Input("joint_area", "area", "load-bearing solder area, about 2/3 of the lead's footprint"),
            Input("height", "length", "solder height, about half the foil"),
            *_DWELL,
            Input("factor", "ratio", "non-ideal factor", "1"),
            Input("alloy", "choice", _ALLOY, "snpb", _FATIGUE),
        ),
        (
            Output("cycles", "", "cycles to 50 % failures"),
            Output("energy_term", "", "damage term ΔD"),
            Output("exponent", "", "fatigue ductility exponent c"),
        ),
        _leaded,
        "compliant leads, dwells of a minute and longer; the form is recalled",
        ("leaded-fatigue-memory", "engelmaier-dfr"),
        "ΔD = F·K·(L·Δα·ΔT)²/(200 psi·A·h)",
    ),
    Formula(
        "cycle-acceleration",
        "Field cycles that one test cycle stands for",
        (
            Input("field_delta_t", "temperature difference", "swing in the field"),
            Input("test_delta_t", "temperature difference", "swing in the test"),
            Input("field_freq", "frequency", "cycles in the field, such as '2 /day'"),
            Input("test_freq", "frequency", "cycles in the test"),
            Input("field_t_max", "temperature", "highest temperature in the field"),
            Input("test_t_max", "temperature", "highest temperature in the test"),
            Input("alloy", "choice", _ALLOY, "snpb", _ACCELERATION),
            Input("field_dwell", "time", "hot dwell in the field, for the sets that count dwells", optional=True),
            Input("test_dwell", "time", "hot dwell in the test", optional=True),
        ),
        (Output("factor", "", "acceleration factor"),),
        _acceleration,
        "swings and temperatures within the tests behind the constants, checked where known; tends to be optimistic",
        ("norris-landzberg-pch", "yang-csp", "pan-2005-memory", "lall-2012-memory", "dauksher-2008-memory"),
        "AF = (ΔTt/ΔTf)^n·(ff/ft)^m·exp[K(1/Tf − 1/Tt)]; sets of dwells: (tt/tf)^m",
    ),
    Formula(
        "weibull-life",
        "Cycles at which a share has failed",
        (
            Input("median", "ratio", "median cycles"),
            Input("share", "ratio", "failed share, such as 1 %"),
            Input("shape", "ratio", "Weibull shape: 2 compliant, 3 typical, 4 stiff", "3"),
        ),
        (Output("cycles", "", "cycles"),),
        _weibull,
        "two-parameter Weibull",
        ("weibull-dfr",),
        "N(x) = N50·[ln(1 − x)/ln 0.5]^(1/β)",
    ),
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
        "lead-inductance",
        "Partial inductance of a flat lead",
        (
            Input("length", "length", "length"),
            Input("width", "length", "width"),
            Input("thickness", "length", "thickness"),
        ),
        (Output("inductance", "nH", "partial self inductance"),),
        _inductance,
        "leads longer than width and thickness together",
        ("grover-bar",),
        "0.2·l·[ln(2l/(w+t)) + ½ + 0.2235(w+t)/l]",
    ),
    Formula(
        "wire-inductance",
        "Partial inductance of a round wire",
        (Input("length", "length", "length"), Input("diameter", "length", "diameter")),
        (Output("inductance", "nH", "partial self inductance"),),
        _wire,
        "at least five diameters long",
        ("tps2421-wire",),
        "0.2·l·[ln(4l/d) − ¾]",
    ),
    Formula(
        "mutual-inductance",
        "Mutual inductance of two parallel leads",
        (Input("length", "length", "length"), Input("spacing", "length", "distance")),
        (Output("inductance", "nH", "mutual inductance"),),
        _mutual,
        "equal, opposite filaments",
        ("neumann-mutual",),
    ),
    Formula(
        "ground-bounce",
        "Bounce of the ground lead when outputs switch together",
        (
            Input("outputs", "count", "outputs switching together"),
            Input("inductance", "inductance", "of the ground lead, effective"),
            Input("load", "capacitance", "load per output"),
            Input("swing", "voltage", "voltage swing"),
            Input("edge_time", "time", "edge"),
            Input(
                "form",
                "choice",
                "shape of the current: the two differ by 2.6 times",
                "triangle",
                ("triangle", "half-sine"),
            ),
        ),
        (
            Output("voltage", "V", "peak, for comparing packages"),
            Output("flag", "", "above a third of the swing: a flag, not a prediction"),
        ),
        _bounce,
        "ignores the feedback that slows the edge: compare packages with one form",
        ("ti-ground-bounce",),
        "V = N·L·k·C·ΔV/t²",
        "above a third of the swing the number is only a flag",
    ),
    Formula(
        "trace-current",
        "Current of a track for a temperature rise",
        (
            Input("width", "length", "track width"),
            Input("copper", "thin length", "copper thickness", "35 um"),
            Input("rise", "temperature difference", "rise"),
            Input("place", "choice", "outer or inner layer", "outer", ("outer", "inner")),
        ),
        (Output("current", "A", "current"),),
        _current,
        "rises of 10 to 100 K, still air; a fit to the older charts",
        ("ipc-2221-current",),
        "I = k·ΔT^0.44·A^0.725",
    ),
    Formula(
        "floor-life",
        "Time out of the bag, and the bake after it",
        (
            Input("level", "choice", "moisture sensitivity level", None, ("1", "2", "2a", "3", "4", "5", "5a")),
            Input("thickness", "length", "body thickness", "1.2 mm"),
        ),
        (
            Output("time", "h", "floor life at 30 °C, 60 %; none: unlimited"),
            Output("bake", "h", "bake at 125 °C of a saturated part"),
            Output("bake_90", "h", "bake at 90 °C"),
            Output("bake_40", "h", "bake at 40 °C, dry"),
        ),
        _floor_life,
        "bodies up to 2.0 mm; level 2a as in the older revision, newer ones give it 7 h at 125 °C",
        (moisture.FLOOR_SOURCE, moisture.BAKE_SOURCE),
        "table",
        "total bake time above 90 °C is limited to 96 h by solderability; reels bake at 40 °C only",
    ),
    Formula(
        "classification-temperature",
        "Peak body temperature a package is classed for, lead-free",
        (Input("thickness", "length", "body thickness"), Input("volume", "volume", "body volume without leads")),
        (Output("temperature", "degC", "classification temperature"),),
        _classification,
        "plastic packages, lead-free reflow",
        ("j-std-020c-classes",),
        "table",
    ),
    Formula(
        "clearance",
        "Spacing between conductors by voltage",
        (
            Input("voltage", "voltage", "DC or AC peak"),
            Input(
                "condition",
                "choice",
                "; ".join(f"{k}: {v}" for k, v in spacing_table.CONDITIONS.items()),
                "b2",
                tuple(spacing_table.SPACING_MM),
            ),
        ),
        (Output("spacing", "mm", "least spacing"),),
        _clearance,
        "0 to 10 kV peak; generic boards",
        (spacing_table.SOURCE,),
        "table; above 500 V the slope is added to the last row",
        "safety standards and local codes override it; circuits on mains want licensed practice",
    ),
    *LIFE_BOOK,
    *BOARD,
)
