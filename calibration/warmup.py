"""Warm-up: how long after switching on the luminance holds still.

The rule: stable from the first moment after which every window of ten minutes changes by less than
0.5 % from its beginning to its end, by a straight line fitted through its readings. The limit is
far below what a contrast threshold could show (0.5 % of mean luminance moves a threshold by less
than 0.05 dB even where sensitivity follows luminance in proportion); ten minutes is an eye's part
of an examination.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from calibration.edges import sample_noise
from calibration.samples import rising, series
from protocols.errors import InputError
from protocols.field import Floats

CHANGE_LIMIT = 0.005
WINDOW_S = 600.0
LEAST_IN_WINDOW = 10
RULE = "stable once every 10 min window changes by less than 0.5 %"


@dataclass(frozen=True)
class WarmUp:
    """Readings of one field since switching on, (n,) each, and when they became stable."""

    time_s: Floats = field(repr=False)
    cd_m2: Floats = field(repr=False)
    stable_after_s: float
    rule: str = RULE


def warm_up(time_s: ArrayLike, cd_m2: ArrayLike) -> WarmUp:
    """When a display became stable, from readings since it was switched on.

    Raises InputError for readings shorter than one window, with fewer than ten in any window, too
    noisy for the rule, or of a display that never was stable. Times (n,) and light in cd/m2 (n,).
    """
    times, values = _checked(time_s, cd_m2)
    starts = times[times <= times[-1] - WINDOW_S + 1e-9]
    changes = np.array([_change(times, values, start) for start in starts])
    moving = np.flatnonzero(np.abs(changes) >= CHANGE_LIMIT)
    if len(moving) and moving[-1] == len(starts) - 1:
        raise InputError(
            "cd_m2",
            f"a change of {changes[-1]:+.2%} over the last 10 minutes",
            f"below {CHANGE_LIMIT:.1%}",
            "The display was never stable: let it warm up for longer and read on, or switch "
            "automatic brightness off.",
        )
    first = int(moving[-1]) + 1 if len(moving) else 0
    return WarmUp(times, values, float(starts[first]))


def _checked(time_s: ArrayLike, cd_m2: ArrayLike) -> tuple[Floats, Floats]:
    todo = "Read the same field every minute or more often, for half an hour from switching on."
    times = rising("time_s", time_s, LEAST_IN_WINDOW, todo)
    values = series("cd_m2", cd_m2, LEAST_IN_WINDOW, todo)
    if len(values) != len(times):
        raise InputError("cd_m2", f"{len(values)} values", f"{len(times)}, one a time", todo)
    if np.min(values) <= 0:
        raise InputError("cd_m2", float(np.min(values)), "above 0", todo)
    if times[-1] - times[0] < WINDOW_S:
        raise InputError("time_s, seconds in all", times[-1] - times[0], "600 or more", todo)
    _refuse_sparse(times, todo)
    _refuse_noisy(times, values)
    return times, values


def _refuse_sparse(times: Floats, todo: str) -> None:
    starts = times[times <= times[-1] - WINDOW_S + 1e-9]
    ends = np.searchsorted(times, starts + WINDOW_S + 1e-9)
    fewest = int(np.min(ends - np.searchsorted(times, starts)))
    if fewest < LEAST_IN_WINDOW:
        raise InputError(
            "time_s, readings in 10 minutes", fewest, f"{LEAST_IN_WINDOW} or more", todo
        )


def _refuse_noisy(times: Floats, values: Floats) -> None:
    """Twice the standard error of a window's change has to be below the limit."""
    in_window = len(times) * WINDOW_S / (times[-1] - times[0])
    relative = sample_noise(values) / float(np.mean(values))
    doubt = 2 * relative * float(np.sqrt(12 / in_window))
    if doubt > CHANGE_LIMIT:
        raise InputError(
            "cd_m2, doubt about the change over 10 minutes",
            f"{doubt:.2%}",
            f"up to {CHANGE_LIMIT:.1%}",
            "The readings are too noisy: read more often, or average several.",
        )


def _change(times: Floats, values: Floats, start_s: float) -> float:
    inside = (times >= start_s) & (times <= start_s + WINDOW_S + 1e-9)
    slope, level = np.polyfit(times[inside] - start_s, values[inside], 1)
    return float(slope * WINDOW_S / (level + slope * WINDOW_S / 2))
