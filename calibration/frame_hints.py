"""What flip times say about the system around the window, and what to switch off.

Three things leave their own mark on the times:
- variable refresh: under load the intervals take any length above one frame, instead of whole
  multiples of it;
- a compositor that re-times frames: some flips come late by one fixed amount, so that lateness
  falls into two tight groups;
- flips that do not wait for the display at all.
"""

from __future__ import annotations

import numpy as np
from scipy.ndimage import uniform_filter1d

from calibration.flips import Frames
from protocols.field import Floats

LONG_INTERVAL = 1.1
OFF_GRID = 0.15
LEAST_LONG = 10
VARIABLE_SHARE = 0.3
NEIGHBOURS = 41
GROUPS_EXPLAIN = 0.9
LEAST_APART = 0.02
LEAST_SHARE = 0.02
STEADY_WITHIN = 0.1
STEADY_SHARE = 0.9


def hints(plain: Frames, loaded: Frames, display_locked: bool) -> list[str]:
    """Sentences for the operator, each with what to do; empty when all is well."""
    found = [
        _on_lock(plain, display_locked),
        _on_variable(plain, loaded, display_locked),
        _on_groups(plain),
        _on_missed(plain, "at rest"),
        _on_missed(loaded, "under load"),
        _on_doubled(plain),
    ]
    return [sentence for sentence in found if sentence]


def steady_share(frames: Frames) -> float:
    """Share of the intervals within 10 % of one frame: the evidence of a locked display."""
    away = np.abs(frames.intervals_s / frames.period_s - 1)
    return float(np.mean(away <= STEADY_WITHIN))


def off_grid_share(frames: Frames) -> tuple[float, int]:
    """Share of the intervals longer than a frame that are no whole number of frames; their count.

    Lengths spread evenly give 0.7, whole multiples give 0.
    """
    lengths = frames.intervals_s / frames.period_s
    long = lengths[lengths > LONG_INTERVAL]
    off = np.abs(long - np.round(long)) > OFF_GRID
    return (float(np.mean(off)) if len(long) else 0.0), len(long)


def late_groups(frames: Frames) -> tuple[float, float] | None:
    """Seconds between two groups of lateness and the share of the late one; None if one group.

    Lateness is taken against the flips round about, so that slow wander is no group. Two groups
    stand when splitting explains nine tenths of the variance: an even spread reaches 0.75, a
    normal one 0.64.
    """
    local = frames.late_s - uniform_filter1d(frames.late_s, NEIGHBOURS, mode="nearest")
    local = local[np.abs(local) < 0.75 * frames.period_s]
    early, late, explained = _split(local)
    apart_s = float(np.mean(late) - np.mean(early))
    share = len(late) / len(local)
    clear = explained > GROUPS_EXPLAIN and apart_s > LEAST_APART * frames.period_s
    if clear and LEAST_SHARE <= share <= 1 - LEAST_SHARE:
        return apart_s, share
    return None


def _split(values: Floats) -> tuple[Floats, Floats, float]:
    """The cut that explains most of the variance of sorted values, and the share it explains."""
    ordered = np.sort(values)
    n = len(ordered)
    below = np.arange(1, n)
    sums = np.cumsum(ordered)[:-1]
    total, spread = float(np.sum(ordered)), float(np.var(ordered)) * n
    if spread == 0:
        return ordered[:1], ordered[1:], 0.0
    between = (sums - below * total / n) ** 2 * n / (below * (n - below))
    cut = int(np.argmax(between)) + 1
    return ordered[:cut], ordered[cut:], float(between[cut - 1] / spread)


def _on_lock(plain: Frames, display_locked: bool) -> str:
    share = steady_share(plain)
    if not display_locked:
        return (
            "The flips do not wait for the display, so the rate is that of the software's pacing "
            "and frames may tear: turn vertical synchronisation on in the graphics driver, and "
            "run the window full screen."
        )
    if share < STEADY_SHARE:
        return (
            f"The window was taken as locked to the display, but only {share:.0%} of the intervals "
            "lie within 10 % of one frame: close other programs, turn vertical synchronisation "
            "on, and time the flips again."
        )
    return ""


def _on_variable(plain: Frames, loaded: Frames, display_locked: bool) -> str:
    if not display_locked:
        return ""
    for frames in (plain, loaded):
        share, count = off_grid_share(frames)
        if count >= LEAST_LONG and share > VARIABLE_SHARE:
            return (
                f"Variable refresh seems to be on: of {count} intervals longer than a frame, "
                f"{share:.0%} are no whole number of frames. Switch variable refresh (adaptive "
                "synchronisation) off in the screen's own menu and in the graphics driver."
            )
    return ""


def _on_groups(plain: Frames) -> str:
    groups = late_groups(plain)
    if groups is None:
        return ""
    apart_s, share = groups
    return (
        f"A compositor seems to re-time the frames: {share:.0%} of the flips come "
        f"{apart_s * 1000:.2f} ms later than the others. Switch desktop effects (the compositor) "
        "off, or let full-screen windows bypass it, and run the window full screen."
    )


def _on_missed(frames: Frames, when: str) -> str:
    if not frames.missed:
        return ""
    flips = len(frames.times_s)
    return (
        f"{frames.missed} frames were missed in {flips} flips {when}: close other programs, "
        "switch off power saving, and let no other window draw."
    )


def _on_doubled(plain: Frames) -> str:
    if not plain.doubled:
        return ""
    return (
        f"{plain.doubled} flips came within half a frame of the one before: a frame was queued "
        "ahead. Switch triple buffering and frame queues off in the graphics driver."
    )
