"""Luminance over the screen: a ring shows where to hold the photometer, point by point."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from calibration.certificate import Identity
from calibration.instruments.interface import Photometer, Target
from calibration.instruments.measure import MeasuringPlan, measure
from calibration.transfer import srgb_nominal
from protocols.field import Floats
from stimulus.calibrating.bench import Progress
from stimulus.calibrating.shapes import BLACK, Point, ring, whole
from stimulus.calibrating.terminal import ask_to
from stimulus.tiles import Codes
from stimulus.window import StimulusWindow

GREY = srgb_nominal().mean_codes
RING_SHARES = (1 / 12, 1 / 15)  # outer and inner radius, shares of the height


@dataclass
class GridWalk:
    """Points of a grid, rows from the bottom, and which of them is measured now."""

    window: StimulusWindow
    rows: int
    columns: int
    progress: Progress
    now: int = field(default=0, init=False)

    def told(self, done: int, of: int, target: Target) -> None:
        """Points are measured in order, so what is done is the number of the next."""
        self.now = done
        self.progress("uniformity", done, of)

    def show(self, codes: Codes) -> None:
        """Ring the point, wait until the photometer is there, and leave the field even."""
        outer, inner = (round(share * self._size[1]) for share in RING_SHARES)
        field_tile = whole(self._size, codes)
        self.window.tiles([field_tile, *ring(self.point_px(self.now), outer, inner, BLACK, codes)])
        ask_to(f"Hold the photometer inside the ring, point {self.now + 1} of {self._points}.")
        self.window.tiles([field_tile])

    def point_px(self, number: int) -> Point:
        """Pixels from the lower left of a point; the grid leaves one spacing to every edge."""
        row, column = divmod(number, self.columns)
        return (
            round(self._size[0] * (column + 1) / (self.columns + 1)),
            round(self._size[1] * (row + 1) / (self.rows + 1)),
        )

    @property
    def _points(self) -> int:
        return self.rows * self.columns

    @property
    def _size(self) -> tuple[int, int]:
        return self.window.screen.width_px, self.window.screen.height_px


def grid_cd_m2(
    walk: GridWalk, meter: Photometer, identity: Identity, settle_s: float, log: Path, repeats: int
) -> Floats:
    """Luminance at every point, shape (rows, columns); what was read is kept in `log`.

    Raises as `measure` does.
    """
    targets = (Target("white", GREY[0]),) * (walk.rows * walk.columns)
    plan = MeasuringPlan(identity, targets, repeats, settle_s)
    lines = measure(plan, walk.show, meter, log, walk.told)
    return np.array([line.cd_m2 for line in lines]).reshape(walk.rows, walk.columns)
