"""Instruments that measure a display, each a transport for bytes apart from a driver for meaning.

`interface.py` is what every instrument can do; `transport.py` carries bytes; `line_protocol.py`
reads a photometer's language from a TOML file, `replies.py` understands it and `photometer.py`
speaks it; `manual.py` takes readings typed by a person; `eye_match.py`, `eye_estimate.py` and
`eye_meter.py` need no meter; `simulated.py` and `simulated_time.py` measure a simulated display.
`measure.py` runs a plan into `reading_log.py`.

Nothing here draws, fits a curve or judges a display. A new kind is one function in
`PHOTOMETER_KINDS` and one line in the contract test, or an entry point
`ripplefield.photometers` of another package; a new photometer on a line is a TOML file.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from calibration.instruments.interface import InstrumentLost, Photometer, Reading, Target
from protocols.errors import InputError
from protocols.plugins import PlugIn, find, names, opened

if TYPE_CHECKING:
    from calibration.instruments.eye_meter import EyeMeter
    from calibration.instruments.photometer import Details

__all__ = [
    "PHOTOMETER_KINDS",
    "InstrumentLost",
    "Photometer",
    "Reading",
    "Target",
    "open_photometer",
    "plug_in_named",
]

Opener = Callable[[str, "Details | None", int], "Photometer | EyeMeter"]

DEFAULT_PROTOCOL = "plain-line"


def open_photometer(
    spec: str, details: Details | None = None, seed: int = 0
) -> Photometer | EyeMeter:
    """The instrument that `spec` names, not started yet.

    `serial:PORT[:PROTOCOL]` (a bundled line protocol or a TOML file; `plain-line` if none is
    named), `simulated:NAME` or `simulated:FILE.toml`, `manual`, or `eye`, which is no photometer
    but matches by eye. `details` are what a person entered of it; `seed` is that of a simulation.
    Raises InputError for an unknown kind, or a detail the kind cannot take.

    >>> open_photometer("serial:/dev/ttyUSB0").name
    'photometer serial:/dev/ttyUSB0'
    """
    kind, _, detail = spec.partition(":")
    plugin = plug_in_named(spec)
    if plugin is not None:
        return _open_plugged(plugin, detail, details)
    if kind not in PHOTOMETER_KINDS:
        raise InputError(
            "photometer",
            spec,
            ", ".join([*PHOTOMETER_KINDS, *names("photometer", PHOTOMETER_KINDS)]),
            "Name one, such as serial:/dev/ttyUSB0 or manual.",
        )
    return PHOTOMETER_KINDS[kind](detail, details, seed)


def plug_in_named(spec: str) -> PlugIn | None:
    """The plug-in that brings this kind of photometer; None for Ripplefield's own kinds."""
    return find("photometer", spec.partition(":")[0], PHOTOMETER_KINDS)


def _open_plugged(plugin: PlugIn, detail: str, details: Details | None) -> Photometer:
    """A plug-in's entry point is called with the detail and what a person entered of the meter."""
    takes = "detail and details"
    found: Photometer = opened(plugin, takes, "a photometer", METHODS, detail, details)
    return found


def _open_serial(detail: str, details: Details | None, seed: int) -> Photometer:
    from calibration.instruments.line_protocol import load_line_protocol
    from calibration.instruments.photometer import LinePhotometer
    from calibration.instruments.transport import SerialTransport

    port, _, protocol = detail.partition(":")
    if not port:
        raise InputError(
            "photometer",
            f"serial:{detail}",
            "serial:PORT or serial:PORT:PROTOCOL.toml",
            "Name the port, such as serial:/dev/ttyUSB0.",
        )
    spoken = load_line_protocol(protocol or DEFAULT_PROTOCOL)
    return LinePhotometer(SerialTransport(port, spoken.file.line), spoken, details)


def _open_simulated(detail: str, details: Details | None, seed: int) -> Photometer:
    from calibration.instruments.simulated import SimulatedPhotometer
    from calibration.simulated import bundled_displays, load_simulated

    if not detail:
        raise InputError(
            "photometer",
            "simulated:",
            ", ".join(f"simulated:{name}" for name in [*bundled_displays(), "FILE.toml"]),
            "Name a simulated display after the colon.",
        )
    name = f"photometer simulated:{Path(detail).name}"
    return SimulatedPhotometer(load_simulated(detail), seed, name=name)


def _open_manual(detail: str, details: Details | None, seed: int) -> Photometer:
    from calibration.instruments.manual import ManualPhotometer, ask_in_terminal

    _refuse_detail("manual", detail)
    return ManualPhotometer(ask_in_terminal, details)


def _open_eye(detail: str, details: Details | None, seed: int) -> EyeMeter:
    from calibration.instruments.eye_meter import EyeMeter

    _refuse_detail("eye", detail)
    return EyeMeter(details)


def _refuse_detail(kind: str, detail: str) -> None:
    if detail:
        raise InputError("photometer", f"{kind}:{detail}", kind, "Write it without a colon.")


METHODS = ("name", "identity", "settle_s", "start", "look_at", "read_cd_m2", "close")
PHOTOMETER_KINDS: dict[str, Opener] = {
    "serial": _open_serial,
    "simulated": _open_simulated,
    "manual": _open_manual,
    "eye": _open_eye,
}
