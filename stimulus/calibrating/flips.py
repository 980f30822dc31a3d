"""Times of real flips, at rest and under the load of the largest patch."""

from __future__ import annotations

import numpy as np

from calibration.geometry import patch_extent
from protocols.errors import InputError
from protocols.field import Floats, Place
from protocols.grating import FramePlan, Patch
from stimulus.clock import clock
from stimulus.window import StimulusWindow

FULL_RADIUS_DEG, OUTER_RADIUS_DEG = 2.5, 3.5
FURTHEST_DEG = 20.0
CYCLE = (1.0, -0.5, -0.5)


def flips_at_rest_s(window: StimulusWindow, count: int) -> Floats:
    """Times of so many quiet frames, shape (count,); raises InputError if the window goes."""
    times = [window.quiet() for _ in range(count)]
    _refuse_closed(window)
    return np.array(times)


def flips_under_load_s(window: StimulusWindow, count: int) -> Floats:
    """The same while the largest patch is drawn at full contrast in every frame."""
    times: list[float] = []

    def keep_going() -> bool:
        times.append(clock())
        return True

    factors = np.resize(CYCLE, count)
    plan = FramePlan(window.refresh.refresh_hz, 3, window.refresh.refresh_hz / 3, factors)
    window.present(largest_patch(window), 1.0, plan, keep_going)
    _refuse_closed(window)
    return np.array(times)


def largest_patch(window: StimulusWindow) -> Patch:
    """The patch at the edge of the field, or in the middle of a window that does not reach it."""
    screen = window.screen
    edge = patch_extent(Place(FURTHEST_DEG, 0.0), OUTER_RADIUS_DEG).right * screen.distance_cm
    away_deg = FURTHEST_DEG if edge <= screen.width_cm / 2 else 0.0
    return Patch(Place(away_deg, 0.0), FULL_RADIUS_DEG, OUTER_RADIUS_DEG, 0.5, 90.0, 0.0)


def _refuse_closed(window: StimulusWindow) -> None:
    if window.closed:
        raise InputError("window", "closed", "an open window", "Leave it open, and measure again.")
