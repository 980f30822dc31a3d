"""Exams as programs of their own: started here, followed by their folder, never waited for."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from collections.abc import Sequence
from pathlib import Path

import msgspec

from protocols.errors import InputError, OrderError
from protocols.files import UNREADABLE_JSON
from protocols.journal import JOURNAL
from protocols.write import write_whole
from stimulus.buttons.control_channel import presses_path, send_command
from stimulus.buttons.operator_keys import Command
from stimulus.buttons.own_socket import require_short

EXAMS, RUNS, CURRENT = "exams", "runs", "current.json"
PROGRAM = (sys.executable, "-c", "from stimulus.cli import main; main()")
MOST_WORDS_BYTES = 4000


class Run(msgspec.Struct, frozen=True):
    """A run of an exam: the exam's name, the queue entry, the process."""

    exam: str
    entry_id: str
    pid: int


class Runs:
    """The runs of a data folder, one at a time. Survives the station through `current.json`."""

    def __init__(self, data: Path) -> None:
        self.data = data
        require_short(presses_path(self.socket("X" * 24)), "--data, for the socket of an exam")
        for folder in (EXAMS, RUNS):
            (data / folder).mkdir(parents=True, exist_ok=True)
        self._lock = threading.Lock()
        self._child: subprocess.Popen[bytes] | None = None
        self._current = _read_current(data / RUNS / CURRENT)

    @property
    def last(self) -> Run | None:
        """The run that was started last, whether it goes on or not."""
        return self._current

    def folder(self, exam: str) -> Path:
        """The folder of an exam's record."""
        return self.data / EXAMS / exam

    def is_running(self) -> bool:
        """Whether the last run's program is alive."""
        run = self._current
        if run is None:
            return False
        if self._child is not None and self._child.pid == run.pid:
            return self._child.poll() is None
        return _is_our_program(run)

    def running(self) -> Run | None:
        """The run that goes on now, if any."""
        return self._current if self.is_running() else None

    def start(self, exam: str, entry_id: str, words: Sequence[str]) -> Run:
        """Start `ripplefield run WORDS` from the data folder; raises OrderError beside another."""
        with self._lock:
            other = self.running()
            if other is not None:
                raise OrderError(
                    f"cannot start {exam}: {other.exam} is running; stop it or wait for its end"
                )
            self._child = self._spawn(exam, words)
            self._current = Run(exam, entry_id, self._child.pid)
            write_whole(self.data / RUNS / CURRENT, msgspec.json.encode(self._current))
            return self._current

    def ask(self, command: Command) -> None:
        """Give a command to the running exam; raises OrderError if none hears it."""
        run = self.running()
        if run is None or not send_command(self.socket(run.exam), command):
            raise OrderError("no exam hears the station now; use the keys at its own keyboard")

    def listens(self) -> bool:
        """Whether the running exam has its channel open."""
        run = self.running()
        return run is not None and self.socket(run.exam).exists()

    def last_words(self, exam: str) -> str:
        """What the program of an exam said last, for when it did not start; at most a few lines."""
        path = self.data / RUNS / f"{exam}.err"
        if not path.is_file():
            return ""
        with open(path, "rb") as file:
            file.seek(max(0, path.stat().st_size - MOST_WORDS_BYTES))
            lines = file.read().decode(errors="replace").strip().splitlines()
        errors = [line for line in lines if line.startswith("error: ")]
        return errors[-1].removeprefix("error: ") if errors else " ".join(lines[-2:])

    def did_not_start(self, exam: str) -> bool:
        """Whether an exam's program has ended without a record."""
        run = self.running()
        return not (self.folder(exam) / JOURNAL).exists() and (run is None or run.exam != exam)

    def _spawn(self, exam: str, words: Sequence[str]) -> subprocess.Popen[bytes]:
        out, err = (self.data / RUNS / f"{exam}.{end}" for end in ("out", "err"))
        with open(out, "wb") as output, open(err, "wb") as errors:
            return subprocess.Popen(
                [*PROGRAM, "run", *words, "--control", str(self.socket(exam))],
                cwd=self.data,
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=errors,
                start_new_session=True,
            )

    def socket(self, exam: str) -> Path:
        """Where the program of an exam takes commands."""
        return self.data / RUNS / f"{exam}.sock"


def new_exam_name(data: Path, code: str) -> str:
    """A folder name for one more exam of a code."""
    number = 1
    while (data / EXAMS / f"{code}-{number}").exists() or (
        data / RUNS / f"{code}-{number}.err"
    ).exists():
        number += 1
    return f"{code}-{number}"


def require_exam(data: Path, exam: str) -> Path:
    """The folder of an exam that is there; raises InputError for any other name."""
    folder = data / EXAMS / exam
    plain = bool(exam) and "/" not in exam and "\\" not in exam and "\0" not in exam
    if not plain or exam.startswith(".") or not os.path.isfile(folder / JOURNAL):
        raise InputError(
            "exam", exam[:60], "the name of a recorded exam", "Choose it from the list."
        )
    return folder


def _read_current(path: Path) -> Run | None:
    try:
        return msgspec.json.decode(path.read_bytes(), type=Run)
    except (OSError, *UNREADABLE_JSON):
        return None


def _is_our_program(run: Run) -> bool:
    """Whether the process of an earlier station's run is alive, and not another of that number."""
    try:
        os.kill(run.pid, 0)
        words = Path(f"/proc/{run.pid}/cmdline").read_bytes()
    except ProcessLookupError:
        return False
    except PermissionError:
        return False
    except OSError:
        return not Path("/proc/self").exists()
    return f"{run.exam}.sock".encode() in words
