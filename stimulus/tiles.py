"""Rectangles of exact code values: what an instrument looks at, free of gamma and dither."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

Codes = tuple[int, int, int]
TOP_CODE = 255


@dataclass(frozen=True)
class Tile:
    """A rectangle of one colour: pixels from the window's lower left, codes red, green, blue."""

    left_px: int
    bottom_px: int
    width_px: int
    height_px: int
    codes: Codes


def draw_tiles(tiles: Sequence[Tile]) -> None:
    """Draw tiles, later ones over earlier ones, by clearing: nothing blends or rounds them."""
    from pyglet import gl

    with _state_kept():
        gl.glEnable(gl.GL_SCISSOR_TEST)
        for tile in tiles:
            gl.glScissor(tile.left_px, tile.bottom_px, tile.width_px, tile.height_px)
            gl.glClearColor(*(code / TOP_CODE for code in tile.codes), 1.0)
            gl.glClear(gl.GL_COLOR_BUFFER_BIT)


@contextmanager
def _state_kept() -> Iterator[None]:
    """Put scissor and clear colour back: PsychoPy sets them once and relies on them."""
    from pyglet import gl

    box, colour = (gl.GLint * 4)(), (gl.GLfloat * 4)()
    gl.glGetIntegerv(gl.GL_SCISSOR_BOX, box)
    gl.glGetFloatv(gl.GL_COLOR_CLEAR_VALUE, colour)
    clipped = gl.glIsEnabled(gl.GL_SCISSOR_TEST)
    try:
        yield
    finally:
        gl.glScissor(*box)
        gl.glClearColor(*colour)
        (gl.glEnable if clipped else gl.glDisable)(gl.GL_SCISSOR_TEST)
