"""The day as a ribbon: each session a stretch between its hours, in lanes for each operator."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from stimulus.station.index import Summary

HOUR_S = 3600.0
LEAST_SHARE = 0.006


@dataclass(frozen=True)
class Stretch:
    """A session: where it lies on the ribbon, shares of its length, and its words."""

    exam: str
    lane: int
    at: float
    length: float
    standing: str
    words: str


@dataclass(frozen=True)
class Ribbon:
    """Hours (share, label), lanes by operator, stretches."""

    hours: tuple[tuple[float, str], ...]
    lanes: tuple[str, ...]
    stretches: tuple[Stretch, ...]


def ribbon(sessions: Sequence[Summary]) -> Ribbon | None:
    """The ribbon of a day's sessions, in UTC; None without any."""
    timed = [s for s in sessions if s.opened_utc and s.ended_utc]
    if not timed:
        return None
    begin_s = min(_moment(s.opened_utc) for s in timed) // HOUR_S * HOUR_S
    end_s = -(-max(_moment(s.ended_utc) for s in timed) // HOUR_S) * HOUR_S
    whole_s = max(end_s - begin_s, HOUR_S)
    lanes = tuple(sorted({s.initials for s in timed}))
    every = max(1, round(whole_s / HOUR_S / 10))
    hours = tuple(
        (hour * HOUR_S / whole_s, _hour(begin_s + hour * HOUR_S))
        for hour in range(0, int(whole_s / HOUR_S) + 1, every)
    )
    return Ribbon(hours, lanes, tuple(_stretch(s, begin_s, whole_s, lanes) for s in timed))


def _stretch(s: Summary, begin_s: float, whole_s: float, lanes: Sequence[str]) -> Stretch:
    at = (_moment(s.opened_utc) - begin_s) / whole_s
    length = max((_moment(s.ended_utc) - _moment(s.opened_utc)) / whole_s, LEAST_SHARE)
    words = f"{s.code}, {s.seconds / 60:.1f} min, {s.state}, {s.standing or 'no verdict'}"
    return Stretch(s.exam, lanes.index(s.initials), at, length, s.standing, words)


def _moment(utc: str) -> float:
    return datetime.fromisoformat(utc.replace("Z", "+00:00")).timestamp()


def _hour(seconds: float) -> str:
    return f"{int(seconds // HOUR_S) % 24:02d}:00"
