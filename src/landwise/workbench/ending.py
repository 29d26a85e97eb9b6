"""How the workbench ends: what is being worked is told first, so that no answer is cut off with a trace."""

from __future__ import annotations

from collections.abc import Callable
from types import FrameType

import uvicorn


class Server(uvicorn.Server):
    """The server, which says when it is asked to end.

    Parameters
    ----------
    config : uvicorn.Config
    ending : callable
        Called at the first signal, before answers under way are awaited.
    """

    def __init__(self, config: uvicorn.Config, ending: Callable[[], None]) -> None:
        super().__init__(config)
        self._ending = ending

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Ctrl-C, or the system ends it."""
        self._ending()
        super().handle_exit(sig, frame)
