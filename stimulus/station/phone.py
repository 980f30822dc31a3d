"""A phone or tablet as a button: refused until its round trips were measured and are good enough.

The page `/press` measures for as long as it is open; each round trip renews the verdict and tells
it to the exam, if one listens. A press is passed on with its time on our clock, or not at all.
"""

from __future__ import annotations

import secrets
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from stimulus.buttons.phone_messages import Press, Report, send
from stimulus.clock import clock
from stimulus.station.phone_clock import KEPT_S, NOTHING, STALE_S, Measured, Trip, measured

MOST_TRIPS, MOST_OPEN, MOST_PRESSES = 400, 50, 40
Handling = deque[tuple[float, float]]
"""When presses were heard and how long the page took to heed them, seconds."""
OLDEST_PRESS_S = 1.0
SOCKET = "phone.sock"


@dataclass
class PhoneLink:
    """The one phone that may press; `now_s` is the shared clock, `socket` where exams listen."""

    socket: Path
    now_s: Callable[[], float] = clock
    _trips: deque[Trip] = field(default_factory=lambda: deque(maxlen=MOST_TRIPS))
    _open: dict[str, tuple[float, float, float]] = field(default_factory=dict)
    _handling: Handling = field(default_factory=lambda: deque(maxlen=MOST_PRESSES))
    _heard_s: float = -1e9
    _lock: threading.Lock = field(default_factory=threading.Lock)
    presses: int = 0
    dropped: int = 0

    def forget(self) -> None:
        """Another phone, or the page was loaded anew: its clock is another one."""
        with self._lock:
            self._trips.clear()
            self._open.clear()
            self._handling.clear()

    def echo(self, sent_s: float, before: tuple[str, float] | None) -> str:
        """A round trip's first half; `before` closes an earlier one: its name, when it was back.

        Returns the trip's name for the phone to close it with.
        """
        here_s = self.now_s()
        with self._lock:
            self._close(before)
            name = secrets.token_hex(4)
            while len(self._open) >= MOST_OPEN:
                del self._open[next(iter(self._open))]
            self._open[name] = (sent_s, here_s, self.now_s())
            self._heard_s = here_s
        found = self.measured
        send(self.socket, Report(found.refusal, found.uncertainty_s, found.words))
        return name

    def _close(self, before: tuple[str, float] | None) -> None:
        found = None if before is None else self._open.pop(before[0], None)
        if before is not None and found is not None and before[1] >= found[0]:
            self._trips.append(Trip(*found, before[1]))

    def press(self, at_s: float, sent_s: float) -> str:
        """A press at a time on the phone's clock; returns why it was not passed on, or nothing."""
        here_s, found = self.now_s(), self.measured
        self._handling.append((here_s, max(0.0, sent_s - at_s)))
        refusal = found.refusal
        pressed_s = at_s + found.offset_s
        slack_s = found.uncertainty_s
        if not refusal and not here_s - OLDEST_PRESS_S <= pressed_s <= here_s + slack_s:
            refusal = "the press is older than a second, or from the future"
        if refusal:
            self.dropped += 1
            return refusal
        self.presses += 1
        send(self.socket, Press(min(pressed_s, here_s)))
        return ""

    @property
    def measured(self) -> Measured:
        """What was measured lately; nothing where the page is not open."""
        now_s = self.now_s()
        if now_s - self._heard_s > STALE_S:
            return NOTHING
        handling_s = [took for heard_s, took in self._handling if now_s - heard_s <= KEPT_S]
        return measured(list(self._trips), handling_s, now_s)

    @property
    def refusal(self) -> str:
        """Why the phone is not taken as a button now; empty if it is."""
        if self.now_s() - self._heard_s > STALE_S:
            return "no phone has its page open"
        return self.measured.refusal
