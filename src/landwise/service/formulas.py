"""Formula-book entries of the service room, by topic."""

from __future__ import annotations

from landwise.evidence.book import Formula
from landwise.service.cycleformulas import CYCLES
from landwise.service.dirtformulas import DIRT
from landwise.service.heatformulas import HEAT
from landwise.service.lifeformulas import LIFE_BOOK
from landwise.service.shakingformulas import SHAKING
from landwise.service.signalformulas import SIGNALS

BOOK: tuple[Formula, ...] = (*CYCLES, *LIFE_BOOK, *SHAKING, *HEAT, *SIGNALS, *DIRT)
