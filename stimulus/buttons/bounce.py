"""Contact bounce: one push of a mechanical switch can close it several times."""

from __future__ import annotations

BOUNCE_S = 0.040
"""A press nearer than this to the last accepted one is bounce, seconds.

Switches settle within about 10 ms; nobody presses twice on purpose within 100 ms. 40 ms lies well
away from both.
"""


class Debounce:
    """Tells presses from bounce by time alone.

    >>> debounce = Debounce()
    >>> [debounce.accepts(t_s) for t_s in (1.0, 1.01, 1.039, 1.041, 2.0)]
    [True, False, False, True, True]
    """

    def __init__(self) -> None:
        self._last_s = float("-inf")

    def accepts(self, t_s: float) -> bool:
        """Whether a closing of the switch at `t_s` (seconds, ascending) is a new press."""
        if t_s - self._last_s < BOUNCE_S:
            return False
        self._last_s = t_s
        return True
