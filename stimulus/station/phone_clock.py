"""How late and how surely timed a phone's presses are, from round trips while its page runs.

A round trip gives four times: sent and received on the phone's clock, received and answered on
ours. Half the rest of the shortest trip bounds the error of the clocks' offset, whatever the two
ways share of it (Mills 1991, IEEE Trans Commun 39:1482, the same bound as in NTP). A press is
stamped by the phone and carried over by the offset; how long it takes to arrive is judged apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

LEAST_TRIPS = 40
KEPT_S = 20.0
STALE_S = 2.0
DRIFT = 100e-6
"""Two quartz clocks may differ by this share (common practice, no published source)."""
LATEST_S = 0.1
"""Limit of the 95th percentile of round trips: a press must be here, with its echo, well before the

next onset, which is at least 0.3 s after the answer window; a hold must come as soon.
"""
LEAST_SURE_S = 0.025
"""Limit of the uncertainty of a press's time: a quarter of the 0.1 s before which a press is taken

as too early, so that the verdict on an answer hardly turns on it.
"""


@dataclass(frozen=True)
class Trip:
    """One round trip, seconds: `sent`, `back` on the phone's clock, `here`, `answered` on ours."""

    sent_s: float
    here_s: float
    answered_s: float
    back_s: float

    @property
    def delay_s(self) -> float:
        """Time on the way, there and back."""
        return (self.back_s - self.sent_s) - (self.answered_s - self.here_s)

    @property
    def offset_s(self) -> float:
        """Our clock less the phone's, if both ways took equally long."""
        return ((self.here_s - self.sent_s) + (self.answered_s - self.back_s)) / 2


@dataclass(frozen=True)
class Measured:
    """What the round trips of the last `KEPT_S` come to; times in seconds."""

    trips: int
    middle_s: float
    spread_s: float
    late_s: float
    offset_s: float
    uncertainty_s: float

    @property
    def refusal(self) -> str:
        """Why a phone so far away is not taken as a button; empty if it is."""
        if self.trips < LEAST_TRIPS:
            return f"{self.trips} of {LEAST_TRIPS} round trips measured so far"
        if self.late_s > LATEST_S:
            return (
                f"95 of 100 round trips take up to {1000 * self.late_s:.0f} ms; the limit is "
                f"{1000 * LATEST_S:.0f} ms, else presses arrive too near the next target"
            )
        if self.uncertainty_s > LEAST_SURE_S:
            return (
                f"press times are sure to {1000 * self.uncertainty_s:.0f} ms only; the limit is "
                f"{1000 * LEAST_SURE_S:.0f} ms, else early and timely presses are mixed up"
            )
        return ""

    @property
    def words(self) -> str:
        """The measurement in words."""
        return (
            f"{self.trips} round trips: middle {1000 * self.middle_s:.1f} ms, spread "
            f"{1000 * self.spread_s:.1f} ms, 95 of 100 within {1000 * self.late_s:.1f} ms; press "
            f"times sure to {1000 * self.uncertainty_s:.1f} ms; the delay from touch to the "
            "phone's own stamp is not known"
        )


NOTHING = Measured(0, 0.0, 0.0, 0.0, 0.0, 1.0)


def measured(trips: Sequence[Trip], handling_s: Sequence[float], now_s: float) -> Measured:
    """The measurement of these trips; `handling_s` is how long the page took to heed presses.

    The spread is the standard deviation. The uncertainty is the bound by the shortest trip, the
    clocks' drift since then, and nothing else: a stamp is the phone's own.
    """
    recent = [trip for trip in trips if now_s - trip.answered_s <= KEPT_S]
    if not recent:
        return NOTHING
    delays = np.array([trip.delay_s for trip in recent])
    best = recent[int(delays.argmin())]
    late_s = float(np.quantile(delays, 0.95))
    if handling_s:
        late_s += float(np.quantile(handling_s, 0.95))
    return Measured(
        trips=len(recent),
        middle_s=float(np.median(delays)),
        spread_s=float(delays.std()),
        late_s=late_s,
        offset_s=best.offset_s,
        uncertainty_s=max(best.delay_s, 0.0) / 2 + DRIFT * (now_s - best.answered_s),
    )
