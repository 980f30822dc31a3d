"""The dark and light steps that a photodiode records, and the recording read in again."""

from __future__ import annotations

from pathlib import Path

from calibration.certificate import Instrument
from calibration.traces import Trace, read_trace
from protocols.errors import InputError
from stimulus.calibrating.given import Given
from stimulus.calibrating.shapes import BLACK, WHITE, square, whole
from stimulus.calibrating.terminal import ask_to
from stimulus.tiles import Codes
from stimulus.window import StimulusWindow

LEVEL_S = 0.2
"""How long each level stands, seconds: 2.5 flashes a second, below the three of WCAG 2.3.1."""

STEPS = 20
LEAD_S = 1.0
OPTIONS = {"sampling rate": "--trace-rate HZ", "channel": "--trace-channel"}


def recorded_steps(given: Given) -> tuple[Trace, Instrument]:
    """The recording that --trace names; raises InputError for one that cannot be used."""
    path = Path(given.trace or "")
    trace = _read(path, given)
    diode = Instrument(
        kind="photodiode",
        name=f"recording {path.name}",
        serial="",
        relative_uncertainty=0.0,
        simulated=False,
    )
    return trace, diode


def _read(path: Path, given: Given) -> Trace:
    """The trace; an error for what an option could have said names the option."""
    try:
        return read_trace(path, given.trace_rate, given.trace_channel)
    except InputError as error:
        option = next((o for word, o in OPTIONS.items() if word in error.parameter), None)
        if option is None:
            raise
        todo = f"Add {option}. {error.todo}"
        raise InputError(error.parameter, error.given, error.allowed, todo) from error


def show_steps(window: StimulusWindow) -> list[float]:
    """Show the square dark and light in turn; returns when each level was flipped, seconds."""
    refresh_hz = window.refresh.refresh_hz
    for _ in range(round(LEAD_S * refresh_hz)):
        _level(window, BLACK)
    flips = []
    for number in range(STEPS):
        for frame in range(round(LEVEL_S * refresh_hz)):
            flipped_s = _level(window, BLACK if number % 2 else WHITE)
            if frame == 0:
                flips.append(flipped_s)
    for _ in range(round(LEAD_S * refresh_hz)):
        _level(window, BLACK)
    return flips


def show_for_recording(window: StimulusWindow, given: Given) -> InputError:
    """Ask for a recorder, show the steps, and say what to do with what was recorded."""
    _level(window, WHITE)
    ask_to("Put the photodiode on the white square and start recording.")
    show_steps(window)
    return InputError(
        "--trace",
        "",
        "the recording of the steps that were just shown, .csv or .wav",
        f"Save it, then: ripplefield calibrate flicker --out {given.out} --trace FILE",
    )


def _level(window: StimulusWindow, codes: Codes) -> float:
    size = window.screen.width_px, window.screen.height_px
    return window.tiles([whole(size, BLACK), square(size, codes)])
