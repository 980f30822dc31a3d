"""The one clock every interval is read from."""

from __future__ import annotations

import time


def clock() -> float:
    """Seconds on a clock that never steps back; only differences mean anything."""
    return time.perf_counter()
