"""A program of its own that is a photodiode on a serial line, before a screen it watches.

    watching_photodiode.py FD FRAME_FILE RISE_S FALL_S RATE_HZ value|timed [LINES]

It looks at the middle pixel in the memory of an X server started with -fbdir, lets an invented
panel of these time constants follow it, and sends what a photodiode makes of that down FD: one
number a line, or its own time and the number. Its samples are evenly spaced by its own clock, as
those of a converter are; when the system lets it run late it catches up, and what nobody took from
the line for long is lost. After so many LINES it is unplugged. Imports nothing from the project.
"""

from __future__ import annotations

import math
import os
import random
import struct
import sys
import time
from pathlib import Path

import numpy as np

DARK, FULL, NOISE = 20.0, 800.0, 2.0
GAMMA = 2.2
LOST_AFTER_S = 0.2
clock = time.perf_counter


class MiddlePixel:
    """Green of the pixel in the middle of an X window dump that is mapped into memory."""

    def __init__(self, path: Path) -> None:
        head = struct.unpack(">25I", path.read_bytes()[:100])
        size, width, height, line_bytes, colours = head[0], head[4], head[5], head[12], head[19]
        raw = np.memmap(path, np.uint8, "r", offset=size + 12 * colours, shape=(height, line_bytes))
        self._bytes = raw[height // 2, 4 * (width // 2) :]

    def light(self) -> float:
        return float((int(self._bytes[1]) / 255) ** GAMMA)


def main() -> None:
    line, frame = int(sys.argv[1]), Path(sys.argv[2])
    rise_s, fall_s, rate_hz = (float(word) for word in sys.argv[3:6])
    timed, left = sys.argv[6] == "timed", int(sys.argv[7]) if len(sys.argv) > 7 else -1
    pixel, noise = MiddlePixel(frame), random.Random(3)
    shown, sample, began_s = pixel.light(), 0, clock()
    while left != 0:
        while (late_s := clock() - began_s - sample / rate_hz) < 0:
            time.sleep(min(0.0003, -late_s))
        if late_s > LOST_AFTER_S:
            sample += int(late_s * rate_hz)
        wanted = pixel.light()
        tau_s = rise_s if wanted > shown else fall_s
        shown = wanted + (shown - wanted) * math.exp(-1 / rate_hz / tau_s)
        value = DARK + (FULL - DARK) * shown + noise.gauss(0, NOISE)
        words = f"{sample / rate_hz:.6f},{value:.1f}" if timed else f"{value:.1f}"
        os.write(line, f"{words}\r\n".encode())
        sample, left = sample + 1, left - 1


if __name__ == "__main__":
    main()
