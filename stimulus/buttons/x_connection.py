"""A connection of our own to the X server, which hears the keys of one window.

X lets several programs listen to the keys of a window, so this takes nothing from the library
that owns it.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING

from protocols.errors import InputError
from stimulus.buttons.server_clock import ServerClock, measure

if TYPE_CHECKING:
    from Xlib.display import Display
    from Xlib.xobject.drawable import Window

_USE_SERIAL = "Use a button box instead: --button serial:PORT."


def connect(xid: int) -> tuple[Display, ServerClock]:
    """A connection that gets the keys of window `xid`, and the server's clock.

    The window is given the keyboard: without a window manager nobody else does that. Raises
    InputError where there is no X11 display, or no such window on it.
    """
    display = _open()
    server_clock = measure(display)
    _select_keys(display, xid)
    _take_focus(display, xid)
    return display, server_clock


def _open() -> Display:
    name = os.environ.get("DISPLAY", "")
    if not name or sys.platform in ("win32", "darwin"):
        raise _no_display(name)
    from Xlib.display import Display
    from Xlib.error import ConnectionClosedError, DisplayError, XauthError, XNoAuthError

    try:
        return Display(name)
    except (DisplayError, ConnectionClosedError, XauthError, XNoAuthError, OSError) as error:
        raise _no_display(name) from error


def _no_display(name: str) -> InputError:
    return InputError("display of the keyboard", name, "a running X11 display", _USE_SERIAL)


def _select_keys(display: Display, xid: int) -> None:
    from Xlib import X
    from Xlib.error import CatchError

    failure = CatchError()
    mask = X.KeyPressMask | X.KeyReleaseMask | X.FocusChangeMask | X.StructureNotifyMask
    window = display.create_resource_object("window", xid)
    window.change_attributes(event_mask=mask, onerror=failure)
    display.sync()
    if failure.get_error():
        display.close()
        raise InputError(
            "window of the keyboard", hex(xid), "an open window", "Open the stimulus window first."
        )
    for inner in _inner_windows(window):
        inner.change_attributes(event_mask=X.KeyPressMask | X.KeyReleaseMask, onerror=failure)


def _inner_windows(window: Window) -> Iterator[Window]:
    """All windows inside one: a key goes to the innermost under the pointer that wants keys."""
    for inner in window.query_tree().children:
        yield inner
        yield from _inner_windows(inner)


def _take_focus(display: Display, xid: int) -> None:
    from Xlib import X
    from Xlib.error import CatchError

    not_viewable = CatchError()  # a window that is not shown yet gets the keyboard when it is
    window = display.create_resource_object("window", xid)
    window.set_input_focus(X.RevertToPointerRoot, X.CurrentTime, onerror=not_viewable)
    display.sync()
