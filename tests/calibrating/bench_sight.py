"""What somebody outside sees: pixels of the X display, asked of the server, not of the project.

Imports nothing from the project.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from Xlib import X
from Xlib.display import Display

Image = NDArray[np.uint8]


class Sight:
    """Its own connection to the server; the picture is that of the whole screen."""

    def __init__(self) -> None:
        self.display: Any = Display()
        screen = self.display.screen()
        self._root = screen.root
        self.width, self.height = screen.width_in_pixels, screen.height_in_pixels

    def box(self, left: int, top: int, width: int, height: int) -> Image:
        """Codes of a box, top row first, shape (height, width, 3)."""
        seen = self._root.get_image(left, top, width, height, X.ZPixmap, 0xFFFFFFFF)
        return np.frombuffer(seen.data, np.uint8).reshape(height, width, 4)[..., 2::-1]

    def middle(self) -> tuple[int, int, int]:
        """Codes of the pixel in the middle."""
        red, green, blue = self.box(self.width // 2, self.height // 2, 1, 1)[0, 0]
        return int(red), int(green), int(blue)

    def whole(self) -> Image:
        return self.box(0, 0, self.width, self.height)
