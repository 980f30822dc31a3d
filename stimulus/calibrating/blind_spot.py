"""Distance by the blind spot: a dot sweeps over it and the person presses at its borders.

The left eye is covered and the right one looks at the mark. The dot moves at the mark's height,
outward and inward in turn; the person presses when it vanishes and again when it comes back.
`calibration.distance` has the formula and what it is worth.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from calibration.certificate import Quantity
from calibration.distance import LEAST_SWEEPS_EACH_WAY, Sweep, distance_by_blind_spot
from protocols.errors import InputError, Interrupted
from stimulus.buttons import Button
from stimulus.calibrating.shapes import disc
from stimulus.clock import clock
from stimulus.tiles import Codes
from stimulus.window import StimulusWindow

METHOD = "blind spot of the right eye, dot sweeps"
SPEED_CM_S = 2.0
DOT_RADIUS_CM = 0.35
DOT: Codes = (0, 0, 0)
FIRST_CM = 1.0
BEYOND = 1.5
"""Where inward sweeps begin, as a multiple of the far border found outward."""

TRIES = 3
PRESSES = 2
AFTER_S = 0.3
PAUSE_S = 0.5
WORDS = (
    "Distance by the blind spot",
    "Cover the left eye. Look at the ring in the middle all the time.",
    "Press when the black dot vanishes, and press again when it comes back.",
    "Press now to begin.",
)


@dataclass(frozen=True)
class Passage:
    """Where the dot was, cm from the mark, at each flip, seconds; and the presses heard."""

    flips_s: list[float]
    at_cm: list[float]
    presses_s: list[float]

    def borders_cm(self) -> list[float]:
        """Where the dot was at each press, cm, ascending."""
        return sorted(float(np.interp(t, self.flips_s, self.at_cm)) for t in self.presses_s)


def measured_distance(window: StimulusWindow, button: Button, cm_per_px: float) -> Quantity:
    """Distance from eye to mark, cm, from three sweeps each way; `button` is started.

    Raises InputError where sweeps bring no pair of borders, or distance_by_blind_spot does.
    """
    window.message(WORDS)
    _await_press(window, button)
    edge_cm = window.screen.width_px / 2 * cm_per_px - DOT_RADIUS_CM
    sweeps: list[Sweep] = []
    for _ in range(LEAST_SWEEPS_EACH_WAY):
        out = _swept(window, button, cm_per_px, (FIRST_CM, edge_cm))
        begin_cm = min(BEYOND * out[1], edge_cm)
        back = _swept(window, button, cm_per_px, (begin_cm, FIRST_CM))
        sweeps += [Sweep(*out, outward=True), Sweep(*back, outward=False)]
    return distance_by_blind_spot(sweeps)


def _swept(
    window: StimulusWindow, button: Button, cm_per_px: float, way_cm: tuple[float, float]
) -> tuple[float, float]:
    for _ in range(TRIES):
        borders = _passage(window, button, cm_per_px, way_cm).borders_cm()
        if len(borders) == PRESSES:
            return borders[0], borders[1]
    raise InputError(
        "--distance blind-spot",
        f"{len(borders)} presses in a sweep, {TRIES} times",
        "one press when the dot vanishes and one when it comes back",
        "Cover the left eye and look at the ring, or measure with a tape: --distance 40.0,40.2",
    )


def _passage(
    window: StimulusWindow, button: Button, cm_per_px: float, way_cm: tuple[float, float]
) -> Passage:
    """One sweep; it ends a moment after the second press, or at the end of the way."""
    done = Passage([], [], [])
    button.presses()
    for at_cm in _places_cm(way_cm, window.refresh.refresh_hz):
        done.flips_s.append(_dot(window, at_cm, cm_per_px))
        done.at_cm.append(at_cm)
        done.presses_s.extend(button.presses())
        _refuse_closed(window)
        if len(done.presses_s) >= PRESSES and clock() - done.presses_s[-1] > AFTER_S:
            break
    window.quiet()
    time.sleep(PAUSE_S)
    return done


def _places_cm(way_cm: tuple[float, float], refresh_hz: float) -> Iterator[float]:
    begin_cm, end_cm = way_cm
    frames = int(abs(end_cm - begin_cm) / SPEED_CM_S * refresh_hz) + 1
    return (float(at) for at in np.linspace(begin_cm, end_cm, frames))


def _dot(window: StimulusWindow, at_cm: float, cm_per_px: float) -> float:
    centre = (
        round(window.screen.width_px / 2 + at_cm / cm_per_px),
        window.screen.height_px // 2,
    )
    return window.tiles(disc(centre, round(DOT_RADIUS_CM / cm_per_px), DOT), mark=True)


def _await_press(window: StimulusWindow, button: Button) -> None:
    while not button.presses():
        time.sleep(0.02)
        _refuse_closed(window)


def _refuse_closed(window: StimulusWindow) -> None:
    if window.closed:
        raise Interrupted("The window was closed.")
