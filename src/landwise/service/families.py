"""What logic families drive and stand: supply, edges, input thresholds, and what switching costs them in power.

Recalled from the families' data sheets unless a source says otherwise. Bands on purpose: a single number would
belong to one maker, one supply and one load.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

SOURCE = "logic-families-memory"
LINE_SOURCE = "logic-line-lengths"


@dataclass(frozen=True)
class Family:
    """Electrical character of a logic family.

    Parameters
    ----------
    supply_v : float
        Supply it is meant for. [V]
    edge_ns : (low, high)
        Output edge into its test load. [ns]
    low_v : float or None
        Highest voltage its inputs take as low, as TTL-like inputs state it; None for inputs that switch at a share.
    low_share : float
        The same as a share of the supply, for CMOS inputs.
    cpd_pf : (low, high)
        Power-dissipation capacitance of one output. [pF]
    static_ua : float
        Highest quiescent supply current of a small part at 25 °C. [µA]
    faster : str
        What one takes when it is too slow.
    """

    supply_v: float
    edge_ns: tuple[float, float]
    low_v: float | None
    low_share: float
    cpd_pf: tuple[float, float]
    static_ua: float
    faster: str = ""

    def threshold(self, supply_v: float) -> float:
        """Highest voltage taken as low at a supply. [V]"""
        return self.low_v if self.low_v is not None else self.low_share * supply_v


_TTL, _CMOS = 0.8, None
FAMILIES: Mapping[str, Family] = MappingProxyType(
    {
        "HC": Family(5.0, (4.0, 8.0), _CMOS, 0.3, (15, 40), 20, "AHC"),
        "HCT": Family(5.0, (4.0, 8.0), _TTL, 0.0, (15, 40), 20, "AHCT"),
        "AHC": Family(5.0, (2.0, 4.0), _CMOS, 0.3, (9, 20), 20, "AC"),
        "AHCT": Family(5.0, (2.0, 4.0), _TTL, 0.0, (9, 20), 20, "ACT"),
        "AC": Family(5.0, (1.2, 2.5), _CMOS, 0.3, (25, 60), 20, ""),
        "ACT": Family(5.0, (1.2, 2.5), _TTL, 0.0, (25, 60), 20, ""),
        "LV": Family(3.3, (3.0, 6.0), _CMOS, 0.3, (10, 30), 20, "LVC"),
        "LVC": Family(3.3, (1.5, 3.0), _TTL, 0.0, (10, 40), 10, "ALVC"),
        "ALVC": Family(3.3, (1.0, 2.0), _TTL, 0.0, (20, 45), 20, ""),
        "LCX": Family(3.3, (1.5, 3.0), _TTL, 0.0, (20, 40), 10, "ALVC"),
        "LVT": Family(3.3, (1.2, 2.5), _TTL, 0.0, (20, 60), 190, ""),
        "AUP": Family(3.3, (2.0, 5.0), _CMOS, 0.3, (3, 6), 0.9, "LVC"),
        "AVC": Family(2.5, (0.7, 1.5), _CMOS, 0.3, (10, 30), 20, ""),
        "ABT": Family(5.0, (1.5, 3.0), _TTL, 0.0, (20, 60), 250, ""),
        "F": Family(5.0, (1.8, 3.0), _TTL, 0.0, (0, 60), 30000, ""),
        "LS": Family(5.0, (5.0, 9.0), _TTL, 0.0, (0, 60), 4000, "F"),
        "ALS": Family(5.0, (3.0, 8.0), _TTL, 0.0, (0, 60), 3000, "F"),
        "S": Family(5.0, (2.5, 4.0), _TTL, 0.0, (0, 60), 30000, "F"),
        "AS": Family(5.0, (1.5, 2.5), _TTL, 0.0, (0, 60), 20000, ""),
        "FCT": Family(5.0, (1.0, 2.0), _TTL, 0.0, (20, 60), 500, ""),
        "CD": Family(5.0, (40.0, 100.0), _CMOS, 0.3, (10, 60), 20, "HC"),
    }
)
_SAME: Mapping[str, str] = MappingProxyType(
    {
        "VHC": "AHC",
        "VHCT": "AHCT",
        "LVX": "AHC",
        "HEF": "CD",
        "HCF": "CD",
        "HCC": "CD",
        "MC1": "CD",
        "C": "CD",
        "LVCH": "LVC",
        "LVCZ": "LVC",
        "ALVCH": "ALVC",
        "ALVT": "LVT",
        "ALVTH": "LVT",
        "LVTH": "LVT",
        "ABTH": "ABT",
        "ABTE": "ABT",
        "HCU": "HC",
        "HCS": "HC",
        "AHCU": "AHC",
        "AHCV": "AHC",
        "VCX": "ALVC",
        "AVCH": "AVC",
        "AUC": "AVC",
        "AXP": "AUP",
        "AXC": "AVC",
        "BCT": "ABT",
        "FCTH": "FCT",
        "ACQ": "AC",
        "ACTQ": "ACT",
        "FACT": "AC",
        "LXC": "LVC",
        "LVQ": "LVC",
        "NX": "LVC",
    }
)


def family_of(letters: str) -> Family | None:
    """A family by its letters; None where they aren't in the table.

    >>> family_of("HCT").threshold(5.0), family_of("VHC").edge_ns, family_of("") is None
    (0.8, (2.0, 4.0), True)
    """
    name = letters.strip().upper()
    return FAMILIES.get(_SAME.get(name, name))


# Line length above which a track is a transmission line, by family. [inch]
LINE_LENGTHS_INCH: Mapping[str, float] = MappingProxyType({"LS": 25, "S": 11, "AS": 6, "F": 8, "AC": 8, "FCT": 5})
DELAY_NS_PER_INCH = 0.15  # of a track on epoxy glass (recalled)


def edge_of_line(length_inch: float) -> float:
    """Edge whose there-and-back travel a line of that length just holds. [ns]

    >>> edge_of_line(8)
    2.4
    """
    return 2 * DELAY_NS_PER_INCH * length_inch


def outputs_in(words: str, terminals: int) -> tuple[int, bool]:
    """How many outputs a part has by its function's words; whether that was read, not guessed.

    >>> outputs_in("octal bus transceiver", 20), outputs_in("8-bit shift register", 16), outputs_in("thing", 14)
    ((8, True), (8, True), (4, False))
    """
    text = words.lower()
    for mark, count in (
        ("32-bit", 32),
        ("18-bit", 18),
        ("16-bit", 16),
        ("10-bit", 10),
        ("octal", 8),
        ("8-bit", 8),
        ("hex", 6),
        ("4-bit", 4),
        ("quad", 4),
        ("triple", 3),
        ("dual", 2),
        ("2-bit", 2),
        ("single", 1),
    ):
        if mark in text:
            return count, True
    return max(1, (terminals - 2) // 3), False
