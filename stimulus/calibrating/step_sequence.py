"""The dark and light steps that a photodiode records: live, or the recording read in again."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from calibration.certificate import Instrument
from calibration.instruments.line_photodiode import BAUD, LinePhotodiode
from calibration.instruments.transport import SerialSettings, SerialTransport
from calibration.traces import Trace, read_trace
from protocols.errors import InputError, Interrupted, require_within
from stimulus.calibrating.given import ON_A_LINE, TRACES, Given
from stimulus.calibrating.shapes import BLACK, WHITE, square, whole
from stimulus.calibrating.terminal import ask_to
from stimulus.tiles import Codes
from stimulus.window import StimulusWindow

T = TypeVar("T")
LEVEL_S = 0.2
"""How long each level stands, seconds: 2.5 flashes a second, below the three of WCAG 2.3.1."""

STEPS = 20
LEAD_S = 1.0
BAUD_RANGE = (300, 4_000_000)
OPTIONS = {
    "sampling rate": "--trace-rate HZ",
    "channel": "--trace-channel",
    "full scale": "--trace-scale LOW,HIGH",
}


def recorded_steps(given: Given) -> tuple[Trace, Instrument]:
    """The recording that --trace names; raises InputError for one that cannot be used."""
    path = Path(given.trace or "")
    trace = _option_named(lambda: _read(path, given))
    diode = Instrument(
        kind="photodiode",
        name=f"recording {path.name}",
        serial="",
        relative_uncertainty=0.0,
        simulated=False,
    )
    return trace, diode


def steps_on_a_line(window: StimulusWindow, given: Given) -> tuple[Trace, Instrument]:
    """Show the steps and record them meanwhile from the photodiode that --trace names.

    What is wrong with the line is told before anybody is asked to do anything. Raises InputError
    and InstrumentLost.
    """
    diode = photodiode_on(given.trace or "", given.full_scale)
    try:
        _opened(diode, given)
        _level(window, WHITE)
        ask_to("Put the photodiode on the white square.")
        trace, flips = _option_named(
            lambda: diode.record_while(lambda going: show_steps(window, going))
        )
    finally:
        diode.close()
    if len(flips) < STEPS:
        raise Interrupted("The window was closed.")
    return trace, diode.identity


def photodiode_on(spec: str, full_scale: tuple[float, float] | None) -> LinePhotodiode:
    """The photodiode of `serial:PORT` or `serial:PORT:BAUD`, not started; raises InputError.

    `full_scale` is in the photodiode's own unit.
    """
    port = spec.removeprefix(ON_A_LINE)
    before, _, last = port.rpartition(":")
    baud = BAUD
    if before and last.isdigit():
        port, baud = before, int(last)
        require_within("--trace, speed in baud", baud, *BAUD_RANGE, "Give the instrument's own.")
    if not port:
        raise InputError("--trace", spec, TRACES, "Name the port, such as /dev/ttyACM0.")
    return LinePhotodiode(SerialTransport(port, SerialSettings(baud=baud)), full_scale)


def show_steps(
    window: StimulusWindow, keep_going: Callable[[], bool] = lambda: True
) -> list[float]:
    """Show the square dark and light in turn; returns when each level was flipped, seconds.

    Ends early once told not to keep going, or when the window was closed.
    """
    flips: list[float] = []
    refresh_hz = window.refresh.refresh_hz
    lead, held = round(LEAD_S * refresh_hz), round(LEVEL_S * refresh_hz)
    levels = [BLACK] * lead
    levels += [WHITE if n // held % 2 == 0 else BLACK for n in range(STEPS * held)]
    for number, codes in enumerate([*levels, *[BLACK] * lead]):
        if not keep_going() or window.closed:
            break
        flipped_s = _level(window, codes)
        step, within = divmod(number - lead, held)
        if within == 0 and 0 <= step < STEPS:
            flips.append(flipped_s)
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


def _read(path: Path, given: Given) -> Trace:
    return read_trace(path, given.trace_rate, given.trace_channel, given.full_scale)


def _opened(diode: LinePhotodiode, given: Given) -> None:
    """Start it; an error about the port names --trace."""
    try:
        diode.start()
    except InputError as error:
        if error.parameter != "photometer":
            raise
        todo = error.todo.replace("instrument", "photodiode")
        raise InputError("--trace", given.trace or "", error.allowed, todo) from error


def _option_named(get: Callable[[], T]) -> T:
    """What it gets; an error for what an option could have said names the option."""
    try:
        return get()
    except InputError as error:
        about = f"{error.parameter} {error.todo}"
        option = next((o for word, o in OPTIONS.items() if word in about), None)
        if option is None:
            raise
        todo = f"Add {option}. {error.todo}"
        raise InputError(error.parameter, error.given, error.allowed, todo) from error


def _level(window: StimulusWindow, codes: Codes) -> float:
    size = window.screen.width_px, window.screen.height_px
    return window.tiles([whole(size, BLACK), square(size, codes)])
