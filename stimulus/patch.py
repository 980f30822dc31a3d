"""Draws the grating patch: its modulation once a presentation, its codes every frame."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from pyglet import gl

from calibration.geometry import Screen, cm_to_px, px_to_cm, tangent_polygon
from calibration.transfer import Transfer
from protocols.field import Floats
from protocols.grating import Patch, patch_frame
from stimulus.shader import (
    FloatTexture,
    Polygon,
    Program,
    drawing_into,
    release,
)

CODE_ROWS = 4097
AREA_CORNERS = 12
PREPARED_UNIT, TABLE_UNIT = 8, 9  # texture units that PsychoPy leaves alone
GOLDEN = (math.sqrt(5) - 1) / 2
THRESHOLDS = 65536
Box = tuple[int, int, int, int]


class PatchDrawer:
    """The two programs, the code table of one display, and the patch made ready last."""

    def __init__(self, screen: Screen, transfer: Transfer, seed: int) -> None:
        self._screen = screen
        self._seed = seed
        self._frames_drawn = 0
        self._step = GOLDEN
        self._modulation = Program("patch.vert", "modulation.frag")
        self._codes = Program("patch.vert", "patch.frag")
        table = transfer.inverse_table(CODE_ROWS)
        self._table = FloatTexture(CODE_ROWS, 1, 3, table)
        self._prepared: FloatTexture | None = None
        self._area: Polygon | None = None
        self._set_constants()

    def prepare(self, patch: Patch, frames_per_cycle: int) -> None:
        """Work out the modulation of every pixel of a patch; done before its first frame."""
        self._forget()
        self._step = dither_step(frames_per_cycle)
        box = patch_box(patch, self._screen)
        self._prepared = FloatTexture(box[2], box[3], 2)
        with drawing_into(self._prepared):
            self._draw_modulation(patch, box)
        self._prepared.bind(PREPARED_UNIT)
        self._area = Polygon(patch_area(patch, self._screen))
        self._codes.use()
        gl.glUniform2i(self._codes.where("corner_px"), box[0], box[1])
        release()

    def draw(self, amplitude: float) -> None:
        """Draw the patch made ready, at `amplitude` = contrast times the frame's factor."""
        if self._prepared is None or self._area is None:
            raise RuntimeError("prepare a patch before drawing it")
        self._codes.use()
        gl.glUniform2f(self._frame_at, amplitude, self._next_advance())
        gl.glDisable(gl.GL_BLEND)
        self._area.draw()
        gl.glEnable(gl.GL_BLEND)
        release()

    def _next_advance(self) -> float:
        shift = math.floor(self._frames_drawn * self._step % 1.0 * THRESHOLDS) / THRESHOLDS
        self._frames_drawn += 1
        return shift

    def _set_constants(self) -> None:
        self._codes.use()
        self._codes.set_floats("target_px", self._screen.width_px, self._screen.height_px)
        self._codes.set_floats("half_steps", (CODE_ROWS - 1) / 2)
        self._codes.set_sampler("prepared", PREPARED_UNIT)
        self._codes.set_sampler("codes", TABLE_UNIT)
        self._frame_at = self._codes.where("frame")
        self._table.bind(TABLE_UNIT)
        release()

    def _draw_modulation(self, patch: Patch, box: Box) -> None:
        width, height = box[2:]
        self._modulation.use()
        for name, values in modulation_uniforms(patch, box, self._screen).items():
            self._modulation.set_floats(name, *values)
        self._modulation.set_seed("seed", (self._seed + self._frames_drawn) % 2**32)
        whole = Polygon([(0, 0), (width, 0), (width, height), (0, height)])
        whole.draw()
        whole.delete()
        release()

    def _forget(self) -> None:
        for kept in (self._prepared, self._area):
            if kept is not None:
                kept.delete()
        self._prepared = self._area = None


def dither_step(frames_per_cycle: int) -> float:
    """How far the dither thresholds move from frame to frame, as a share of one code.

    Frames of the same flicker phase lie one golden step apart, which spreads them most evenly over
    the code; a frame's own step is the one nearest to golden that does so.

    >>> round(dither_step(3) * 3 % 1.0 - GOLDEN, 12)
    0.0
    """
    turns = round((frames_per_cycle - 1) * GOLDEN)
    return (GOLDEN + turns) / frames_per_cycle


def patch_area(patch: Patch, screen: Screen) -> Floats:
    """Corners of a polygon round a patch, pixels from the window's lower left; shape (n, 2)."""
    corners = tangent_polygon(patch.place, patch.outer_radius_deg, AREA_CORNERS)
    x_cm, y_cm = (corners * screen.distance_cm).T
    x_px, y_px = cm_to_px(x_cm, y_cm, screen)
    return np.stack([x_px + screen.width_px / 2, y_px + screen.height_px / 2], axis=-1)


def patch_box(patch: Patch, screen: Screen) -> Box:
    """Whole pixels that hold a patch: left, bottom, width, height from the window's lower left."""
    area = patch_area(patch, screen)
    left, bottom = (math.floor(v) for v in area.min(axis=0))
    right, top = (math.ceil(v) for v in area.max(axis=0))
    return left, bottom, right - left, top - bottom


def modulation_uniforms(patch: Patch, box: Box, screen: Screen) -> dict[str, Any]:
    """What modulation.frag is told about a patch: angles in radians, lengths in centimetres."""
    x_px, y_px = box[0] - screen.width_px / 2, box[1] - screen.height_px / 2
    across, up, ahead = patch_frame(patch.place)
    tilt = math.radians(patch.orientation_deg)
    per_radian = math.degrees(patch.spatial_frequency_cpd)
    return {
        "target_px": box[2:],
        "origin_cm": [float(v) for v in px_to_cm(x_px, y_px, screen)],
        "cm_per_px": screen.cm_per_px,
        "distance_cm": (screen.distance_cm,),
        "across_axis": across,
        "up_axis": up,
        "ahead_axis": ahead,
        "radii": (math.radians(patch.full_radius_deg), math.radians(patch.outer_radius_deg)),
        "cycles": (per_radian * math.sin(tilt), -per_radian * math.cos(tilt)),
        "phase": (math.radians(patch.phase_deg),),
    }
