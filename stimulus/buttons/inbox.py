"""From a listening thread to whoever asks: in order, once each, and losses after what came."""

from __future__ import annotations

from collections import deque
from typing import Generic, TypeVar

from protocols.errors import OrderError
from stimulus.buttons.interface import ButtonLost

T = TypeVar("T")


class Inbox(Generic[T]):
    """Filled by one thread, emptied by another. `owner` names the device in messages.

    >>> inbox = Inbox[float]("bell")
    >>> inbox.open()
    >>> inbox.put(1.5)
    >>> inbox.take(), inbox.take()
    ([1.5], [])
    """

    def __init__(self, owner: str) -> None:
        self._owner = owner
        self._items: deque[T] = deque()
        self._open = False
        self._loss: str | None = None

    @property
    def is_open(self) -> bool:
        """Whether it is between `open` and `close`."""
        return self._open

    @property
    def is_lost(self) -> bool:
        """Whether a loss was reported and not yet mended."""
        return self._loss is not None

    def require_closed(self) -> None:
        """Raise OrderError if it is open."""
        if self._open:
            raise OrderError(f"{self._owner} is running already; close it before starting again.")

    def open(self) -> None:
        """Begin, empty; raises OrderError if it is open already."""
        self.require_closed()
        self._items.clear()
        self._loss = None
        self._open = True

    def close(self) -> None:
        """End; what was not taken is gone. Doing it twice is fine."""
        self._open = False

    def put(self, item: T) -> None:
        """Add an item (listening thread)."""
        self._items.append(item)

    def lose(self, sentence: str) -> None:
        """Report that nothing more will come, in one sentence (listening thread)."""
        self._loss = sentence

    def mend(self) -> None:
        """Take the report of a loss back; items stay."""
        self._loss = None

    def take(self) -> list[T]:
        """Everything put since the last call; raises ButtonLost once lost and empty."""
        if not self._open:
            raise OrderError(f"{self._owner} is not running; start it before asking.")
        loss = self._loss  # read before the items: whatever came before the loss is among them
        items = [self._items.popleft() for _ in range(len(self._items))]
        if loss is not None and not items:
            raise ButtonLost(loss)
        return items
