"""What is known of an eye's reliability, as data: part of `result.json`."""

from __future__ import annotations

import msgspec


class RateEstimate(msgspec.Struct, frozen=True):
    """A rate with its 95 % interval; `events` among `exposures` are plain counts behind it."""

    rate: float
    interval: tuple[float, float]
    events: int
    exposures: int
    words: str


class TimeCheck(msgspec.Struct, frozen=True):
    """Response times in seconds: median with 95 % interval, what is expected by age, and drift.

    `expected_s` are the published mean of simple reactions at that age and twice that mean;
    `drift_s_per_min` is None with fewer than five times.
    """

    count: int
    median_s: float | None
    interval_s: tuple[float, float] | None
    expected_s: tuple[float, float]
    share_too_quick: float | None
    drift_s_per_min: float | None
    drift_interval_s_per_min: tuple[float, float] | None
    words: str


class Drift(msgspec.Struct, frozen=True):
    """Change of sensitivity over the session, dB a minute, with its 95 % interval."""

    db_per_min: float
    interval: tuple[float, float]
    words: str


class WhatIf(msgspec.Struct, frozen=True):
    """Grades if a slip had been this frequent.

    `flagged` places are graded below the limit as they stand, `stay` of them would still be more
    likely below it than not; `doubtful` of those within it would no longer be likely within.
    """

    slip: str
    rate: float
    flagged: int
    stay: int
    within: int
    doubtful: int
    words: str


class Trust(msgspec.Struct, frozen=True):
    """Reliability of an eye. `verdict` is what the live tests came to at the eye's end."""

    verdict: str
    verdict_words: str
    false_presses: RateEstimate
    gaze: RateEstimate
    misses: RateEstimate
    times: TimeCheck
    drift: Drift | None
    what_if: list[WhatIf]
    words: str
