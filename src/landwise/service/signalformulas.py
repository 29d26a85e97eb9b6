"""Formula-book entries of inductance, bounce and tracks."""

from __future__ import annotations

from landwise.evidence.book import Formula, Input, Output, Outputs
from landwise.outlines import catalogue, find
from landwise.service import electrical
from landwise.service.families import FAMILIES, LINE_SOURCE, edge_of_line
from landwise.service.families import SOURCE as FAMILY_SOURCE
from landwise.service.package_inductance import package_inductance


def _inductance(length: float, width: float, thickness: float) -> Outputs:
    return {"inductance": electrical.lead_inductance(length, width, thickness)}


def _wire(length: float, diameter: float) -> Outputs:
    return {"inductance": electrical.wire_inductance(length, diameter)}


def _mutual(length: float, spacing: float) -> Outputs:
    return {"inductance": electrical.mutual_inductance(length, spacing)}


def _bounce(outputs: int, inductance: float, load: float, swing: float, edge_time: float, form: str) -> Outputs:
    volts = electrical.ground_bounce(outputs, inductance, load, swing, edge_time, form)
    return {"voltage": volts, "flag": volts > swing / 3}


def _current(width: float, copper: float, rise: float, place: str) -> Outputs:
    return {"current": electrical.trace_current(width, copper, rise, place)}


def _package(outline: str) -> Outputs:
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
) -> Outputs:
    per_mm = 2 * electrical.track_plane_nh_mm(track, height)
    return {"distance": electrical.decoupling_distance(outputs, package, load, swing, edge_time, sag, per_mm)}


def _family(family: str, supply: float | None) -> Outputs:
    found = FAMILIES[family.upper()]
    volts = supply or found.supply_v
    return {
        "edge_low": found.edge_ns[0],
        "edge_high": found.edge_ns[1],
        "threshold": found.threshold(volts),
        "faster": found.faster,
    }


def _line(length: float) -> Outputs:
    return {"edge": edge_of_line(length / 25.4)}


def _outlines() -> tuple[str, ...]:
    return tuple(sorted(name.lower() for name in catalogue()))


SIGNALS: tuple[Formula, ...] = (
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
)
