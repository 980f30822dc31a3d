"""Ways to put each kind of photometer before a display, for the tests of instruments.

Serial ones speak over a real pseudo-terminal to something outside the driver: a thread that plays
a script, or a program of its own that sees a simulated display.
"""

from __future__ import annotations

import contextlib
import json
import os
import pty
import select
import subprocess
import sys
import threading
import tty
from collections.abc import Iterator
from pathlib import Path

from calibration.contracts.photometer import Rig
from calibration.instruments import open_photometer
from calibration.instruments.line_protocol import LineProtocol, parse_line_protocol
from calibration.instruments.manual import ManualPhotometer, Prompt
from calibration.instruments.photometer import Details, LinePhotometer
from calibration.instruments.transport import SerialTransport
from calibration.simulated import DisplayFile, SimulatedDisplay, load_simulated

HERE = Path(__file__).parent
PLAIN_LINE = HERE.parents[1] / "calibration" / "instruments" / "library" / "plain-line.toml"
DISPLAY_TOML = 'about = "Invented."\ngamma = [2.1, 2.3, 2.4]\nnoise_cd_m2 = 0.001\n'

GREETING: dict[str, list[object]] = {
    "REMOTE": [b"OK\r\n"],
    "UNIT cd/m2": [b"OK\r\n"],
    "WHO": [b"acme, 17\r\n"],
}
SILENT = None
PULL = object()


def plain_line_text(**changes: str) -> str:
    """The bundled protocol without settling; `changes` replace the values of its keys."""
    text = PLAIN_LINE.read_text()
    quick = {"settle_s": "0.0"} | changes
    lines = [
        f"{key} = {quick[key]}" if (key := line.split(" ")[0]) in quick else line
        for line in text.splitlines()
    ]
    return "\n".join(lines) + "\n"


def quick_protocol(**changes: str) -> LineProtocol:
    return parse_line_protocol(plain_line_text(**changes), "plain-line.toml")


class Line:
    """A pseudo-terminal behind a fixed path; `far` is the instrument's end, `near` the port."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.far, self.near = pty.openpty()
        tty.setraw(self.near)
        path.unlink(missing_ok=True)
        path.symlink_to(os.ttyname(self.near))

    def drop_far(self) -> None:
        os.close(self.far)
        self.far = -1

    def close(self) -> None:
        os.close(self.near)
        if self.far >= 0:
            self.drop_far()


class ScriptedMeter:
    """A thread that plays an instrument by a script: command to replies, in order, the last kept.

    A reply is raw bytes, SILENT, PULL, which unplugs it, or a function that gives one of these.
    `heard` are the commands it got.
    """

    def __init__(self, path: Path, script: dict[str, list[object]]) -> None:
        self.line = Line(path)
        self.heard: list[str] = []
        self._script = {key: list(replies) for key, replies in (GREETING | script).items()}
        self._stop_read, self._stop = os.pipe()
        self._thread = threading.Thread(target=self._play, daemon=True)
        self._thread.start()

    def say(self, data: bytes) -> None:
        os.write(self.line.far, data)

    def pull(self) -> None:
        os.write(self._stop, b"x")
        self._thread.join()
        if self.line.far >= 0:
            self.line.drop_far()

    def close(self) -> None:
        self.pull()
        self.line.close()
        os.close(self._stop)
        os.close(self._stop_read)

    def _play(self) -> None:
        held = b""
        while True:
            ready, _, _ = select.select([self.line.far, self._stop_read], [], [])
            if self._stop_read in ready:
                return
            held += os.read(self.line.far, 1024)
            while b"\r\n" in held:
                command, _, held = held.partition(b"\r\n")
                if not self._reply(command.decode("ascii")):
                    return

    def _reply(self, command: str) -> bool:
        self.heard.append(command)
        replies = self._script[command]
        reply = replies.pop(0) if len(replies) > 1 else replies[0]
        if callable(reply):
            reply = reply()
        if reply is PULL:
            self.line.drop_far()
            return False
        if isinstance(reply, bytes):
            os.write(self.line.far, reply)
        return True


@contextlib.contextmanager
def scripted(
    folder: Path, script: dict[str, list[object]], protocol: LineProtocol | None = None
) -> Iterator[tuple[LinePhotometer, ScriptedMeter]]:
    """A driver, not started, and the scripted instrument at the other end of its line."""
    meter = ScriptedMeter(folder / "meter", script)
    spoken = protocol or quick_protocol()
    driver = LinePhotometer(SerialTransport(str(folder / "meter"), spoken.file.line), spoken)
    try:
        yield driver, meter
    finally:
        driver.close()
        meter.close()


class MeterProgram:
    """`meter_program.py` at the far end of a line; `pull` unplugs it."""

    def __init__(self, folder: Path, display_toml: str = DISPLAY_TOML) -> None:
        self.display_path = folder / "display.toml"
        self.display_path.write_text(display_toml)
        self._screen = folder / "screen.json"
        self.show((0, 0, 0))
        self.line = Line(folder / "meter")
        command = [sys.executable, str(HERE / "meter_program.py"), str(self.line.far)]
        self._process = subprocess.Popen(
            [*command, str(self.display_path), str(self._screen)],
            pass_fds=[self.line.far],
            cwd=HERE.parents[1],
        )
        self.line.drop_far()

    def show(self, codes: tuple[int, int, int]) -> None:
        beside = self._screen.with_suffix(".new")
        beside.write_text(json.dumps(codes))
        beside.replace(self._screen)

    def pull(self) -> None:
        self._process.kill()
        self._process.wait()

    def close(self) -> None:
        self.pull()
        self.line.close()


@contextlib.contextmanager
def serial_rig(folder: Path) -> Iterator[Rig]:
    program = MeterProgram(folder)
    (folder / "quick.toml").write_text(plain_line_text(timeout_s="20.0"))
    photometer = open_photometer(f"serial:{program.line.path}:{folder / 'quick.toml'}")
    try:
        yield Rig(photometer, load_simulated(program.display_path), program.show)
    finally:
        photometer.close()
        program.close()


class Person:
    """Somebody who reads a meter before a simulated display and types what it says."""

    def __init__(self, display: SimulatedDisplay) -> None:
        self._display = display
        self._codes = (0, 0, 0)

    def look(self, codes: tuple[int, int, int]) -> None:
        self._codes = codes

    def ask(self, prompt: Prompt) -> str:
        value = float(self._display.cd_m2(self._codes))
        return f"{value:.3f}" if value <= 1000 else "over"


@contextlib.contextmanager
def manual_rig(folder: Path) -> Iterator[Rig]:
    display = SimulatedDisplay(DisplayFile(about="Invented.", gamma=[2.1, 2.3, 2.4]))
    person = Person(display)
    details = Details("hand meter", "HM-1", 0.03)
    yield Rig(ManualPhotometer(person.ask, details), display, person.look)


@contextlib.contextmanager
def simulated_rig(folder: Path) -> Iterator[Rig]:
    path = folder / "display.toml"
    path.write_text(DISPLAY_TOML)
    photometer = open_photometer(f"simulated:{path}", seed=3)
    yield Rig(photometer, load_simulated(path), lambda codes: None)


RIGS = {"serial": serial_rig, "manual": manual_rig, "simulated": simulated_rig}
"""Every kind of photometer, listed once; each is made in a folder of its own."""
