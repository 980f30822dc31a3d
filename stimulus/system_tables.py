"""The system's own look-up tables, which stand between code values and the screen.

A desktop's night mode, a colour profile loader or a game may change them at any time; their
SHA-256 tells whether they are the ones the display was measured with.
"""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from typing import Any

import numpy as np

from protocols.errors import InputError

NAME_PROPERTY = "EDID"


@dataclass(frozen=True)
class Output:
    """A lit output of the display server: connector, its tables, identity of its panel.

    `tables_sha256` is None where the driver has no tables; `panel_sha256` where the panel does
    not say what it is.
    """

    connector: str
    tables_sha256: str | None
    panel_sha256: str | None


def read_output(number: int = 0) -> Output:
    """The lit output of this number, in the server's order; raises InputError if there is none."""
    from Xlib import display, error
    from Xlib.ext import randr

    try:
        connection = display.Display()
    except error.DisplayError:
        raise InputError(
            "display",
            os.environ.get("DISPLAY", ""),
            "a running X display named by DISPLAY",
            "Log in to a desktop, or install a virtual screen: apt-get install xvfb",
        ) from None
    try:
        return _lit_outputs(connection, randr)[number]
    except IndexError:
        raise InputError(
            "--screen", number, "the number of a lit screen", "Count screens from 0."
        ) from None
    finally:
        connection.close()


def _lit_outputs(connection: Any, randr: Any) -> list[Output]:
    """Every output that shows something."""
    root = connection.screen().root
    resources = randr.get_screen_resources(root)
    found = []
    for output in resources.outputs:
        info = randr.get_output_info(root, output, resources.config_timestamp)
        if info.crtc:
            found.append(
                Output(
                    str(info.name),
                    _tables_sha256(root, randr, info.crtc),
                    _panel_sha256(connection, randr, output),
                )
            )
    return found


def _tables_sha256(root: Any, randr: Any, crtc: int) -> str | None:
    if randr.get_crtc_gamma_size(root, crtc).size == 0:
        return None
    tables = randr.get_crtc_gamma(root, crtc)
    channels = [np.asarray(t, ">u2").tobytes() for t in (tables.red, tables.green, tables.blue)]
    return hashlib.sha256(b"".join(channels)).hexdigest()


def _panel_sha256(connection: Any, randr: Any, output: int) -> str | None:
    wanted = connection.intern_atom(NAME_PROPERTY)
    root = connection.screen().root
    if wanted not in randr.list_output_properties(root, output)._data["atoms"]:
        return None
    block = randr.get_output_property(root, output, wanted, 0, 0, 256)._data["value"]
    return hashlib.sha256(bytes(block)).hexdigest() if len(block) else None
