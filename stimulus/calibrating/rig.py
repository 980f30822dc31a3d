"""Loop-back delays: what closes the button's contact is known, when the button says so is heard.

Presses: a byte on a serial output closes the button's contact; cause is the moment the byte is
handed over. Light: the marker square turns white, a photodiode on it closes the same contact. That
stamp holds the button's own delay too, so the median press delay is taken off it: what is left is
the delay from flip to light, and the two can be added.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from calibration.certificate import Instrument
from calibration.instruments.transport import SerialSettings, SerialTransport
from calibration.latency import LONGEST_DELAY_S
from protocols.errors import InputError
from protocols.field import Floats
from stimulus.buttons import Button
from stimulus.calibrating.bench import Delays
from stimulus.calibrating.shapes import BLACK, WHITE, square, whole
from stimulus.clock import clock
from stimulus.tiles import Codes
from stimulus.window import StimulusWindow

BAUD = 115_200
CLOSE = b"\x01"
WHITE_S = 0.1
EVERY_S = (0.25, 0.30)
"""Time between causes, drawn at random: above the longest delay, in step with no frame or poll."""

TRIAL = 5


@dataclass(frozen=True)
class Heard:
    """Causes and the button's stamps, seconds on the shared clock, ascending."""

    causes_s: Floats
    stamps_s: Floats

    @property
    def median_s(self) -> float:
        """Median time from a cause to the first stamp after it."""
        after = np.searchsorted(self.stamps_s, self.causes_s)
        kept = after < len(self.stamps_s)
        return float(np.median(self.stamps_s[after[kept]] - self.causes_s[kept]))


def loop_back(
    window: StimulusWindow, output: SerialTransport, button: Button, count: int, seed: int
) -> Delays:
    """So many presses by the output and so many by the light; both must be open and started.

    Raises InputError when the first few causes of either kind bring no press.
    """
    rng = np.random.default_rng([seed, 77])
    _show(window, BLACK)
    presses = _heard(lambda: _close_contact(output), lambda: None, button, count, rng)
    _refuse_silent(presses, "--rig", "Check that the output closes the button's contact.")
    light = _heard(
        lambda: _show(window, WHITE), lambda: _dark_again(window), button, count, rng
    )
    todo = "Put the photodiode on the white square in the middle, and set its threshold."
    _refuse_silent(light, "photodiode", todo)
    return Delays(
        light.causes_s, light.stamps_s - presses.median_s, presses.causes_s, presses.stamps_s
    )


def rig_port(spec: str) -> str:
    """The port of `serial:PORT`; raises InputError that names --rig for anything else."""
    kind, _, port = spec.partition(":")
    if kind != "serial" or not port:
        raise InputError("--rig", spec, "serial:PORT", "Name the port of the rig's output.")
    return port


def open_output(spec: str) -> SerialTransport:
    """The rig's serial output, open; raises InputError that names --rig."""
    output = SerialTransport(rig_port(spec), SerialSettings(baud=BAUD))
    try:
        output.open()
    except InputError as error:
        todo = error.todo.replace("instrument", "rig")
        raise InputError("--rig", spec, error.allowed, todo) from error
    return output


def rig_identity(spec: str, button: Button) -> Instrument:
    """What the certificate says of the rig: its ends; its limits are those of `latency_part`."""
    return Instrument(
        kind="loop-back rig",
        name=f"output {spec} and a photodiode close {button.name}",
        serial="",
        relative_uncertainty=0.0,
        simulated=False,
    )


def _heard(
    cause: Callable[[], float],
    restore: Callable[[], None],
    button: Button,
    count: int,
    rng: np.random.Generator,
) -> Heard:
    """Let so many causes happen; a trial without any press ends it early."""
    button.presses()
    causes: list[float] = []
    stamps: list[float] = []
    while len(causes) < count and (stamps or len(causes) < TRIAL):
        due_s = clock() + float(rng.uniform(*EVERY_S))
        causes.append(cause())
        restore()
        time.sleep(max(0.0, due_s - clock()))
        stamps += button.presses()
    time.sleep(LONGEST_DELAY_S)
    return Heard(np.array(causes), np.array(stamps + button.presses()))


def _close_contact(output: SerialTransport) -> float:
    asked_s = clock()
    output.write(CLOSE)
    return asked_s


def _dark_again(window: StimulusWindow) -> None:
    time.sleep(WHITE_S)
    _show(window, BLACK)


def _show(window: StimulusWindow, codes: Codes) -> float:
    size = window.screen.width_px, window.screen.height_px
    return window.tiles([whole(size, BLACK), square(size, codes)])


def _refuse_silent(heard: Heard, parameter: str, todo: str) -> None:
    if not len(heard.stamps_s):
        raise InputError(
            parameter,
            f"no press after {len(heard.causes_s)} tries",
            "a press of the button after each",
            todo,
        )
