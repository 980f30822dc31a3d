"""Connections that send nothing, or drop by drop, are closed: a request's head is due in time."""

from __future__ import annotations

import asyncio
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_PATIENCE_S = 8.0


class PatientProtocol(H11Protocol):
    """HTTP/1.1 whose patience for the head of a connection's first request has an end."""

    def connection_made(self, transport: Any) -> None:
        """Start the clock."""
        super().connection_made(transport)
        self._head_due = asyncio.get_running_loop().call_later(HEAD_PATIENCE_S, self._give_up)

    def connection_lost(self, exc: Exception | None) -> None:
        """Stop the clock."""
        self._head_due.cancel()
        super().connection_lost(exc)

    def _give_up(self) -> None:
        if self.conn.their_state is h11.IDLE and self.cycle is None:
            self.transport.close()
