"""Reads a window's picture back from the X server: what is on it, not what was asked for."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

ALL_PLANES = 0xFFFFFFFF


class PictureReader:
    """Its own connection to the display, so that reading never disturbs the drawing."""

    def __init__(self, xid: int, width_px: int, height_px: int) -> None:
        from Xlib import display

        self._display = display.Display()
        self._window = self._display.create_resource_object("window", xid)
        self._size = (width_px, height_px)

    def read(self) -> NDArray[np.uint8]:
        """Code values, top row first, shape (H, W, 3)."""
        from Xlib import X

        width, height = self._size
        image = self._window.get_image(0, 0, width, height, X.ZPixmap, ALL_PLANES)
        cells = np.frombuffer(image.data, np.uint8).reshape(height, width, 4)
        return cells[..., 2::-1]

    def close(self) -> None:
        """Close the connection."""
        self._display.close()
