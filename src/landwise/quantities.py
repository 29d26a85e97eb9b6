"""Reading `"80 um"` and `"3.2 mil"`, and the units used inside.

Inside landwise every number is in the unit its name ends with: plan dimensions in mm (`pitch_mm`),
foils and standoffs in µm (`foil_um`), and so on. Text from a user is read here, once, at the edge.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from landwise.errors import UnitError

INCH_MM = 25.4  # exact by definition
POUND_FORCE_N = 4.4482216152605  # exact by definition
GRAVITY_M_S2 = 9.80665  # standard gravity, exact by definition


@dataclass(frozen=True)
class Dimension:
    """A kind of quantity: its canonical unit, and each accepted spelling with its factor to it.

    `offsets` holds what must be added after multiplying (only temperatures have one).
    """

    name: str
    unit: str
    factors: MappingProxyType[str, float]
    offsets: MappingProxyType[str, float] = field(default_factory=lambda: MappingProxyType({}))


def _dimension(name: str, unit: str, factors: dict[str, float], **offsets: float) -> Dimension:
    return Dimension(name, unit, MappingProxyType({unit: 1.0, **factors}), MappingProxyType(offsets))


_LENGTH_MM = {
    "nm": 1e-6,
    "um": 1e-3,
    "µm": 1e-3,
    "micron": 1e-3,
    "microns": 1e-3,
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "mil": INCH_MM / 1000,
    "mils": INCH_MM / 1000,
    "thou": INCH_MM / 1000,
    "in": INCH_MM,
    "inch": INCH_MM,
}

DIMENSIONS: MappingProxyType[str, Dimension] = MappingProxyType(
    {
        dimension.name: dimension
        for dimension in (
            _dimension("length", "mm", _LENGTH_MM),
            _dimension("thin length", "um", {name: f * 1000 for name, f in _LENGTH_MM.items()}),
            _dimension(
                "area",
                "mm2",
                {
                    "mm²": 1.0,
                    "um2": 1e-6,
                    "µm²": 1e-6,
                    "cm2": 100.0,
                    "cm²": 100.0,
                    "m2": 1e6,
                    "in2": INCH_MM**2,
                    "mil2": (INCH_MM / 1000) ** 2,
                },
            ),
            _dimension(
                "volume",
                "mm3",
                {
                    "mm³": 1.0,
                    "um3": 1e-9,
                    "nL": 1e-3,
                    "nl": 1e-3,
                    "uL": 1.0,
                    "µL": 1.0,
                    "cm3": 1000.0,
                    "in3": INCH_MM**3,
                    "mil3": (INCH_MM / 1000) ** 3,
                },
            ),
            _dimension("mass", "mg", {"ug": 1e-3, "µg": 1e-3, "g": 1e3, "kg": 1e6, "lb": 453592.37}),
            _dimension(
                "force",
                "N",
                {
                    "mN": 1e-3,
                    "uN": 1e-6,
                    "µN": 1e-6,
                    "kN": 1e3,
                    "lbf": POUND_FORCE_N,
                    "gf": GRAVITY_M_S2 * 1e-3,
                    "kgf": GRAVITY_M_S2,
                },
            ),
            # A weight given as a force, or as the mass that weighs so much.
            _dimension(
                "load",
                "N",
                {
                    "mN": 1e-3,
                    "uN": 1e-6,
                    "µN": 1e-6,
                    "gf": GRAVITY_M_S2 * 1e-3,
                    "ug": GRAVITY_M_S2 * 1e-9,
                    "µg": GRAVITY_M_S2 * 1e-9,
                    "mg": GRAVITY_M_S2 * 1e-6,
                    "g": GRAVITY_M_S2 * 1e-3,
                    "kg": GRAVITY_M_S2,
                },
            ),
            _dimension(
                "temperature",
                "degC",
                {"°C": 1.0, "C": 1.0, "K": 1.0, "degF": 5 / 9, "°F": 5 / 9},
                K=-273.15,
                degF=-160 / 9,
                **{"°F": -160 / 9},
            ),
            _dimension("temperature difference", "K", {"degC": 1.0, "°C": 1.0, "C": 1.0, "degF": 5 / 9, "°F": 5 / 9}),
            _dimension(
                "time",
                "s",
                {
                    "ps": 1e-12,
                    "ns": 1e-9,
                    "us": 1e-6,
                    "µs": 1e-6,
                    "ms": 1e-3,
                    "min": 60.0,
                    "h": 3600.0,
                    "hour": 3600.0,
                    "hours": 3600.0,
                    "d": 86400.0,
                    "day": 86400.0,
                    "days": 86400.0,
                    "week": 604800.0,
                    "weeks": 604800.0,
                    "yr": 31557600.0,
                    "year": 31557600.0,
                    "years": 31557600.0,
                },
            ),
            _dimension(
                "frequency",
                "Hz",
                {
                    "kHz": 1e3,
                    "MHz": 1e6,
                    "GHz": 1e9,
                    "/day": 1 / 86400,
                    "per day": 1 / 86400,
                    "/h": 1 / 3600,
                    "per hour": 1 / 3600,
                },
            ),
            _dimension("voltage", "V", {"mV": 1e-3, "kV": 1e3}),
            _dimension("current", "A", {"uA": 1e-6, "µA": 1e-6, "mA": 1e-3}),
            _dimension("power", "W", {"uW": 1e-6, "µW": 1e-6, "mW": 1e-3}),
            _dimension("capacitance", "pF", {"fF": 1e-3, "nF": 1e3, "uF": 1e6, "µF": 1e6}),
            _dimension("inductance", "nH", {"pH": 1e-3, "uH": 1e3, "µH": 1e3}),
            _dimension(
                "pressure",
                "MPa",
                {
                    "Pa": 1e-6,
                    "kPa": 1e-3,
                    "GPa": 1e3,
                    "N/mm2": 1.0,
                    "N/mm²": 1.0,
                    "psi": POUND_FORCE_N / INCH_MM**2,
                    "ksi": 1e3 * POUND_FORCE_N / INCH_MM**2,
                },
            ),
            _dimension("density", "g/cm3", {"g/cm³": 1.0, "kg/m3": 1e-3, "kg/m³": 1e-3}),
            _dimension("surface tension", "N/m", {"mN/m": 1e-3, "J/m2": 1.0, "J/m²": 1.0}),
            _dimension("expansion", "ppm/K", {"ppm/degC": 1.0, "ppm/°C": 1.0, "ppm": 1.0, "1/K": 1e6, "/K": 1e6}),
            _dimension("thermal resistance", "K/W", {"degC/W": 1.0, "°C/W": 1.0, "C/W": 1.0}),
            _dimension(
                "stiffness",
                "N/mm",
                {"N/m": 1e-3, "lb/in": POUND_FORCE_N / INCH_MM, "lbf/in": POUND_FORCE_N / INCH_MM},
            ),
            _dimension("acceleration", "g", {"G": 1.0, "gn": 1.0, "m/s2": 1 / GRAVITY_M_S2, "m/s²": 1 / GRAVITY_M_S2}),
            _dimension(
                "acceleration density",
                "g2/Hz",
                {"g²/Hz": 1.0, "G2/Hz": 1.0, "G²/Hz": 1.0, "(m/s2)2/Hz": 1 / GRAVITY_M_S2**2},
            ),
            _dimension("angle", "deg", {"°": 1.0, "rad": 180 / math.pi}),
            _dimension("ratio", "", {"%": 0.01, "ppm": 1e-6, "x": 1.0, "×": 1.0}),
        )
    }
)

_NUMBER = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*\Z", re.DOTALL)


def parse(text: object, dimension: str, *, place: str | None = None) -> float:
    """Read a quantity with its unit and give its value in the canonical unit of `dimension`.

    Parameters
    ----------
    text : str or number
        `"80 um"`, `"3.2mil"`, `"-40 degC"`. A bare number is accepted for ratios only.
    dimension : str
        A key of `DIMENSIONS`; the result is in that dimension's unit.
    place : str, optional
        Where the text stood, for the message.

    Raises
    ------
    UnitError
        If the number can't be read, or the unit is missing, unknown or of another dimension.

    Examples
    --------
    >>> parse("3.2 mil", "length")
    0.08128
    >>> parse("80 um", "length")
    0.08
    >>> parse("0.1mm", "thin length")
    100.0
    >>> parse("358.15 K", "temperature")
    85.0
    """
    kind = DIMENSIONS[dimension]
    if isinstance(text, bool) or not isinstance(text, (str, int, float)):
        raise UnitError(f"not a {dimension}", place=place, found=repr(text), expected=_example(kind))
    written = repr(text) if not isinstance(text, str) else text
    match = _NUMBER.fullmatch(written.replace("\u03bc", "µ"))
    comma = re.match(r"\s*[+-]?\d*,\d", written)
    if match is None or comma:
        hint = " (write the decimal point as a point)" if comma else ""
        raise UnitError(f"not a {dimension}{hint}", place=place, found=repr(text), expected=_example(kind))
    number, unit = float(match[1]), " ".join(match[2].split())
    if not math.isfinite(number):
        raise UnitError(f"not a finite {dimension}", place=place, found=repr(text), expected=_example(kind))
    if not unit and kind.unit:
        raise UnitError(
            f"the unit of this {dimension} is missing", place=place, found=repr(text), expected=_example(kind)
        )
    if unit not in kind.factors:
        other = next((d.name for d in DIMENSIONS.values() if unit in d.factors), None)
        wrong = f"{unit!r} is a unit of {other}, not of {dimension}" if other else f"unknown unit {unit!r}"
        raise UnitError(wrong, place=place, found=repr(text), expected=_example(kind))
    return _clean(number * kind.factors[unit] + kind.offsets.get(unit, 0.0))


def _clean(value: float) -> float:
    # "80 um" is 0.08 mm, not 0.08000000000000002: inputs are typed with few digits, so 15 hold them all.
    return float(f"{value:.15g}")


def _example(kind: Dimension) -> str:
    units = [unit for unit in kind.factors if unit]
    if not kind.unit:
        return "a plain number or a percentage"
    return f"a number with a unit, one of {', '.join(units[:8])}"


def significant(value: float, digits: int = 3) -> str:
    """Write a number with so many significant digits, without an exponent where it reads well.

    >>> significant(0.04567), significant(1234.5), significant(0.5), significant(2.3e-7), significant(0.0)
    ('0.0457', '1230', '0.5', '2.3e-7', '0')
    """
    # numpy rounds 0.1515 up and Python down: the same number reads the same wherever it comes from.
    value = float(value)
    if value == 0:
        return "0"
    if not math.isfinite(value):
        return "∞" if value > 0 else ("−∞" if value < 0 else "not known")
    exponent = math.floor(math.log10(abs(value)))
    if -4 <= exponent < 6:
        rounded = round(value, digits - 1 - exponent)
        text = f"{rounded:.{max(0, digits - 1 - exponent)}f}"
        return text.rstrip("0").rstrip(".") if "." in text else text
    mantissa, power = f"{value:.{digits - 1}e}".split("e")
    return f"{mantissa.rstrip('0').rstrip('.')}e{int(power)}"


def show(value: float, unit: str, digits: int = 3) -> str:
    """A number with its unit behind a thin space, as everything printed shows it.

    >>> show(0.6617, ""), show(0.5, "mm") == "0.5\\u2009mm"
    ('0.662', True)
    """
    pretty = {
        "um": "µm",
        "mm2": "mm²",
        "mg/mm2": "mg/mm²",
        "mm3": "mm³",
        "degC": "°C",
        "g2/Hz": "g²/Hz",
        "g/cm3": "g/cm³",
    }
    return significant(value, digits) + (f"\u2009{pretty.get(unit, unit)}" if unit else "")


def some_of(names: Sequence[str], most: int) -> str:
    """The first of some names, and how many more there are.

    >>> some_of(["R1", "R2", "R3"], 2), some_of(["R1", "R2"], 2)
    ('R1, R2 and 1 more', 'R1, R2')
    """
    more = len(names) - most
    return ", ".join(names[:most]) + (f" and {more} more" if more > 0 else "")


def several(count: int, word: str) -> str:
    """A count with what it counts.

    >>> several(1, "part"), several(3, "part"), several(0, "zone")
    ('1 part', '3 parts', '0 zones')
    """
    return f"{count} {word}" if count == 1 else f"{count} {word}s"
