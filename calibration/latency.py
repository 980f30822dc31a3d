"""Delays of the light and of the button, from events that a loop-back rig pairs.

Two rigs. A photodiode on the marker square says when the light of a flip came. A serial output
that closes the button's contact says when the press was made and the program when it was stamped.
All times are on one clock. A response time taken as press stamp less flip holds both delays; the
correction is their sum, and what it is applied to keeps the raw value beside the corrected one.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from calibration.certificate import LatencyPart, Quantity
from calibration.samples import COVERAGE, rectangular, rising, series
from protocols.errors import InputError, require_within
from protocols.field import Floats

LONGEST_DELAY_S = 0.2
LEAST_PAIRS = 100
MOST_UNPAIRED_SHARE = 0.05
PERCENTILES = (5.0, 50.0, 95.0)
RIG_LIMIT_S = 0.001
MOST_CORRECTION_S = 2 * LONGEST_DELAY_S


@dataclass(frozen=True)
class Pairs:
    """Delays of events that followed their causes, shape (n,); lost causes and stray events."""

    delays_s: Floats = field(repr=False)
    lost: int
    stray: int


@dataclass(frozen=True)
class CorrectedTimes:
    """Response times as taken and less the known delays, shape (n,) each; nothing is thrown away.

    A corrected time may be below zero: a press made before the light came.
    """

    raw_s: Floats
    corrected_s: Floats
    correction_s: float


def latency_part(
    flips_s: ArrayLike,
    photons_s: ArrayLike,
    contacts_s: ArrayLike,
    stamps_s: ArrayLike,
    longest_s: float = LONGEST_DELAY_S,
    rig_limit_s: float = RIG_LIMIT_S,
) -> LatencyPart:
    """The certificate's latency: flips paired with photons, contacts closed paired with stamps.

    `rig_limit_s` is how far the rig's own times may be out, seconds either way. Between the marker
    square and a place higher up the screen lies up to a frame of scanning, which the marker does
    not see: put the square at the height of the patches. Raises InputError where events cannot be
    paired beyond doubt; see `pair_events`.
    """
    require_within(
        "rig_limit_s", rig_limit_s, 0.0, longest_s, "Give the rig's own error in seconds."
    )
    photon = pair_events("photons_s", flips_s, photons_s, longest_s)
    press = pair_events("stamps_s", contacts_s, stamps_s, longest_s)
    photon_s, press_s = (delay(pairs.delays_s, rig_limit_s) for pairs in (photon, press))
    return LatencyPart(
        photon_s=photon_s,
        photon_percentiles_s=percentiles_s(photon.delays_s),
        press_s=press_s,
        press_percentiles_s=percentiles_s(press.delays_s),
        correction_s=photon_s.value + press_s.value,
        notes=[*_unpaired("flips", "light", photon), *_unpaired("presses", "stamp", press)],
    )


def pair_events(
    name: str, causes_s: ArrayLike, events_s: ArrayLike, longest_s: float = LONGEST_DELAY_S
) -> Pairs:
    """Pair each cause with the one event within `longest_s` after it.

    Causes stand further apart than `longest_s`, so an event can belong to one cause only. Raises
    InputError for causes too close, for two events after one cause (a bounce or a second edge), for
    more than 5 % of causes without an event or events without a cause, and for fewer than 100
    pairs. Causes (n,), events (m,).
    """
    todo = "Record the events again, in order, on one clock."
    require_within("longest_s", longest_s, 0.0, np.inf, "Give the longest delay in seconds.")
    causes = rising(f"{name}, causes", causes_s, LEAST_PAIRS, todo)
    events = rising(name, events_s, 1, todo)
    _refuse_close(name, causes, longest_s)
    owner = np.searchsorted(causes, events, side="right") - 1
    since = np.where(owner >= 0, events - causes[np.maximum(owner, 0)], np.inf)
    owned = since <= longest_s
    _refuse_doubles(name, causes, owner[owned])
    lost, stray = len(causes) - int(np.sum(owned)), int(np.sum(~owned))
    _refuse_unpaired(name, lost, stray, len(causes))
    return Pairs(series(name, since[owned], LEAST_PAIRS, "Record more events."), lost, stray)


def delay(delays_s: Floats, rig_limit_s: float = RIG_LIMIT_S) -> Quantity:
    """Median delay. Type A from the order statistics about it, so no shape of spread is assumed."""
    ordered = np.sort(delays_s)
    n = len(ordered)
    low, high = (int(stats.binom.ppf(0.5 + side * COVERAGE / 2, n, 0.5)) for side in (-1, 1))
    half_s = float(ordered[min(high, n - 1)] - ordered[max(low - 1, 0)]) / 2
    return Quantity(
        value=float(np.median(ordered)),
        type_a=half_s / 2,
        type_b=rectangular(rig_limit_s),
        unit="s",
    )


def percentiles_s(delays_s: Floats) -> list[float]:
    """Percentiles 5, 50 and 95, seconds. Delays of shape (n,)."""
    return [float(value) for value in np.percentile(delays_s, PERCENTILES)]


def corrected_times(raw_s: ArrayLike, correction_s: float) -> CorrectedTimes:
    """Response times less the correction; raises InputError for a correction out of range.

    Any shape.

    >>> float(corrected_times([0.4], 0.016).corrected_s[0])
    0.384
    """
    require_within(
        "correction_s", correction_s, 0.0, MOST_CORRECTION_S, "Measure the latency again."
    )
    raw = series("raw_s", raw_s, 0, "Give response times in seconds.")
    return CorrectedTimes(raw, raw - correction_s, correction_s)


def raw_window_s(window_s: tuple[float, float], correction_s: float) -> tuple[float, float]:
    """The acceptance window as raw response times, so that corrected ones are judged by it.

    Raises InputError for a correction out of range.

    >>> [round(end, 3) for end in raw_window_s((0.1, 1.0), 0.016)]
    [0.116, 1.016]
    """
    require_within(
        "correction_s", correction_s, 0.0, MOST_CORRECTION_S, "Measure the latency again."
    )
    return window_s[0] + correction_s, window_s[1] + correction_s


def _unpaired(causes: str, event: str, pairs: Pairs) -> list[str]:
    """A sentence where some events could not be paired, though few enough to go on."""
    if not pairs.lost + pairs.stray:
        return []
    whole = len(pairs.delays_s) + pairs.lost
    return [
        f"Of {whole} {causes} {pairs.lost} brought no {event}; {pairs.stray} times there was a "
        f"{event} without one."
    ]


def _refuse_close(name: str, causes_s: Floats, longest_s: float) -> None:
    closest_s = float(np.min(np.diff(causes_s)))
    if closest_s <= longest_s:
        raise InputError(
            f"{name}, time between causes in s",
            closest_s,
            f"above {longest_s:g}, the longest delay looked for",
            "Space the events further apart: otherwise one may belong to either of two causes.",
        )


def _refuse_doubles(name: str, causes_s: Floats, owner: NDArray[np.int64]) -> None:
    twice = np.flatnonzero(np.bincount(owner, minlength=len(causes_s)) > 1)
    if len(twice):
        raise InputError(
            name,
            f"{np.sum(owner == twice[0])} events after the cause at {causes_s[twice[0]]:.6f} s",
            "one event a cause",
            "Keep the first edge only: remove contact bounce, or raise the photodiode's threshold.",
        )


def _refuse_unpaired(name: str, lost: int, stray: int, causes: int) -> None:
    if max(lost, stray) > MOST_UNPAIRED_SHARE * causes:
        raise InputError(
            name,
            f"{lost} causes without an event and {stray} events without a cause, of {causes}",
            f"up to {MOST_UNPAIRED_SHARE:.0%} of either",
            "Check that both are on one clock and that the rig sees every event.",
        )
