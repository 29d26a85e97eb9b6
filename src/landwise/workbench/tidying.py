"""Rubbish is looked for while nobody moves anything.

Python's full collection looks through everything that the workbench keeps, and holds all threads meanwhile: 130 to
256 ms each when measured, the only waits above 50 ms of another thread while figures were worked. Nearly all that the
workbench makes is freed without it; what is left in circles is collected once the pages have been still for a while.
"""

from __future__ import annotations

import gc
import threading
import time

STILL_S = 3.0  # since the last request
LOOK_S = 1.0
ENOUGH = 10  # collections of the middle generation since the last full one, as Python's own threshold
OVERDUE = 1_000  # that many are collected even under way
OWN = (10_000, 10, 1_000_000)  # the full one never by itself


class Tidying:
    """Collects between requests instead of within them.

    Examples
    --------
    >>> tidying = Tidying()
    >>> tidying.due(now=tidying.asked_at, pending=20), tidying.due(now=tidying.asked_at + 5, pending=20)
    (False, True)
    """

    def __init__(self) -> None:
        self.asked_at = time.monotonic()

    def asked(self) -> None:
        """A request has come."""
        self.asked_at = time.monotonic()

    def due(self, *, now: float, pending: int) -> bool:
        """Whether to collect: enough has gathered and the pages are still, or far too much has."""
        return pending >= OVERDUE or (pending >= ENOUGH and now - self.asked_at >= STILL_S)

    def begin(self) -> None:
        """Take the full collection over from Python: what was imported is looked through no more."""
        gc.collect()
        gc.freeze()
        gc.set_threshold(*OWN)
        threading.Thread(target=self._tidy, name="landwise-tidying", daemon=True).start()

    def _tidy(self) -> None:
        while True:
            time.sleep(LOOK_S)
            if self.due(now=time.monotonic(), pending=gc.get_count()[2]):
                gc.collect()
