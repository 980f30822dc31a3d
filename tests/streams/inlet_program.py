"""Records the marker streams of an exam as another program would; one JSON line a marker.

Says "ready" when both streams are open. `utc_s` is the marker's moment on the wall clock, by this
program's own reading of both clocks.
"""

from __future__ import annotations

import json
import sys
import time

import pylsl

NAMES = {"stimulus": "Ripplefield stimulus", "presses": "Ripplefield presses"}
PATIENCE_S = 60.0


def to_wall_s() -> float:
    """Seconds to add to the streams' clock for the wall clock: the closest of many readings."""
    readings = []
    for _ in range(200):
        before = pylsl.local_clock()
        wall = time.time()
        after = pylsl.local_clock()
        readings.append((after - before, wall - (before + after) / 2))
    return min(readings)[1]


def main() -> None:
    inlets = {}
    for kind, name in NAMES.items():
        [found] = pylsl.resolve_byprop("name", name, timeout=PATIENCE_S)
        inlets[kind] = pylsl.StreamInlet(found)
        inlets[kind].open_stream(timeout=PATIENCE_S)
    headers = {kind: inlet.info().as_xml() for kind, inlet in inlets.items()}
    print(json.dumps({"ready": True, "headers": headers}), flush=True)
    corrections = {kind: inlet.time_correction() for kind, inlet in inlets.items()}
    end_s, open_still = time.monotonic() + PATIENCE_S, True
    while open_still and time.monotonic() < end_s:
        for kind, inlet in inlets.items():
            while (sample := inlet.pull_sample(timeout=0.05))[0] is not None:
                stamp_s = sample[1] + corrections[kind]
                says = json.loads(sample[0][0])
                moment = {"stamp_s": stamp_s, "utc_s": stamp_s + to_wall_s()}
                print(json.dumps({"stream": kind, **moment, "says": says}))
                open_still = open_still and says["event"] != "closed"
        sys.stdout.flush()
    sys.stdout.flush()


main()
