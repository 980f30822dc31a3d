"""The keyboard as the participant's button: space bar or Return."""

from __future__ import annotations

from stimulus.buttons.inbox import Inbox
from stimulus.buttons.key_listener import Key, KeyListener

PARTICIPANT_KEYS = ("space", "Return")
"""Names of the keys as X has them."""


class Keyboard:
    """Presses of the participant's keys, heard by `keys`, which the caller starts and closes.

    The keyboard's own delay (scanning, USB: commonly 5 to 30 ms) comes on top of `resolution_s`;
    a button box is better.
    """

    name = "keyboard"

    def __init__(self, keys: KeyListener) -> None:
        self._keys = keys
        self._inbox: Inbox[Key] = Inbox("The button keyboard")

    @property
    def resolution_s(self) -> float:
        """See `KeyListener.resolution_s`."""
        return self._keys.resolution_s

    def start(self) -> None:
        """Begin to note presses; raises OrderError if it has begun already."""
        self._inbox.require_closed()
        self._inbox = self._keys.subscribe("The button keyboard", PARTICIPANT_KEYS)

    def presses(self) -> list[float]:
        """Press times since the last call; see `Button.presses`."""
        return [t_s for _, t_s in self._inbox.take()]

    def recover(self) -> bool:
        """Connect to the display again after a loss; True if the keyboard works now."""
        return self._inbox.is_open and self._keys.recover()

    def close(self) -> None:
        """Stop noting presses."""
        self._keys.unsubscribe(self._inbox)
