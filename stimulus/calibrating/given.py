"""What the command line gives a bench, and errors that name the option to add."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from protocols.errors import InputError
from stimulus.calibrating.kept import beside

BLIND_SPOT = "blind-spot"
MATCH = "match"
ON_A_LINE = "serial:"
TRACES = "a photodiode's recording, .csv or .wav, or serial:PORT[:BAUD] of a photodiode"
METERS = "serial:PORT[:PROTOCOL.toml], manual, eye or simulated:NAME"


@dataclass(frozen=True)
class Given:
    """The options of `calibrate`, each under its own name; None or "" where it was left out."""

    out: Path
    photometer: str | None = None
    width: tuple[float, ...] | None = None
    height: tuple[float, ...] | None = None
    distance: tuple[float, ...] | str | None = None
    card: str | None = None
    windowed: tuple[int, int] | None = None
    screen: float = 0
    display_serial: str = ""
    meter_name: str | None = None
    meter_serial: str | None = None
    meter_uncertainty: float | None = None
    peak: float | None = None
    settle: float = 0.3
    trace: str | None = None
    trace_rate: float | None = None
    trace_channel: str | None = None
    trace_scale: tuple[float, ...] | None = None
    rig: str | None = None
    button: str | None = None
    warm_up: float | None = None
    contrast_map: bool = False

    @property
    def by_eye(self) -> bool:
        """Whether luminance is matched by eye."""
        return self.photometer == "eye"

    @property
    def full_scale(self) -> tuple[float, float] | None:
        """The lowest and highest value a photodiode's recorder gives; raises InputError."""
        if self.trace_scale is None:
            return None
        if len(self.trace_scale) != 2 or self.trace_scale[0] >= self.trace_scale[1]:
            given = ",".join(f"{value:g}" for value in self.trace_scale)
            raise InputError(
                "--trace-scale", given, "the lowest and the highest value", "Write it like 0,1023."
            )
        return self.trace_scale[0], self.trace_scale[1]

    def beside(self, what: str) -> Path:
        """The file beside the certificate in which `what` is kept until it is in there."""
        return beside(self.out, what)


def refuse_missing(given: Given, steps: tuple[str, ...]) -> None:
    """Raise InputError for options that a step cannot do with or without, before any is begun."""
    if given.card and (given.width or given.height):
        raise InputError(
            "--card", "--card and --width or --height", "one of the two ways", "Leave one out."
        )
    if len(steps) > 1 and given.trace is None:
        raise missing(
            "--trace",
            TRACES,
            "Show the steps for it: ripplefield calibrate flicker. Or measure step by step.",
        )
    _ = given.full_scale
    if given.trace == ON_A_LINE:
        raise InputError("--trace", ON_A_LINE, TRACES, "Name the port, such as /dev/ttyACM0.")
    if given.warm_up is not None and given.photometer == "manual":
        raise InputError(
            "--warm-up",
            "--warm-up and --photometer manual",
            "serial:PORT[:PROTOCOL.toml], which reads by itself",
            "Leave --warm-up out, and let the display warm up for an hour first.",
        )
    for step in steps:
        for option, allowed in _needs(given).get(step, ()):
            raise missing(option, allowed, f"Add {option} to calibrate {step}.")


def missing(option: str, allowed: str, todo: str) -> InputError:
    """An option that was left out."""
    return InputError(option, "", allowed, todo)


@contextmanager
def said_of(option: str) -> Iterator[None]:
    """Put the option's name before an error about what it gave. Raises that InputError anew."""
    try:
        yield
    except InputError as error:
        parameter = f"{option}, {error.parameter}"
        raise InputError(parameter, error.given, error.allowed, error.todo) from error


def _needs(given: Given) -> dict[str, list[tuple[str, str]]]:
    """Step to what it lacks: option and what is allowed there."""
    by_ruler = given.card is None
    lacks = {
        "geometry": [
            ("--width", "readings of the lit width in cm, or --card", by_ruler and not given.width),
            ("--height", "readings of the lit height in cm", by_ruler and not given.height),
            ("--distance", "readings from eye to mark in cm, or blind-spot", not given.distance),
            ("--button", BUTTONS, given.distance == BLIND_SPOT and not given.button),
        ],
        "gamma": [
            ("--photometer", METERS, not given.photometer),
            ("--peak", "the luminance of full white in cd/m2", given.by_eye and not given.peak),
        ],
        "latency": [
            ("--rig", "serial:PORT of the loop-back rig's output", not given.rig),
            ("--button", BUTTONS, not given.button),
        ],
        "uniformity": [
            ("--photometer", "serial:PORT[:PROTOCOL.toml] or manual", not given.photometer)
        ],
    }
    return {step: [(o, a) for o, a, absent in rows if absent] for step, rows in lacks.items()}


BUTTONS = "keyboard or serial:PORT"
