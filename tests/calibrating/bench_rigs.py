"""Lines and outside programs for the tests of calibrating on a real window."""

from __future__ import annotations

import contextlib
import json
import os
import pty
import subprocess
import sys
import threading
import tty
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
SCREEN_TOML = (
    'about = "Invented screen"\ngamma = [2.05, 2.25, 2.4]\nnoise_relative = 0.003\n'
    "noise_cd_m2 = 0.004\nwidth_px = 640\nheight_px = 480\nwidth_cm = 40.0\n"
)
WINDOW = "640x480"


class Line:
    """A pseudo-terminal behind a fixed path: `far` is the outside's end."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.far, self._near = pty.openpty()
        tty.setraw(self._near)
        path.unlink(missing_ok=True)
        path.symlink_to(os.ttyname(self._near))

    def send(self, data: bytes) -> None:
        os.write(self.far, data)

    def hand_over(self) -> None:
        """The far end belongs to a program now."""
        os.close(self.far)
        self.far = -1

    def close(self) -> None:
        os.close(self._near)
        if self.far >= 0:
            os.close(self.far)


class Outsider:
    """Somebody beside the bench, alive in a thread of its own until `end`."""

    def __init__(self) -> None:
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._live, daemon=True)
        self._thread.start()

    def end(self) -> None:
        self._stop.set()
        self._thread.join()

    def _live(self) -> None:
        raise NotImplementedError


def program(name: str, words: list[str], fds: list[int], **more: object) -> subprocess.Popen[str]:
    environment = {**os.environ, "PYTHONPATH": f"{HERE}:{ROOT}"}
    return subprocess.Popen(
        [sys.executable, str(HERE / name), *words],
        pass_fds=fds,
        env=environment,
        text=True,
        **more,  # type: ignore[call-overload]
    )


@dataclass
class Meter:
    """The watching meter at the end of a line, pointed at a place of the screen."""

    spec: str
    place: Path

    def point_at(self, x_px: int, y_px: int) -> None:
        beside = self.place.with_suffix(".new")
        beside.write_text(json.dumps([x_px, y_px]))
        beside.replace(self.place)


@contextlib.contextmanager
def watching_meter(
    folder: Path,
    readings: int | None = None,
    size: tuple[int, int] = (1280, 720),
    screen: str = SCREEN_TOML,
) -> Iterator[Meter]:
    """A photometer before the middle of the screen; unplugged after so many readings."""
    line = Line(folder / "meter")
    (folder / "screen.toml").write_text(screen)
    protocol = folder / "quick.toml"
    plain = ROOT / "calibration" / "instruments" / "library" / "plain-line.toml"
    protocol.write_text(plain.read_text().replace("settle_s = 0.5", "settle_s = 0.0"))
    meter = Meter(f"serial:{line.path}:{protocol}", folder / "place.json")
    meter.point_at(size[0] // 2, size[1] // 2)
    words = [str(line.far), str(folder / "screen.toml"), str(meter.place)]
    words += [] if readings is None else [str(readings)]
    process = program("watching_meter.py", words, [line.far])
    line.hand_over()
    try:
        yield meter
    finally:
        process.kill()
        process.wait()
        line.close()


@dataclass
class Rig:
    """The loop-back program, its button and its output; `log` is there once it was ended."""

    button: str
    output: str
    _process: subprocess.Popen[str]

    def ended(self) -> list[dict[str, float]]:
        self._process.terminate()
        said, _ = self._process.communicate(timeout=10)
        return [json.loads(line) for line in said.splitlines()]


@contextlib.contextmanager
def loop_back_rig(folder: Path, contact_ms: float, light_ms: float) -> Iterator[Rig]:
    button, output = Line(folder / "button"), Line(folder / "output")
    words = [str(button.far), str(output.far), str(contact_ms), str(light_ms)]
    process = program(
        "rig_program.py", words, [button.far, output.far], stdout=subprocess.PIPE
    )
    try:
        yield Rig(f"serial:{button.path}", f"serial:{output.path}", process)
    finally:
        process.kill()
        process.wait()
        button.close()
        output.close()


def command(words: list[str], folder: Path, typed: str = "") -> subprocess.CompletedProcess[str]:
    """`ripplefield` as a program of its own, in a folder."""
    return subprocess.run(
        [sys.executable, "-c", "from stimulus.cli import main; main()", *words],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        input=typed,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
