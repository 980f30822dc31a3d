"""Loading what draws, PsychoPy and pyglet, or saying in words what the machine lacks for it."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from protocols.errors import InputError

LIBRARIES = "sudo apt-get install -y libgl1 libegl1 libglu1-mesa libgl1-mesa-dri libfontconfig1"
"""Gets what windows are drawn with on Debian and Ubuntu."""


def import_psychopy() -> None:
    """Import it, quiet but for what is fatal.

    Raises InputError without a display, or without a library of the system that drawing needs.
    """
    with _said_if_a_library_is_missing():
        from psychopy import logging

        logging.console.setLevel(logging.CRITICAL)
        if sys.platform.startswith("linux") and not _display_answers():
            raise _no_display()
        with said_if_there_is_no_display():
            import psychopy.visual  # noqa: F401
        _load_fonts()


def screens() -> list[Any]:
    """The connected displays, as pyglet tells them; raises InputError when there is none."""
    import pyglet

    with said_if_there_is_no_display():
        return list(pyglet.canvas.get_display().get_screens())


@contextmanager
def said_if_there_is_no_display() -> Iterator[None]:
    """Raises InputError instead of pyglet's own error."""
    try:
        yield
    except Exception as error:
        if type(error).__name__ != "NoSuchDisplayException":
            raise
        raise _no_display() from error


@contextmanager
def _said_if_a_library_is_missing() -> Iterator[None]:
    """Pyglet raises ImportError for a library of the system as for a module of Python."""
    try:
        yield
    except ImportError as error:
        raise InputError(
            "this machine",
            str(error).replace('"', ""),
            "the system's libraries for drawing",
            f"Install them: {LIBRARIES}. Then see: ripplefield doctor",
        ) from error


def _load_fonts() -> None:
    """Now, not when the first words are drawn and the exam has begun."""
    if sys.platform.startswith("linux"):
        from pyglet.font.fontconfig import get_fontconfig

        get_fontconfig()


def _display_answers() -> bool:
    """Tried before psychopy is imported: half an import without a display can't be tried again."""
    from pyglet.libs.x11 import xlib

    opened = xlib.XOpenDisplay(None)
    if opened:
        xlib.XCloseDisplay(opened)
    return bool(opened)


def _no_display() -> InputError:
    return InputError(
        "display",
        os.environ.get("DISPLAY", ""),
        "a running X display named by DISPLAY",
        "Log in to a desktop, or install a virtual screen: apt-get install xvfb",
    )
