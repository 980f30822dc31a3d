"""The display's server went away: the record is ended well before the X library ends the program.

When its connection breaks, libX11 calls one function of ours and then exits; the function may not
return to the program (XSetIOErrorHandler, Xlib programming manual, 11.8.2).
"""

from __future__ import annotations

import ctypes
import ctypes.util
import os
import sys
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager

LOST = "the display was lost"
EXIT_LOST = 1


@contextmanager
def when_display_is_lost(end: Callable[[], None]) -> Iterator[None]:
    """Inside, a lost X display calls `end`, then the program is gone with exit code 1.

    `end` runs in the thread that drew, in the midst of a call to the display: it must not draw.
    """
    set_handler = _setter()
    if set_handler is None:
        yield
        return
    handler = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_void_p)(lambda _: _leave(end))
    before = set_handler(handler)
    try:
        yield
    finally:
        set_handler(before)


def _leave(end: Callable[[], None]) -> int:
    try:
        end()
    except BaseException:  # noqa: BLE001  (nothing above could take it)
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(EXIT_LOST)


def _setter() -> Callable[..., int | None] | None:
    name = ctypes.util.find_library("X11") if sys.platform.startswith("linux") else None
    if name is None:
        return None
    setter = ctypes.CDLL(name).XSetIOErrorHandler
    setter.restype = ctypes.c_void_p
    setter.argtypes = [ctypes.c_void_p]
    return lambda handler: setter(ctypes.cast(handler, ctypes.c_void_p))
