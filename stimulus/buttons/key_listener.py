"""One thread that hears the keys of the stimulus window and hands them to its readers."""

from __future__ import annotations

import contextlib
import select
import threading
from collections.abc import Collection
from typing import TYPE_CHECKING

from protocols.errors import InputError, OrderError
from stimulus.buttons.inbox import Inbox
from stimulus.buttons.key_repeat import KeyRepeat
from stimulus.buttons.server_clock import ServerClock
from stimulus.buttons.x_connection import connect
from stimulus.clock import clock

if TYPE_CHECKING:
    from Xlib.display import Display
    from Xlib.protocol.rq import Event

POLL_S = 0.05
"""How soon the thread notices `close`, seconds. A key ends the wait at once."""

LOST = "The keyboard is gone: the window or its display was closed; stop the exam."

Key = tuple[str, float]
"""X's name of a key, such as "space" or "Escape", and the time of the press, seconds."""


class KeyListener:
    """Hears the keys of window `xid` from `start` to `close`, whatever the frame loop does."""

    def __init__(self, xid: int) -> None:
        self._xid = xid
        self._readers: list[tuple[Inbox[Key], dict[int, str]]] = []
        self._repeats = KeyRepeat()
        self._server_clock: ServerClock | None = None
        self._closing = threading.Event()
        self._thread: threading.Thread | None = None

    @property
    def resolution_s(self) -> float:
        """How finely keys are timed, seconds; raises OrderError before the first `start`."""
        if self._server_clock is None:
            raise OrderError("The key listener has no clock yet; start it first.")
        return self._server_clock.resolution_s

    @property
    def is_listening(self) -> bool:
        """Whether keys can arrive now."""
        return self._thread is not None and self._thread.is_alive()

    def start(self) -> None:
        """Connect and listen; raises InputError without X11 or window, OrderError if running."""
        if self._thread is not None:
            raise OrderError("The key listener is running already; close it first.")
        display, self._server_clock = connect(self._xid)
        self._closing = threading.Event()
        self._thread = threading.Thread(
            target=self._listen, args=(display, self._server_clock), name="keys", daemon=True
        )
        self._thread.start()

    def subscribe(self, owner: str, names: Collection[str]) -> Inbox[Key]:
        """An open inbox that gets every press of the keys with these X names from now on."""
        from Xlib import XK

        inbox: Inbox[Key] = Inbox(owner)
        inbox.open()
        if self._thread is not None and not self._thread.is_alive():
            inbox.lose(LOST)
        keysyms = {XK.string_to_keysym(name): name for name in names}
        self._readers = [*self._readers, (inbox, keysyms)]  # a new list: the thread walks the old
        return inbox

    def unsubscribe(self, inbox: Inbox[Key]) -> None:
        """Give nothing more to an inbox, and close it."""
        self._readers = [reader for reader in self._readers if reader[0] is not inbox]
        inbox.close()

    def recover(self) -> bool:
        """Connect again after a loss; True if keys can arrive now."""
        if self.is_listening:
            return True
        self.close()
        try:
            self.start()
        except InputError:
            return False
        for inbox, _ in self._readers:
            inbox.mend()
        return True

    def close(self) -> None:
        """Stop listening; doing it twice is fine. Readers keep what they have."""
        self._closing.set()
        if self._thread is not None:
            self._thread.join()
            self._thread = None

    def _listen(self, display: Display, server_clock: ServerClock) -> None:
        from Xlib.error import ConnectionClosedError

        try:
            while not self._closing.is_set():
                select.select([display], [], [], POLL_S)
                arrival_s = clock()
                for _ in range(display.pending_events()):
                    self._take(display, display.next_event(), server_clock, arrival_s)
        except (ConnectionClosedError, OSError):
            self._lose()
        with contextlib.suppress(ConnectionClosedError, OSError):
            display.close()

    def _take(
        self, display: Display, event: Event, server_clock: ServerClock, arrival_s: float
    ) -> None:
        from Xlib import X

        if event.type == X.KeyPress and self._repeats.is_new(event.detail, event.time):
            t_s = min(arrival_s, server_clock.shared_s(event.time))
            self._hand_out(display.keycode_to_keysym(event.detail, 0), t_s)
        elif event.type == X.KeyRelease:
            self._repeats.release(event.detail, event.time)
        elif event.type == X.FocusOut:
            self._repeats.forget()
        elif event.type == X.MappingNotify:
            display.refresh_keyboard_mapping(event)
        elif event.type == X.DestroyNotify and event.window.id == self._xid:
            raise OSError("the window is gone")

    def _hand_out(self, keysym: int, t_s: float) -> None:
        for inbox, names in self._readers:
            if keysym in names:
                inbox.put((names[keysym], t_s))

    def _lose(self) -> None:
        for inbox, _ in self._readers:
            inbox.lose(LOST)
