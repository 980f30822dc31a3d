"""Auto-repeat: the server invents presses while a key is held."""

from __future__ import annotations


class KeyRepeat:
    """Tells presses from auto-repeat, by key code and the server's stamp in ms.

    A repeat of a key that is down comes as a release and a press with one stamp; fingers cannot do
    that. The stamp alone will not do: while another program asks the server for the newer kind of
    repeat, even a first press is preceded by a release with its stamp, of a key that was up.

    >>> keys = KeyRepeat()
    >>> keys.release(65, 1000), keys.is_new(65, 1000)
    (None, True)
    >>> keys.release(65, 1660), keys.is_new(65, 1660)
    (None, False)
    >>> keys.release(65, 1700), keys.is_new(65, 1730)
    (None, True)
    """

    def __init__(self) -> None:
        self._down: set[int] = set()
        self._released_ms: dict[int, int] = {}

    def release(self, keycode: int, server_ms: int) -> None:
        """Note that a key went up; nothing to note if it was up."""
        if keycode in self._down:
            self._down.remove(keycode)
            self._released_ms[keycode] = server_ms

    def is_new(self, keycode: int, server_ms: int) -> bool:
        """Note that a key went down; whether a finger did it."""
        self._down.add(keycode)
        return self._released_ms.get(keycode) != server_ms

    def forget(self) -> None:
        """Take all keys for up: releases went to another window."""
        self._down.clear()
        self._released_ms.clear()
