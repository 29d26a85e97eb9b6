"""How much current a package of gates may draw at rest: data-sheet limits by family, for the whole package.

The limit is the package's, not the gate's: a quad of one family is held to little more than a single. With its inputs
tied, an unused gate adds nothing to it.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

SOURCE = "quiescent-limits"
# Largest supply current at rest up to 85 °C, µA: of one- to three-gate logic, and of gates in 14 terminals.
LIMITS_UA: Mapping[str, tuple[float | None, float | None]] = MappingProxyType(
    {"HC": (10.0, 20.0), "HCT": (None, 20.0), "VHCT": (None, 20.0), "LCX": (None, 10.0)}
)


def quiescent_ua(family: str, little: bool) -> float | None:
    """Largest current at rest of one package of gates, up to 85 °C; None where no data sheet was read. [µA]

    >>> quiescent_ua("HC", True), quiescent_ua("HC", False), quiescent_ua("AHC", False)
    (10.0, 20.0, None)
    """
    row = LIMITS_UA.get(family.upper())
    return None if row is None else row[0 if little else 1]
