"""How long a connection may take to say what it wants: half a request must not hold a place of the workbench."""

from __future__ import annotations

import asyncio

from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_S = 10.0  # from a connection's first moment, or its next request's first byte, to the end of the head


class Patient(H11Protocol):
    """The HTTP/1.1 protocol with an end to waiting for a request's head."""

    _late: asyncio.TimerHandle | None = None

    # The server's own class narrows the transport in the same way.
    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Somebody connects: the head is awaited."""
        super().connection_made(transport)
        self._await_head()

    def data_received(self, data: bytes) -> None:
        """Some bytes have come: a whole head ends the wait, a part of one begins it."""
        super().data_received(data)
        if self.cycle is not None and not self.cycle.response_complete:
            self._calm()
        elif self._late is None:
            self._await_head()

    def connection_lost(self, exc: Exception | None) -> None:
        """Nobody waits any longer."""
        self._calm()
        super().connection_lost(exc)

    def _await_head(self) -> None:
        self._late = self.loop.call_later(HEAD_S, self._end)

    def _calm(self) -> None:
        if self._late is not None:
            self._late.cancel()
            self._late = None

    def _end(self) -> None:
        self._late = None
        if (self.cycle is None or self.cycle.response_complete) and not self.transport.is_closing():
            self.transport.close()
