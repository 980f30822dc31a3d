"""A program that tries out window, mark and button as an exam would, and says what it found.

`python -m stimulus.station.probe SETTINGS.json`: the mark appears `SHOWINGS` times after waits
that cannot be guessed, and a press is due each time. That shows in one go that the mark is seen and
that the button arrives. Findings go to standard output, one JSON object a line.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING

import msgspec
import numpy as np

from protocols.errors import RipplefieldError
from stimulus.station.checks.outcome import Outcome, bad, good

if TYPE_CHECKING:
    from stimulus.runner import Bench, Setup
    from stimulus.station.settings import Settings

SHOWINGS = 3
WAIT_S = (1.0, 2.5)
DUE_S = 3.0
EARLIEST_S = 0.1
SLOWEST_MEDIAN_S = 1.0
POLL_S = 0.002
LEAST_MARK_CONTRAST = 0.1
WORDS = (
    "A check before we begin",
    "Watch the middle of the screen.",
    "Each time the mark appears, press the button.",
)


def main(path: str) -> int:
    """Try everything out; exit 0 when it ran to its end, whatever it found."""
    from stimulus.station.settings import Settings

    settings = msgspec.json.decode(Path(path).read_bytes(), type=Settings)
    try:
        for outcome in outcomes(settings):
            print(msgspec.json.encode(outcome).decode(), flush=True)
    except RipplefieldError as error:
        todo = getattr(error, "todo", "Mend it, then try again.")
        failed = bad("screen", "Display and window", str(error), todo)
        print(msgspec.json.encode(failed).decode(), flush=True)
    return 0


def outcomes(settings: Settings) -> Iterator[Outcome]:
    """Findings as they come; raises InputError where an exam could not start either."""
    from protocols.library import load_protocol
    from stimulus.runner import open_bench
    from stimulus.station.settings import protocol_word

    protocol = load_protocol(protocol_word(settings))
    setup = _setup(settings)
    with open_bench(protocol, setup, 0) as bench:
        yield _screen(bench, setup)
        yield _refresh(bench)
        yield _mark(bench)
        yield _button(bench)


def _setup(settings: Settings) -> Setup:
    from calibration.geometry import screen_of_width
    from stimulus.certified import load_for_running, screen_of
    from stimulus.runner import Setup
    from stimulus.station.settings import DISPLAYS, button_word
    from stimulus.window import display_size_px

    full_screen, button = not settings.windowed, button_word(settings)
    if settings.certificate:
        found = load_for_running(Path(DISPLAYS) / settings.certificate)
        return Setup(screen_of(found), full_screen, button, settings.screen, found)
    if full_screen:
        width_px, height_px = display_size_px(settings.screen)
    else:
        width_px, height_px = (int(part) for part in settings.windowed.split("x"))
    screen = screen_of_width(width_px, height_px, settings.screen_width_cm, settings.distance_cm)
    return Setup(screen, full_screen, button, settings.screen)


def _screen(bench: Bench, setup: Setup) -> Outcome:
    shown = bench.display
    size = f"{shown.width_px} x {shown.height_px} px at {shown.distance_cm:g} cm"
    name, title = "screen", "Display and window"
    if setup.certificate is None:
        return good(name, title, f"The window opens: {size}. No certificate to compare it with.")
    return good(name, title, f"The window opens and is the display that was certified: {size}.")


def _refresh(bench: Bench) -> Outcome:
    refresh, name, title = bench.window.refresh, "refresh", "Refresh"
    said = f"{refresh.refresh_hz:.2f} Hz"
    if not refresh.display_locked:
        return bad(name, title, f"{said}, paced by software: flips do not wait for the display.",
                   "Switch on vertical synchronisation, switch off desktop effects; a virtual "
                   "screen is for trials only.")  # fmt: skip
    sd_ms = 1000 * refresh.interval_sd_s
    return good(name, title, f"{said}, locked to the display, intervals vary by {sd_ms:.2f} ms.")


def _mark(bench: Bench) -> Outcome:
    """Reads the window back with and without the mark."""
    name, title = "mark", "Fixation mark"
    with_mark = _around_mark(bench, mark=True)
    without = _around_mark(bench, mark=False)
    differs = np.abs(with_mark - without).max(axis=-1)
    pixels, contrast = int((differs > 0).sum()), float(differs.max()) / 255
    said = f"{pixels} pixels of the window change with it, by up to {contrast:.0%} of the range"
    if contrast < LEAST_MARK_CONTRAST:
        return bad(name, title, f"{said}: it does not show.", "Restart the display.")
    return good(name, title, f"{said}.".replace("%", " %"))


def _around_mark(bench: Bench, mark: bool) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    from stimulus.clock import clock

    bench.window.tiles([], mark=mark)
    end_s = clock() + 0.1
    while clock() < end_s:
        time.sleep(POLL_S)
    return np.asarray(bench.window.read_back(), float)


def _button(bench: Bench) -> Outcome:
    """Shows the mark after random waits; a press is due each time."""
    name, title = "button", f"Button ({bench.button.name})"
    times_s, early, missed = _pressed(bench)
    told = ", ".join(f"{1000 * t:.0f}" for t in times_s)
    said = (
        f"{len(times_s)} of {SHOWINGS} appearances of the mark were answered"
        f"{f', after {told} ms' if told else ''}; presses are stamped to "
        f"{1000 * bench.button.resolution_s:.1f} ms."
    )
    if missed or early:
        extra = f" {early} presses came at nothing." if early else ""
        return bad(name, title, said + extra, "Press once each time the mark appears. If you did: "
                   "check the cable and the button under This station.")  # fmt: skip
    if median(times_s) > SLOWEST_MEDIAN_S:
        return bad(name, title, said, "Slow: look at the middle, or check the button's delay.")
    return good(name, title, said)


def _pressed(bench: Bench) -> tuple[list[float], int, int]:
    """Response times, presses while there was no mark, appearances without a press."""
    random = np.random.default_rng()
    bench.window.message(WORDS)
    _listen(bench, 3.0)
    times_s, early, missed = [], 0, 0
    for _ in range(SHOWINGS):
        bench.window.tiles([])
        early += len(_listen(bench, float(random.uniform(*WAIT_S))))
        onset_s = bench.window.tiles([], mark=True)
        _tell_simulated(bench, onset_s)
        pressed = [t - onset_s for t in _listen(bench, DUE_S, until_first=True)]
        if pressed and pressed[0] >= EARLIEST_S:
            times_s.append(pressed[0])
        else:
            early, missed = early + len(pressed), missed + (not pressed)
    return times_s, early, missed


def _tell_simulated(bench: Bench, onset_s: float) -> None:
    from stimulus.buttons.simulated import SimulatedButton

    if isinstance(bench.button, SimulatedButton):
        bench.button.press_at([onset_s + bench.button.model.reaction.mean_s])


def _listen(bench: Bench, seconds: float, until_first: bool = False) -> list[float]:
    from stimulus.clock import clock

    end_s, found = clock() + seconds, bench.button.presses()[:0]
    while clock() < end_s and not (until_first and found):
        time.sleep(POLL_S)
        found += bench.button.presses()
    return found


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
