"""What every button can do."""

from __future__ import annotations

from typing import Protocol

from protocols.errors import RipplefieldError


class ButtonLost(RipplefieldError):
    """The button is gone; every press that was read before has been delivered."""


class Button(Protocol):
    """A thing that is pressed. Used in the order start, presses..., close.

    Presses are stamped while nobody asks; a press before `start` does not count.
    """

    @property
    def name(self) -> str:
        """The button as it is written on the command line and in the journal."""

    @property
    def resolution_s(self) -> float:
        """How finely a press is timed, seconds, above 0; for the journal, asked once started."""

    def start(self) -> None:
        """Begin to listen; raises InputError if there is no such device, OrderError if running."""

    def presses(self) -> list[float]:
        """Times of the presses since the last call, seconds on the shared clock, ascending.

        Raises ButtonLost once the device is gone and what came before is delivered, and OrderError
        before `start` and after `close`.
        """

    def recover(self) -> bool:
        """Try to reach a lost device again; True if the button works now. Never waits for one."""

    def close(self) -> None:
        """Let go of the device; doing it twice is fine, and `start` may follow."""
