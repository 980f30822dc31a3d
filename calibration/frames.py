"""Frame timing from thousands of flip times: refresh, spread, drift, missed and doubled frames.

The refresh is the slope of frame number on time (`calibration.flips` numbers the frames);
`calibration.frame_hints` turns what is odd about the times into sentences.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from calibration.certificate import Quantity, TimingPart
from calibration.flips import Frames, not_stray, numbered, robust_sd, tracked
from calibration.frame_hints import hints
from calibration.samples import rectangular, rising
from protocols.errors import InputError, require_within
from protocols.field import Floats

LEAST_FLIPS = 1000
LEAST_LOADED_FLIPS = 300
LEAST_SINGLE = 2
RATE_RANGE_HZ = (20.0, 600.0)
CLOCK_PPM = 100.0
OUTLIER_SDS = 5.0
OUTLIER_SHARE = 0.02
HISTOGRAM_BINS = 60
HISTOGRAM_FRAMES = 3.5


def timing_part(flips_s: ArrayLike, loaded_flips_s: ArrayLike, display_locked: bool) -> TimingPart:
    """The certificate's timing from flip times, seconds, shape (n,), at rest and under load.

    `display_locked` is what was found of the window: whether its flips wait for the display. Where
    they do not, the refresh is that of the software's own pacing, and a hint says so. The standard
    deviation is that of intervals of one frame; the drift is the change of the refresh from the
    first flip to the last. Raises InputError for too few flips, times out of order, values that
    are not numbers, or a rate no display has.
    """
    plain = plain_frames(flips_s)
    loaded = loaded_frames(loaded_flips_s, plain.period_s)
    edges_s, counts = histogram(plain)
    return TimingPart(
        refresh_hz=refresh_hz(plain),
        interval_sd_s=float(np.std(plain.single_s, ddof=1)),
        drift_ppm=drift_ppm(plain),
        flips=len(plain.times_s),
        outliers=outliers(plain),
        missed=plain.missed,
        doubled=plain.doubled,
        missed_under_load=loaded.missed,
        display_locked=display_locked,
        histogram_edges_s=[float(edge) for edge in edges_s],
        histogram_counts=[int(count) for count in counts],
        hints=hints(plain, loaded, display_locked),
    )


def plain_frames(flips_s: ArrayLike) -> Frames:
    """Frames of a run at rest, from flip times in seconds, shape (n,); raises InputError."""
    todo = "Time the flips again: some thousands of them, in order, on one clock."
    times = rising("flips_s", flips_s, LEAST_FLIPS, todo)
    frames = tracked(times)
    require_within(
        "flips_s, flips a second",
        1 / frames.period_s,
        *RATE_RANGE_HZ,
        "The flips do not follow a display: turn vertical synchronisation on, or pace them.",
    )
    if len(frames.single_s) < LEAST_SINGLE:
        raise InputError(
            "flips_s, intervals of one frame",
            len(frames.single_s),
            f"{LEAST_SINGLE} or more, at {1 / frames.period_s:.4g} frames a second",
            "Flip in every frame, and time the flips again.",
        )
    return frames


def loaded_frames(flips_s: ArrayLike, period_s: float) -> Frames:
    """Frames of a run under load, counted with the period found at rest; raises InputError.

    Shape (n,).
    """
    todo = "Time the flips under load again, in order, on one clock."
    times = rising("loaded_flips_s", flips_s, LEAST_LOADED_FLIPS, todo)
    return numbered(times, period_s)


def refresh_hz(frames: Frames) -> Quantity:
    """Refresh rate with its uncertainty.

    Type A has two parts: jitter of the single time stamps, and wander of the intervals, which adds
    up; the second is told from the first by how the spread grows with the time between flips.
    Type B is the computer's clock, taken as within 100 ppm of true (common practice for a quartz
    clock, no published source).
    """
    rate_hz = 1 / frames.period_s
    relative = _period_error_s(frames) / frames.period_s
    return Quantity(
        value=rate_hz,
        type_a=rate_hz * relative,
        type_b=rate_hz * rectangular(CLOCK_PPM * 1e-6),
        unit="Hz",
    )


def drift_ppm(frames: Frames) -> float:
    """Change of the refresh from the first flip to the last, parts per million of it."""
    kept = not_stray(frames.late_s)
    span_s = frames.times_s[-1] - frames.times_s[0]
    t = (frames.times_s[kept] - frames.times_s[0]) / span_s
    bend, _, _ = np.polyfit(t, frames.numbers[kept], 2)
    return float(2 * bend * frames.period_s / span_s * 1e6)


def outliers(frames: Frames) -> int:
    """Intervals of one frame that lie further from it than noise does.

    The limit is five standard deviations (from the median absolute deviation) and never less than
    2 % of a frame.
    """
    away_s = np.abs(frames.single_s - np.median(frames.single_s))
    limit_s = max(OUTLIER_SDS * robust_sd(frames.single_s), OUTLIER_SHARE * frames.period_s)
    return int(np.sum(away_s > limit_s))


def histogram(frames: Frames) -> tuple[Floats, Floats]:
    """Edges in seconds, (bins + 1,), and counts, (bins,), of the intervals, every one counted.

    Bins are equally wide up to 3.5 frames; whatever is longer shares one last bin.
    """
    intervals = frames.intervals_s
    longest_s, usual_s = float(np.max(intervals)), HISTOGRAM_FRAMES * frames.period_s
    low_s = float(np.min(intervals))
    edges = np.linspace(low_s, max(min(longest_s, usual_s), low_s + 1e-6), HISTOGRAM_BINS + 1)
    if longest_s > usual_s:
        edges = np.append(edges, longest_s)
    counts, _ = np.histogram(intervals, edges)
    return edges, counts.astype(float)


def _period_error_s(frames: Frames) -> float:
    kept = not_stray(frames.late_s)
    late, numbers = frames.late_s[kept], frames.numbers[kept]
    jitter_s, wander_s = _jitter_and_wander_s(late)
    reach = float(np.sum((numbers - np.mean(numbers)) ** 2))
    return float(np.hypot(jitter_s / np.sqrt(reach), wander_s * np.sqrt(1.2 / len(numbers))))


def _jitter_and_wander_s(late_s: Floats) -> tuple[float, float]:
    """Standard deviation of single stamps, and of what each frame adds for good.

    The mean square of lateness `far` flips apart is twice the jitter's variance plus `far` times
    the wander's; wander is taken as there only where the growth is clear of chance.
    """
    far = len(late_s) // 60
    near_sq = float(np.mean(np.diff(late_s) ** 2))
    far_sq = float(np.mean((late_s[far:] - late_s[:-far]) ** 2))
    if far_sq <= near_sq * (1 + 6 / np.sqrt(len(late_s))):
        return float(np.std(late_s)), 0.0
    wander_sq = (far_sq - near_sq) / (far - 1)
    return float(np.sqrt(max(near_sq - wander_sq, 0.0) / 2)), float(np.sqrt(wander_sq))
