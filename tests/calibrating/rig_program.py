"""A program of its own that is a loop-back rig: closes a button when told to, and when light comes.

    rig_program.py BUTTON_FD OUTPUT_FD CONTACT_MS LIGHT_MS > LOG

A byte on OUTPUT_FD closes the button CONTACT_MS later; the middle of the X display turning white
does so LIGHT_MS later, or never if that is below 0. The button writes one byte on BUTTON_FD.

Log: one JSON line a closing, `kind` ("contact" or "light"), `since_s` (when it was told or when it
saw) and `closed_s`. Imports nothing from the project; times are of time.perf_counter, one clock for
all programs on Linux.
"""

from __future__ import annotations

import json
import os
import select
import sys
import time

from bench_sight import Sight

clock = time.perf_counter
WHITE, DARK = 200, 50


def close_button(button: int, kind: str, since_s: float, after_s: float) -> None:
    while clock() < since_s + after_s:
        pass
    closed_s = clock()
    os.write(button, b"\x01")
    print(json.dumps({"kind": kind, "since_s": since_s, "closed_s": closed_s}), flush=True)


def main() -> None:
    button, output = int(sys.argv[1]), int(sys.argv[2])
    contact_s, light_s = (float(word) / 1000 for word in sys.argv[3:5])
    sight, was_white = Sight(), True
    while True:
        if select.select([output], [], [], 0.0005)[0]:
            told_s = clock()
            if not os.read(output, 1):
                return
            close_button(button, "contact", told_s, contact_s)
        green = sight.middle()[1]
        if green > WHITE and not was_white and light_s >= 0:
            close_button(button, "light", clock(), light_s)
        was_white = green > WHITE or (was_white and green >= DARK)


if __name__ == "__main__":
    main()
