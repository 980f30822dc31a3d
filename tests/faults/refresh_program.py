"""`ripplefield WORDS...` on a display that is refreshed at one rate, and then at another.

Stands in for the display alone: each flip of the window waits for the next refresh, as on a screen
that flips in step. The rate changes at the flip that the first word names.
"""

from __future__ import annotations

import sys
import time

RATES_HZ = (60.0, 50.0)
CHANGE_AT_FLIP = int(sys.argv[1])


class Refreshing:
    """Refreshes on a grid of the rate; `wait` comes back at the next one."""

    def __init__(self) -> None:
        self.flips, self.next_s = 0, time.perf_counter()

    def wait(self) -> None:
        self.flips += 1
        frame_s = 1 / RATES_HZ[self.flips > CHANGE_AT_FLIP]
        now_s = time.perf_counter()
        while self.next_s <= now_s:
            self.next_s += frame_s
        time.sleep(max(0.0, self.next_s - now_s - 0.002))
        while time.perf_counter() < self.next_s:
            pass


def main() -> None:
    from psychopy import visual

    from stimulus.priority import go_ahead

    go_ahead()
    refreshing, flip = Refreshing(), visual.Window.flip

    def in_step(self, *args, **more):
        refreshing.wait()
        return flip(self, *args, **more)

    visual.Window.flip = in_step
    from stimulus.cli import main as ripplefield

    ripplefield(sys.argv[2:])


main()
