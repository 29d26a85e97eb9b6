"""Whether a line of a bill tells that its part is drilled or printed: what other processes a board has anyway.

Names of packages and the trade's words for them (common practice, no source).
"""

from __future__ import annotations

import re
from typing import Literal

from landwise.fabdata.bills import BillLine
from landwise.fabdata.kinds import SOCKET, Kind, text_of
from landwise.fabdata.packages import read_package, says_drilled

Mounted = Literal["drilled", "printed"]

_PRINTED = re.compile(r"(?<![A-Za-z])(?:SMD|SMT|surface[- ]mount)(?![A-Za-z])", re.I)
_DRILLED = re.compile(
    r"lead (?:spacing|pitch)|\b(?:axial|radial)\b|(?<![A-Za-z])(?:SIP[-_ ]?\d|HC[-_ ]?49|pin[-_ ]?(?:header|socket)"
    r"|(?:terminal|screw)[-_ ]?(?:block|terminal)|barrel[-_ ]?jack|mini[-_ ]?DIN|D[-_]?sub|D[ABCE]\d{1,2}(?!\d)"
    r"|TO[-_ ]?(?:92|220|247)(?!\d)|DO[-_ ]?(?:35|41)(?!\d))",
    re.I,
)
_DRILLED_STYLES = frozenset({"DIP", "CDIP"})
_UNTOLD_STYLES = frozenset({"TO", "PLCC"})  # names of packages of both kinds


def mounted_of(line: BillLine, kind: Kind) -> Mounted | None:
    """How the part of a line is mounted, where its texts tell; None where they don't.

    Examples
    --------
    >>> from types import MappingProxyType
    >>> def told(text):
    ...     return mounted_of(BillLine(2, ("X1",), None, MappingProxyType({"description": text})), "passive")
    >>> told("0.1 uF, 5 mm lead spacing"), told("R_0603_1608Metric"), told("PinHeader_1x04_SMD"), told("10k")
    ('drilled', 'printed', 'printed', None)
    """
    words = text_of(line)
    if _PRINTED.search(words):
        return "printed"
    if says_drilled(words) or _DRILLED.search(words):
        return "drilled"
    reading = read_package(words)
    if reading is None or reading.style in _UNTOLD_STYLES:
        return None
    if reading.style in _DRILLED_STYLES:
        return "drilled"
    a_number = reading.style == "chip" and kind not in ("passive", "discrete")  # 2010 and the like, in a part's name
    return None if a_number or SOCKET.search(words) else "printed"
