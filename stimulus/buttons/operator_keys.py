"""The operator's keys: stop, hold, resume, skip this eye, explain again, and what to do

about a practice that was not passed: repeat it, waive it.
"""

from __future__ import annotations

from typing import Literal

from stimulus.buttons.key_listener import KeyListener

Command = Literal[
    "stop", "hold", "resume", "skip_eye", "explain", "repeat_practice", "waive_practice"
]

OPERATOR_KEYS: dict[str, Command] = {
    "Escape": "stop",
    "h": "hold",
    "g": "resume",
    "n": "skip_eye",
    "e": "explain",
    "p": "repeat_practice",
    "w": "waive_practice",
}
"""Key (X's name) to command."""


class OperatorKeys:
    """Commands typed in the stimulus window, heard by `keys`, which the caller starts and closes.

    Works beside any button: the participant may hold a box while the operator types.
    """

    def __init__(self, keys: KeyListener) -> None:
        self._keys = keys
        self._inbox = keys.subscribe("The operator's keyboard", OPERATOR_KEYS)

    def commands(self) -> list[Command]:
        """Commands since the last call, in order.

        Raises ButtonLost once the window or display is gone, OrderError after `close`.
        """
        return [OPERATOR_KEYS[name] for name, _ in self._inbox.take()]

    def pressed(self) -> None:
        """Whoever types sees the window: nothing to tell."""

    def close(self) -> None:
        """Stop noting keys; doing it twice is fine."""
        self._keys.unsubscribe(self._inbox)
