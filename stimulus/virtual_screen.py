"""A screen that nobody looks at, for machines that have none: Xvfb, started and stopped here."""

from __future__ import annotations

import ctypes
import os
import select
import shutil
import signal
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from protocols.errors import InputError
from stimulus.priority import go_ahead

START_LIMIT_S = 20.0
PR_SET_PDEATHSIG = 1  # prctl(2): the signal a child gets when its parent ends


@contextmanager
def virtual_screen(
    width_px: int = 1280, height_px: int = 720, frame_dir: Path | None = None
) -> Iterator[str]:
    """The display to draw on: the one at hand, else an Xvfb of this size for as long as needed.

    Sets DISPLAY inside. With `frame_dir`, Xvfb keeps its picture in the file Xvfb_screen0 there,
    so that another program can watch it. Raises InputError when there is no display and no Xvfb.
    """
    at_hand = os.environ.get("DISPLAY")
    if at_hand:
        yield at_hand
        return
    server, name = _start(_command(width_px, height_px, frame_dir))
    os.environ["DISPLAY"] = name
    try:
        yield name
    finally:
        del os.environ["DISPLAY"]
        _stop(server)


def _command(width_px: int, height_px: int, frame_dir: Path | None) -> list[str]:
    program = shutil.which("Xvfb")
    if program is None:
        raise InputError(
            "display",
            "none, and no Xvfb",
            "a running X display, or the program Xvfb",
            "Log in to a desktop, or install it: apt-get install xvfb",
        )
    frame = [] if frame_dir is None else ["-fbdir", str(frame_dir)]
    size = f"{width_px}x{height_px}x24"
    return [program, "-screen", "0", size, "-nolisten", "tcp", "-noreset", *frame]


def _start(command: list[str]) -> tuple[subprocess.Popen[bytes], str]:
    read_end, write_end = os.pipe()
    server = subprocess.Popen(
        [*command, "-displayfd", str(write_end)],
        pass_fds=[write_end],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        preexec_fn=_ahead_and_ended_with_parent,
    )
    os.close(write_end)
    with open(read_end, "rb") as answer:
        ready, _, _ = select.select([answer], [], [], START_LIMIT_S)
        number = answer.readline().decode().strip() if ready else ""
    if number:
        return server, f":{number}"
    _stop(server)
    raise InputError(
        "display", "an Xvfb that did not start", "a running X display", "Try: " + " ".join(command)
    )


def _stop(server: subprocess.Popen[bytes]) -> None:
    server.terminate()
    server.wait()


def _ahead_and_ended_with_parent() -> None:
    go_ahead()
    ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGTERM)
