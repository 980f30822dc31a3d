"""Luminance over the screen: a ring shows where to hold the photometer, point by point."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from calibration.certificate import Identity
from calibration.instruments.interface import Photometer, Target
from calibration.instruments.measure import MeasuringPlan, measure
from calibration.transfer import srgb_nominal
from stimulus.calibrating.bench import Grids, Progress
from stimulus.calibrating.shapes import BLACK, Point, ring, whole
from stimulus.calibrating.terminal import ask_to
from stimulus.tiles import Codes
from stimulus.window import StimulusWindow

GREY = srgb_nominal().mean_codes
RING_SHARES = (1 / 12, 1 / 15)  # outer and inner radius, shares of the height
FULL, NONE = 255, 0


@dataclass
class GridWalk:
    """Points of a grid, rows from the bottom, and which of them is measured now.

    At each point `levels` are read: mean grey, and with three of them full and no light too.
    """

    window: StimulusWindow
    rows: int
    columns: int
    progress: Progress
    levels: tuple[int, ...] = (GREY[0],)
    now: int = field(default=0, init=False)
    _held_at: int | None = field(default=None, init=False)

    def told(self, done: int, of: int, target: Target) -> None:
        """Readings are made in order, so what is done says at which point the next one is."""
        self.now = done // len(self.levels)
        self.progress("uniformity", done, of)

    def show(self, codes: Codes) -> None:
        """Ring a new point, wait until the photometer is there, and leave the field even.

        Codes of shape (3,).
        """
        if self._held_at != self.now:
            self._send_to(self.now)
        self.window.tiles([whole(self._size, codes)])

    def point_px(self, number: int) -> Point:
        """Pixels from the lower left of a point; the grid leaves one spacing to every edge."""
        row, column = divmod(number, self.columns)
        return (
            round(self._size[0] * (column + 1) / (self.columns + 1)),
            round(self._size[1] * (row + 1) / (self.rows + 1)),
        )

    @property
    def targets(self) -> tuple[Target, ...]:
        """What is shown, in order: all levels at a point before the next."""
        return tuple(Target("white", level) for level in self.levels) * (self.rows * self.columns)

    def _send_to(self, number: int) -> None:
        outer, inner = (round(share * self._size[1]) for share in RING_SHARES)
        shapes = ring(self.point_px(number), outer, inner, BLACK, GREY)
        self.window.tiles([whole(self._size, GREY), *shapes])
        points = self.rows * self.columns
        ask_to(f"Hold the photometer inside the ring, point {number + 1} of {points}.")
        self._held_at = number

    @property
    def _size(self) -> tuple[int, int]:
        return self.window.screen.width_px, self.window.screen.height_px


def walked_grids(
    walk: GridWalk, meter: Photometer, identity: Identity, settle_s: float, log: Path, repeats: int
) -> Grids:
    """Luminance at every point, shape (rows, columns) a level; what was read is kept in `log`.

    Raises as `measure` does.
    """
    plan = MeasuringPlan(identity, walk.targets, repeats, settle_s)
    lines = measure(plan, walk.show, meter, log, walk.told)
    read = np.array([line.cd_m2 for line in lines]).reshape(walk.rows, walk.columns, -1)
    grids = [read[..., level] for level in range(len(walk.levels))]
    return Grids(grids[0], (grids[1], grids[2]) if len(grids) > 1 else None)
