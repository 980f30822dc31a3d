"""The fixation mark: a small dark ring round a light dot, always on, never moving."""

from __future__ import annotations

import math

from pyglet import gl

from calibration.geometry import Screen
from stimulus.shader import Polygon, Program, release

RADII_DEG = (0.11, 0.24, 0.36)  # dot, inside and outside of the ring
RING_COLOUR = (0.08, 0.09, 0.12)
DOT_COLOUR = (0.98, 0.97, 0.92)


class MarkDrawer:
    """Draws the mark over whatever lies below it."""

    def __init__(self, screen: Screen) -> None:
        self._program = Program("patch.vert", "mark.frag")
        x_px, y_px = _centre_px(screen)
        reach = [math.ceil(_to_cm(RADII_DEG[2], screen) / size) + 2 for size in screen.cm_per_px]
        self._area = Polygon([(x_px + i * reach[0], y_px + j * reach[1]) for i, j in _SQUARE])
        self._set_constants(screen, (x_px, y_px))

    def draw(self) -> None:
        """Draw the mark."""
        self._program.use()
        gl.glBlendFunc(gl.GL_SRC_ALPHA, gl.GL_ONE_MINUS_SRC_ALPHA)
        self._area.draw()
        release()

    def _set_constants(self, screen: Screen, centre_px: tuple[float, float]) -> None:
        self._program.use()
        self._program.set_floats("target_px", screen.width_px, screen.height_px)
        self._program.set_floats("centre_px", *centre_px)
        self._program.set_floats("cm_per_px", *screen.cm_per_px)
        self._program.set_floats("radii_cm", *(_to_cm(r, screen) for r in RADII_DEG))
        self._program.set_floats("soft_cm", max(screen.cm_per_px))
        self._program.set_floats("ring_colour", *RING_COLOUR)
        self._program.set_floats("dot_colour", *DOT_COLOUR)
        release()


_SQUARE = ((-1, -1), (1, -1), (1, 1), (-1, 1))


def _to_cm(angle_deg: float, screen: Screen) -> float:
    return screen.distance_cm * math.tan(math.radians(angle_deg))


def _centre_px(screen: Screen) -> tuple[float, float]:
    x_size, y_size = screen.cm_per_px
    return (
        screen.width_px / 2 + screen.fixation_x_cm / x_size,
        screen.height_px / 2 + screen.fixation_y_cm / y_size,
    )
