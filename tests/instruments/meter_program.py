"""A program of its own that plays a photometer: on a line, before a simulated display.

    meter_program.py FD DISPLAY.toml SCREEN.json

It speaks the bundled plain-line protocol on the file descriptor FD and reads what the screen shows,
[red, green, blue] codes, from SCREEN.json. Its range ends at 1000 cd/m2.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

import numpy as np

from calibration.simulated import SimulatedDisplay, load_simulated

TOP_CD_M2 = 1000.0
FIXED = {b"REMOTE": b"OK", b"UNIT cd/m2": b"OK", b"WHO": b"bench meter, BM-0042"}


def reading(display: SimulatedDisplay, screen: Path, rng: np.random.Generator) -> bytes:
    truth = display.cd_m2(json.loads(screen.read_text()))
    value = float(display.measured(truth, rng))
    return b"HIGH" if value > TOP_CD_M2 else f"0 {value:.4f} cd/m2".encode()


def main() -> None:
    line, display, screen = int(sys.argv[1]), load_simulated(Path(sys.argv[2])), Path(sys.argv[3])
    rng, held = np.random.default_rng(5), b""
    while data := os.read(line, 1024):
        held += data
        while b"\r\n" in held:
            command, _, held = held.partition(b"\r\n")
            reply = reading(display, screen, rng) if command == b"READ" else FIXED[command]
            os.write(line, reply + b"\r\n")


if __name__ == "__main__":
    main()
