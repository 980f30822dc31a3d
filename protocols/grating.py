"""The stimulus as numbers: a patch of counterphase-flickering grating, frame by frame.

Luminance at a point is L0 * (1 + C * w(t) * e * sin(2*pi*f*u + phase) * s(t)): L0 the mean
luminance, w the temporal window, e a raised-cosine envelope, u the distance across the bars in
degrees and s the flicker. Distances inside the patch are true visual angles about its own centre
(the patch frame is the fixation frame carried along the radius), so a patch is as round and its
bars as wide at 20 degrees as at the centre.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from protocols.errors import InputError
from protocols.field import Floats, Place, directions


@dataclass(frozen=True)
class Patch:
    """One grating patch. Angles in degrees of visual angle; frequency in cycles per degree.

    `orientation_deg` is that of the bars: 90 is vertical bars, 0 horizontal.
    """

    place: Place
    full_radius_deg: float
    outer_radius_deg: float
    spatial_frequency_cpd: float
    orientation_deg: float
    phase_deg: float


@dataclass(frozen=True)
class FramePlan:
    """What each frame of a presentation multiplies the contrast by.

    `factors` has shape (frames,): temporal window times flicker, -1..1.
    """

    refresh_hz: float
    frames_per_cycle: int
    flicker_hz: float
    factors: Floats

    @property
    def frames(self) -> int:
        """Number of frames the patch is on."""
        return len(self.factors)


def envelope(radius_deg: ArrayLike, full_radius_deg: float, outer_radius_deg: float) -> Floats:
    """Raised-cosine envelope: 1 up to the full radius, 0 from the outer radius on; any shape.

    The answer is a share of the patch's contrast.

    >>> [float(v) for v in envelope([0.0, 2.5, 3.0, 3.5, 9.0], 2.5, 3.5).round(6)]
    [1.0, 1.0, 0.5, 0.0, 0.0]
    """
    edge = outer_radius_deg - full_radius_deg
    t = np.clip((np.asarray(radius_deg, float) - full_radius_deg) / edge, 0.0, 1.0)
    return np.asarray(0.5 * (1 + np.cos(np.pi * t)))


def patch_frame(place: Place) -> Floats:
    """Orthonormal axes of a patch, rows (across, up, ahead), shape (3, 3).

    It is the least rotation that takes straight ahead to the place. The axes are unit vectors, a
    pure ratio.
    """
    ahead = directions(place.x_deg, place.y_deg)
    turn = 1 / (1 + ahead[2])
    x, y = ahead[0], ahead[1]
    across = np.array([1 - x * x * turn, -x * y * turn, -x])
    up = np.array([-x * y * turn, 1 - y * y * turn, -y])
    return np.stack([across, up, ahead])


def patch_angles(
    place: Place, x_cm: ArrayLike, y_cm: ArrayLike, distance_cm: float
) -> tuple[Floats, Floats]:
    """True visual angles (across, up) in degrees from a patch's centre of points on the screen."""
    x, y = np.broadcast_arrays(np.asarray(x_cm, float), np.asarray(y_cm, float))
    rays = np.stack([x, y, np.full(x.shape, float(distance_cm))], axis=-1)
    local = rays @ patch_frame(place).T
    off_axis = np.hypot(local[..., 0], local[..., 1])
    angle = np.degrees(np.arctan2(off_axis, local[..., 2]))
    with np.errstate(invalid="ignore", divide="ignore"):
        scale = np.where(off_axis > 0, angle / off_axis, 0.0)
    return local[..., 0] * scale, local[..., 1] * scale


def modulation(patch: Patch, across_deg: ArrayLike, up_deg: ArrayLike) -> Floats:
    """Envelope times carrier, -1..1, at visual angles from the patch's centre; any shape."""
    across, up = np.asarray(across_deg, float), np.asarray(up_deg, float)
    tilt = np.radians(patch.orientation_deg)
    u = across * np.sin(tilt) - up * np.cos(tilt)
    carrier = np.sin(2 * np.pi * patch.spatial_frequency_cpd * u + np.radians(patch.phase_deg))
    return np.asarray(
        envelope(np.hypot(across, up), patch.full_radius_deg, patch.outer_radius_deg) * carrier
    )


def whole_frame_flicker(wanted_hz: float, refresh_hz: float) -> tuple[int, float]:
    """Frames a cycle and exact rate in Hz nearest to the wanted one; raises InputError if none.

    >>> [whole_frame_flicker(20.0, r)[0] for r in (60.0, 75.0, 120.0, 144.0)]
    [3, 4, 6, 7]
    """
    low = int(refresh_hz // wanted_hz)
    frames = [n for n in (low, low + 1) if n >= 2]
    if not frames or wanted_hz > refresh_hz / 2:
        raise InputError(
            "flicker_hz",
            wanted_hz,
            f"up to half the refresh rate, {refresh_hz / 2:g} Hz here",
            "Raise the refresh rate of the screen or lower the flicker rate.",
        )
    best = min(frames, key=lambda n: abs(refresh_hz / n - wanted_hz))
    return best, refresh_hz / best


def temporal_window(t_s: ArrayLike, duration_s: float, ramp_s: float) -> Floats:
    """Raised-cosine ramps up and down, 1 in between, 0 outside; t in seconds from onset.

    Any shape.
    """
    t = np.asarray(t_s, float)
    if ramp_s == 0:
        return np.asarray(((t >= 0) & (t <= duration_s)).astype(float))
    nearest_end = np.minimum(t, duration_s - t)
    return np.asarray(0.5 * (1 - np.cos(np.pi * np.clip(nearest_end / ramp_s, 0.0, 1.0))))


def frame_plan(duration_s: float, ramp_s: float, flicker_hz: float, refresh_hz: float) -> FramePlan:
    """Frame-by-frame plan of a presentation on a screen of this refresh rate.

    The window is sampled at mid-frame; the flicker starts at its peak, so that the first frame is
    visible and the sampled extremes and the sampled fundamental have the wanted amplitude. Source
    of the sampled flicker's loss: see `frame_hold`; the rest is our own.
    """
    per_cycle, exact_hz = whole_frame_flicker(flicker_hz, refresh_hz)
    k = np.arange(max(1, round(duration_s * refresh_hz)))
    window = temporal_window((k + 0.5) / refresh_hz, len(k) / refresh_hz, ramp_s)
    flicker = np.cos(2 * np.pi * (k % per_cycle) / per_cycle)
    return FramePlan(refresh_hz, per_cycle, exact_hz, window * flicker)


def frame_hold(frequency_hz: float, refresh_hz: float) -> float:
    """Share of a sampled sinusoid's amplitude left after each frame is held: sin(x)/x, x = pi*f/R.

    At two frames a cycle the image of the sampling falls on the flicker itself and doubles it: a
    square wave's fundamental is 4/pi. Source: the Fourier transform of a box (textbook).

    >>> round(frame_hold(18.0, 60.0), 5), round(frame_hold(30.0, 60.0), 5)
    (0.85839, 1.27324)
    """
    image = 2.0 if abs(refresh_hz / frequency_hz - 2) < 1e-6 else 1.0
    return float(image * np.sinc(frequency_hz / refresh_hz))
