"""Is the display still refreshed at the rate the exam was opened with?"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from statistics import median

from stimulus.pacing import Refresh

TOLERANCE = 0.03
LEAST_INTERVALS = 3


def frame_interval_s(flips_s: Sequence[float]) -> float | None:
    """The median time between flips, seconds; None for too few of them."""
    intervals = [b - a for a, b in pairwise(flips_s)]
    return median(intervals) if len(intervals) >= LEAST_INTERVALS else None


def other_rate_hz(refresh: Refresh, interval_s: float | None) -> float | None:
    """The rate the display has now, if it is another one; None if not, or if nobody can tell.

    Only flips that wait for the display tell its rate. Half of the flips must agree, so that late
    frames do not count as another rate.
    """
    if interval_s is None or not refresh.display_locked:
        return None
    share = interval_s * refresh.refresh_hz
    return 1 / interval_s if abs(share - 1) > TOLERANCE else None


def rate_changed(now_hz: float, was_hz: float) -> str:
    """Why the exam is stopped, in one sentence."""
    return (
        f"the display is refreshed at {now_hz:.1f} Hz now, not at {was_hz:.1f} Hz as when the exam "
        "was opened; set it back, then resume"
    )
