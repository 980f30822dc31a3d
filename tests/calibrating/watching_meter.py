"""A program of its own that plays a photometer before the screen it is shown.

    watching_meter.py FD DISPLAY.toml PLACE.json [READINGS]

It speaks the bundled plain-line protocol on the file descriptor FD. What it reads is the light that
the simulated display DISPLAY.toml gives for the codes that are really on the X display, averaged
over nine pixels round the place in PLACE.json ([x, y] in pixels from the top left), and the share
of the middle's light that the display has there, with the corners' glow. Where WARM.json lies
beside PLACE.json, the display was switched on at `since_s` of the monotonic clock, and warms up
`times` as fast as time passes. After READINGS readings it is unplugged.
"""

from __future__ import annotations

import json
import os
import sys
import time
from pathlib import Path

import numpy as np
from bench_sight import Sight

from calibration.simulated import SimulatedDisplay, load_simulated

APART_PX = 6
FIXED = {b"REMOTE": b"OK", b"UNIT cd/m2": b"OK", b"WHO": b"bench meter, BM-0042"}


def light_cd_m2(display: SimulatedDisplay, sight: Sight, place: Path) -> float:
    x, y = json.loads(place.read_text())
    warm = place.with_name("warm.json")
    reach = 2 * APART_PX + 1
    codes = sight.box(x - APART_PX, y - APART_PX, reach, reach)[::APART_PX, ::APART_PX]
    at = 2 * x / sight.width - 1, 1 - 2 * y / sight.height
    share = display.place_share(*at)
    if warm.exists():
        on = json.loads(warm.read_text())
        share = share * display.warm_share((time.perf_counter() - on["since_s"]) * on["times"])
    return float(np.mean(display.cd_m2(codes)) * share + display.glow_cd_m2(*at))


def main() -> None:
    line, display, place = int(sys.argv[1]), load_simulated(Path(sys.argv[2])), Path(sys.argv[3])
    left = int(sys.argv[4]) if len(sys.argv) > 4 else -1
    sight, rng, held = Sight(), np.random.default_rng(5), b""
    while data := os.read(line, 1024):
        held += data
        while b"\r\n" in held:
            command, _, held = held.partition(b"\r\n")
            if command == b"READ" and left == 0:
                return
            reply = FIXED.get(command)
            if reply is None:
                value = float(display.measured(light_cd_m2(display, sight, place), rng))
                reply, left = f"0 {value:.4f} cd/m2".encode(), left - 1
            os.write(line, reply + b"\r\n")


if __name__ == "__main__":
    main()
