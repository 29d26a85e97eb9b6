"""What kind of part a line of a bill is, by its references, category, words and footprint."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

from landwise.fabdata.bills import BillLine
from landwise.fabdata.packages import read_package
from landwise.fabdata.references import prefix_of

Kind = Literal["logic", "other IC", "passive", "discrete", "connector", "electromechanical", "mechanical", "unread"]
SOCKET = re.compile(r"\b(?:sockets?|sockel|fassung|adapters?)\b", re.I)
LEAST_IC_TERMINALS = 5
_PREFIXES: Mapping[Kind, str] = MappingProxyType(
    {
        "passive": "R C L FB RN RR RP RA CN_ VR RV F FR T TR FL CE CP CBYP CF RT POT Y X XTAL CR TC",
        "discrete": "D Q LED Z ZD DZ VT VD M TVS ESD V",
        "connector": "J P CN CON JP USB XS XP K PJ PL SK EXT UEXT BUS DVI AUDIO SD",
        "electromechanical": "SW S BT BTN SP BZ LS LCD DISP KEY PB RLY RST BAT ANT E MK_",
        "mechanical": "TP MK H MH FID LOGO MP HOLE SIGN REF PCB MECH XX TEST NT",
    }
)
_BY_PREFIX: Mapping[str, Kind] = MappingProxyType(
    {prefix: kind for kind, prefixes in _PREFIXES.items() for prefix in prefixes.split()}
)
_IC_PREFIXES = ("U", "IC", "N", "DD", "DA")
_KIND_WORDS: tuple[tuple[str, Kind], ...] = (
    (r"\bsockets?\b", "connector"),
    (
        (
            r"\b(resistor|capacitor|inductor|ferrite|crystal|oscillator|fuse|varistor|thermistor|transformer|choke|bead)s?\b|^(res|cap|ind|fixed"
            r" ind|ferrite)\b"
        ),
        "passive",
    ),
    (r"\b(diode|transistor|mosfet|led|schottky|zener|rectifier)s?\b", "discrete"),
    (r"\b(connector|header|receptacle|jack|terminal block|card edge)\b", "connector"),
    (
        r"\b((?<!analog )(?<!analogue )(?<!bus )(?<!usb )switch(?!es| ic)|button|relay|buzzer|speaker|battery"
        r"|display)\b",
        "electromechanical",
    ),
    (r"\b(screw|bracket|standoff|mounting|fiducial|test ?point|logo|label|heatsink)\b", "mechanical"),
    (
        (
            r"\b(integrated circuit|microcontroller|mcu|regulator|ldo|op"
            r" ?amp|eeprom|flash|sram|dram|fpga|cpld|adc|dac|phy|transceiver|converter|supervisor|memory|processor"
            r"|mpu)\b"
        ),
        "other IC",
    ),
)
_FOOTPRINT_WORDS: tuple[tuple[str, Kind], ...] = (
    (r"^(?:[\w-]*:)?LED[-_]", "discrete"),
    (r"^(?:[\w-]*:)?(?:D(?:IODE)?_|SOD[-_ ]?\d|SM[ABC]$|DO[-_]?214)", "discrete"),
    (r"^(?:[\w-]*:)?(?:XTAL|CRYSTAL|OSC)", "passive"),
)


def kind_of(line: BillLine) -> Kind:
    """The kind of part a line speaks of; logic is told apart from other integrated circuits later."""
    prefixes = Counter(prefix_of(ref) for ref in line.references)
    prefix = prefixes.most_common(1)[0][0]
    category = line.text("category")
    for pattern, kind in _KIND_WORDS:
        if category and re.search(pattern, category, re.I):
            return kind
    looks = _by_footprint(line)
    if prefix in _IC_PREFIXES:
        text = f"{line.text('description')} {line.text('value')}"
        return "connector" if SOCKET.search(text) else (looks or "other IC")
    if prefix in _BY_PREFIX:
        crystal = prefix in ("Q", "VT") and re.search(r"\d\s?[mk]hz|crystal|quartz|^q\s?0?[.,]?\d", text_of(line), re.I)
        return "passive" if crystal else _BY_PREFIX[prefix]
    words = text_of(line)
    for pattern, kind in _KIND_WORDS:
        if re.search(pattern, words, re.I):
            return kind
    # Names of parts and signs stand in for references: what the package looks like tells more than their first letter.
    package = read_package(line.text("footprint") or words)
    if package and package.style not in ("chip", "TO") and (package.terminals or 0) >= LEAST_IC_TERMINALS:
        return "other IC"
    if package and package.style == "chip":
        return "passive"
    # One that begins like a known one follows it.
    for length in (3, 2, 1):
        if prefix[:length] in _BY_PREFIX:
            return _BY_PREFIX[prefix[:length]]
    return "other IC" if prefix.startswith("U") else "mechanical"


def _by_footprint(line: BillLine) -> Kind | None:
    """What a footprint's name says outright, under references that usually mean integrated circuits."""
    for pattern, kind in _FOOTPRINT_WORDS:
        if re.search(pattern, line.text("footprint"), re.I):
            return kind
    return None


def text_of(line: BillLine) -> str:
    """Everything a line says, once."""
    fields = ("category", "value", "part_number", "description", "footprint")
    return " ".join(dict.fromkeys(line.text(field) for field in fields if line.text(field)))
