"""The X server's time stamps, put on the shared clock.

The server stamps a key the moment it gets it, in whole milliseconds of its own clock; this
program only hears of it when its thread gets a turn. So the distance between the two clocks is
measured once, by questions that the server stamps while we hold a time before and after each,
and presses keep the server's stamp. Both clocks run on the same machine's oscillator: the
distance does not drift.
"""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from stimulus.clock import clock

if TYPE_CHECKING:
    from Xlib.display import Display

TICK_S = 0.001
"""The server counts whole milliseconds."""

PROBES = 40
PROBE_GAP_S = 0.00037
"""Not a divisor of the tick, so that probes fall at every phase of it."""

_WRAP = 2**32  # the server's counter is 32 bits: it starts again after 49.7 days


class Probe(NamedTuple):
    """A server stamp (ms) known to be made between two times of the shared clock (s)."""

    before_s: float
    server_ms: int
    after_s: float


@dataclass(frozen=True)
class ServerClock:
    """At server time `zero_ms` exactly, the shared clock read `zero_s`, give or take `error_s`."""

    zero_ms: int
    zero_s: float
    error_s: float

    @property
    def resolution_s(self) -> float:
        """How finely a stamp is placed on the shared clock, seconds."""
        return TICK_S + 2 * self.error_s

    def shared_s(self, server_ms: int) -> float:
        """Shared-clock time in the middle of the server's tick, seconds; rides over the wrap.

        >>> round(ServerClock(2**32 - 1, 5.0, 0.0).shared_s(9), 6)
        5.0105
        """
        return self.zero_s + _since(self.zero_ms, server_ms) + TICK_S / 2


def from_probes(probes: Iterable[Probe]) -> ServerClock:
    """The clock that agrees best with the probes (at least one).

    Each probe bounds the distance of the clocks from both sides; all bounds together leave a gap
    far narrower than a tick, and its half width is the error.

    >>> found = from_probes([Probe(10.0, 500, 10.0002), Probe(10.0018, 501, 10.0019)])
    >>> round(found.zero_s, 6), round(found.error_s, 6)
    (10.0, 0.0002)
    """
    known = list(probes)
    zero_ms = known[0].server_ms
    latest = min(p.after_s - _since(zero_ms, p.server_ms) for p in known)
    earliest = max(p.before_s - _since(zero_ms, p.server_ms) for p in known) - TICK_S
    return ServerClock(zero_ms, (earliest + latest) / 2, abs(latest - earliest) / 2)


def measure(display: Display) -> ServerClock:
    """Ask the server for stamps; takes about 30 ms. No other events may be awaited yet."""
    from Xlib import X

    screen = display.screen()
    window = screen.root.create_window(
        0, 0, 1, 1, 0, screen.root_depth, event_mask=X.PropertyChangeMask
    )
    atom = display.intern_atom("RIPPLEFIELD_CLOCK")
    probes = [_probe(display, window, atom) for _ in range(PROBES)]
    window.destroy()
    display.sync()
    return from_probes(probes)


def _probe(display: Display, window: Display, atom: int) -> Probe:
    from Xlib import X, Xatom

    time.sleep(PROBE_GAP_S)
    before_s = clock()
    window.change_property(atom, Xatom.INTEGER, 32, [0])
    display.flush()
    event = display.next_event()
    while event.type != X.PropertyNotify:
        event = display.next_event()
    return Probe(before_s, event.time, clock())


def _since(zero_ms: int, server_ms: int) -> float:
    half = _WRAP // 2
    return ((server_ms - zero_ms + half) % _WRAP - half) / 1000
