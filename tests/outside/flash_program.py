"""Shows known things on an X display at known times, to test the observer program.

    python flash_program.py CODE:X:Y:SIDE:SECONDS ... > LOG

Opens a full-screen window of grey code 128 and then shows each thing in turn: a checker of side
SIDE pixels, top left corner at X, Y, that swaps 128 + CODE and 128 - CODE at 20 Hz for SECONDS.
SECONDS 0 draws it once and lets it stand for a second. One JSON line each: `on_s, off_s`.
"""

from __future__ import annotations

import json
import sys
import time
from typing import Any

import numpy as np
from Xlib import X
from Xlib.display import Display

GREY = 128
CHECK = 8  # pixels
REST_S = 0.8


def checker(side: int, code: int) -> bytes:
    rows, columns = np.indices((side, side)) // CHECK
    grey = np.where((rows + columns) % 2, GREY + code, GREY - code).astype(np.uint32)
    return bytes((grey * 0x010101).astype("<u4").tobytes())


class Canvas:
    def __init__(self) -> None:
        self._display: Any = Display()
        screen = self._display.screen()
        self._window = screen.root.create_window(
            0,
            0,
            screen.width_in_pixels,
            screen.height_in_pixels,
            0,
            screen.root_depth,
            background_pixel=GREY * 0x010101,
            event_mask=X.StructureNotifyMask,
        )
        self._gc = self._window.create_gc()
        self._window.map()
        self._display.sync()

    def put(self, x: int, y: int, side: int, data: bytes) -> float:
        rows = max(1, 200_000 // (4 * side))  # a request holds 256 kB
        for top in range(0, side, rows):
            count = min(rows, side - top)
            part = data[4 * side * top : 4 * side * (top + count)]
            self._window.put_image(self._gc, x, y + top, side, count, X.ZPixmap, 24, 0, part)
        self._display.sync()
        return time.perf_counter()

    def clear(self) -> float:
        self._window.clear_area()
        self._display.sync()
        return time.perf_counter()


def show(canvas: Canvas, code: int, x: int, y: int, side: int, seconds: float) -> dict[str, float]:
    pictures = checker(side, code), checker(side, -code)
    on_s = canvas.put(x, y, side, pictures[0])
    if seconds == 0:
        time.sleep(1.0)
    for frame in range(1, round(seconds * 40)):
        time.sleep(max(0.0, on_s + frame / 40 - time.perf_counter()))
        canvas.put(x, y, side, pictures[frame % 2])
    time.sleep(max(0.0, on_s + seconds - time.perf_counter()))
    return {"on_s": on_s, "off_s": canvas.clear()}


def main() -> None:
    canvas = Canvas()
    time.sleep(REST_S)
    for word in sys.argv[1:]:
        code, x, y, side, seconds = word.split(":")
        shown = show(canvas, int(code), int(x), int(y), int(side), float(seconds))
        print(json.dumps(shown), flush=True)
        time.sleep(REST_S)


if __name__ == "__main__":
    main()
