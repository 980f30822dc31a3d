"""Ways to press each kind of button from outside, for the tests of buttons."""

from __future__ import annotations

import contextlib
import ctypes
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from pty_box import Box

from stimulus.buttons import open_button
from stimulus.buttons.key_listener import KeyListener
from stimulus.buttons.phone_messages import Press, Report, send
from stimulus.clock import clock
from stimulus.contracts.button import Rig


class XWindow:
    """A bare window that has the keyboard, and the server's own test keys to type with."""

    def __init__(self) -> None:
        from Xlib import X
        from Xlib.display import Display

        self._display: Any = Display()
        screen = self._display.screen()
        self._window = screen.root.create_window(
            0, 0, 60, 60, 0, screen.root_depth, event_mask=X.StructureNotifyMask
        )
        self._window.map()
        while self._display.next_event().type != X.MapNotify:
            pass
        self._window.warp_pointer(30, 30)
        self._display.sync()

    @property
    def xid(self) -> int:
        return int(self._window.id)

    def type(self, name: str = "space") -> None:
        self.key(name, down=True)
        self.key(name, down=False)

    def key(self, name: str, *, down: bool) -> None:
        from Xlib import XK, X
        from Xlib.ext import xtest

        code = self._display.keysym_to_keycode(XK.string_to_keysym(name))
        xtest.fake_input(self._display, X.KeyPress if down else X.KeyRelease, code)
        self._display.sync()

    def destroy(self) -> None:
        self._window.destroy()
        self._display.sync()

    def close(self) -> None:
        self._display.close()


class Neighbour:
    """Another program that has an inner window over a window, and takes keys there.

    It asks for the newer kind of key repeat, as drawing libraries do; python-xlib cannot.
    """

    def __init__(self, xid: int) -> None:
        self._x11 = ctypes.CDLL("libX11.so.6")
        self._x11.XOpenDisplay.restype = ctypes.c_void_p
        self._display = ctypes.c_void_p(self._x11.XOpenDisplay(None))
        self._x11.XkbSetDetectableAutoRepeat(self._display, 1, None)
        make = self._x11.XCreateSimpleWindow
        make.argtypes = [ctypes.c_void_p, ctypes.c_ulong, *[ctypes.c_int] * 2]
        make.argtypes += [*[ctypes.c_uint] * 3, *[ctypes.c_ulong] * 2]
        make.restype = ctypes.c_ulong
        inner = ctypes.c_ulong(make(self._display, xid, 0, 0, 60, 60, 0, 0, 0))
        self._x11.XSelectInput(self._display, inner, ctypes.c_long(3))  # keys down and up
        self._x11.XMapWindow(self._display, inner)
        self._x11.XSync(self._display, 0)

    def close(self) -> None:
        self._x11.XCloseDisplay(self._display)


@contextlib.contextmanager
def serial_rig(folder: Path) -> Iterator[Rig]:
    box = Box(folder / "box")
    # nobody presses twice within 100 ms; a busy kernel may hand over a pty's byte 30 ms late
    yield Rig(open_button(f"serial:{box.path}"), box.send, gap_s=0.1)
    box.pull()


@contextlib.contextmanager
def keyboard_rig(folder: Path) -> Iterator[Rig]:
    window = XWindow()
    keys = KeyListener(window.xid)
    keys.start()
    yield Rig(open_button("keyboard", keys), window.type, gap_s=0.01)
    keys.close()
    window.close()


@contextlib.contextmanager
def phone_rig(folder: Path) -> Iterator[Rig]:
    """The station's side of a phone: it tells that all is well, and passes presses on."""
    path, ended = folder / "phone.sock", threading.Event()

    def _tell() -> None:
        while not ended.wait(0.25):
            send(path, Report("", 0.004, "as measured"))

    teller = threading.Thread(target=_tell, daemon=True)
    teller.start()
    # each press is a request of its own over the network; the system keeps ten for a late reader
    yield Rig(open_button(f"phone:{path}"), lambda: send(path, Press(clock())), gap_s=0.03)
    ended.set()
    teller.join()


RIGS = {"serial": serial_rig, "keyboard": keyboard_rig, "phone": phone_rig}
"""Every kind of button, listed once; each is made in a folder of its own."""
