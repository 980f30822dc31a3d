"""Buttons: how a participant says "seen", and how the operator says "stop".

`interface.py` is what every button can do; `inbox.py` carries presses from a listening thread to
whoever asks; `serial_box.py` and `keyboard.py` are real buttons; `operator_keys.py` reads the
operator's keys, `control_channel.py` takes the same commands from another program;
`phone.py` takes a phone's presses from the station, which measures their delay;
`key_listener.py`, `x_connection.py`, `server_clock.py` are the X11 side of the keyboard.

Every button stamps presses on the clock of `stimulus.clock`, apart from the frame loop. Nothing
here draws. A new kind is one function in `BUTTON_KINDS` and one line in the contract test, or an
entry point `ripplefield.buttons` of another package.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from protocols.errors import InputError
from protocols.plugins import PlugIn, find, names, opened
from stimulus.buttons.interface import Button, ButtonLost

if TYPE_CHECKING:
    from stimulus.buttons.key_listener import KeyListener

__all__ = [
    "BUTTON_KINDS",
    "Button",
    "ButtonLost",
    "Opener",
    "open_button",
    "plug_in_named",
    "require_button",
]

Opener = Callable[[str, "KeyListener | None"], Button]


def open_button(spec: str, keys: KeyListener | None = None) -> Button:
    """The button that `spec` names, not started yet.

    `spec` is KIND or KIND:DETAIL, such as `keyboard` or `serial:/dev/ttyUSB0`. `keys` listens to
    the stimulus window; only the keyboard needs it. Raises InputError for an unknown kind or a
    detail that the kind cannot take.

    >>> open_button("serial:/dev/ttyUSB0").name
    'serial:/dev/ttyUSB0'
    """
    kind, _, detail = spec.partition(":")
    plugin = plug_in_named(spec)
    if plugin is not None:
        return _open_plugged(plugin, detail)
    if kind not in BUTTON_KINDS:
        known = ", ".join([*BUTTON_KINDS, *names("button", BUTTON_KINDS)])
        raise InputError("button", spec, known, "Name a button, such as serial:/dev/ttyUSB0.")
    return BUTTON_KINDS[kind](detail, keys)


def plug_in_named(spec: str) -> PlugIn | None:
    """The plug-in that brings this kind of button; None for Ripplefield's own kinds."""
    return find("button", spec.partition(":")[0], BUTTON_KINDS)


def _open_plugged(plugin: PlugIn, detail: str) -> Button:
    """A plug-in's entry point is called with what stands after the colon, and gives a Button."""
    found: Button = opened(plugin, "the detail after the colon", "a button", METHODS, detail)
    return found


def require_button(spec: str) -> None:
    """Raise InputError for a button that cannot be, before any window is opened for it."""
    if spec != "keyboard":
        open_button(spec)


def _open_keyboard(detail: str, keys: KeyListener | None) -> Button:
    from stimulus.buttons.keyboard import Keyboard

    if detail:
        raise InputError("button", f"keyboard:{detail}", "keyboard", "Write it without a colon.")
    if keys is None:
        raise InputError(
            "keys", keys, "a listener on the stimulus window", "Open the window before the button."
        )
    return Keyboard(keys)


def _open_serial(detail: str, keys: KeyListener | None) -> Button:
    from stimulus.buttons.serial_box import SerialBox

    if not detail:
        raise InputError(
            "button", "serial:", "serial:PORT", "Name the port, such as serial:/dev/ttyUSB0."
        )
    return SerialBox(detail)


def _open_simulated(detail: str, keys: KeyListener | None) -> Button:
    from stimulus.buttons.simulated import SimulatedButton

    if not detail:
        raise InputError(
            "button", "simulated:", "simulated:FILE.toml", "Name an observer file after the colon."
        )
    return SimulatedButton(detail)


def _open_phone(detail: str, keys: KeyListener | None) -> Button:
    from pathlib import Path

    from stimulus.buttons.phone import PhoneButton

    if not detail:
        todo = "Let the station start the exam: it measures the phone first."
        raise InputError("button", "phone", "phone:SOCKET, from the station", todo)
    return PhoneButton(Path(detail))


METHODS = ("name", "start", "presses", "recover", "close")
BUTTON_KINDS: dict[str, Opener] = {
    "keyboard": _open_keyboard,
    "serial": _open_serial,
    "simulated": _open_simulated,
    "phone": _open_phone,
}
