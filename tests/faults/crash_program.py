"""Runs virtual exams in forked children that kill themselves at a write boundary, and says so.

A program of its own. Each line of input is a `Run` as JSON, each line of output an `End`. The real
code runs in the child; only the ways to the disk are counted: opening a file for writing, each
write, truncation, fsync, replacing and removing a file. At boundary number `crash_at` the child
writes a part of what it was to write (`piece`, a share) and is gone by SIGKILL.

After a power cut (`power`) what was not yet on disk by fsync is cut at a random byte or turned to
zeros, and the last replacement of a file may not have happened.
"""

from __future__ import annotations

import builtins
import io
import json
import os
import random
import signal
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from protocols.journal import Journal
from protocols.library import load_protocol
from protocols.observer import load_observer
from stimulus.virtual_exam import resume_virtual_exam

sys.path.insert(0, str(Path(__file__).parents[1]))
from records import BEGAN, record

WRITING = frozenset("wax+")
GONE = -2


class Disk:
    """Counts what goes to disk, and pulls the plug."""

    def __init__(self, folder: Path, crash_at: int, piece: float, power: bool) -> None:
        self.folder, self.crash_at, self.piece, self.power = folder, crash_at, piece, power
        self.count = 0
        present = folder.iterdir() if folder.exists() else ()
        self._on_disk = {path.stat().st_ino: path.stat().st_size for path in present}
        self._replaced: tuple[Path, bytes] | None = None
        self._open, self._fsync = io.open, os.fsync
        self._replace, self._unlink = os.replace, os.unlink

    def boundary(self, last_act: Callable[[], Any] = lambda: None) -> None:
        if self.count == self.crash_at:
            self.crash_at = GONE
            last_act()
            if self.power:
                self._lose_what_was_not_synced()
            os.kill(os.getpid(), signal.SIGKILL)
        self.count += 1

    def install(self) -> None:
        builtins.open = io.open = self.open  # type: ignore[assignment]
        os.fsync, os.replace, os.unlink = self.fsync, self.replace, self.unlink

    def open(self, file: Any, mode: str = "r", buffering: int = -1, *rest: Any, **more: Any) -> Any:
        if not WRITING & set(mode) or not self._is_ours(file):
            return self._open(file, mode, buffering, *rest, **more)
        self.boundary()
        raw = CountedFile(self, file, mode.replace("b", "").replace("t", ""))
        if buffering == 0:
            return raw
        return io.BufferedRandom(raw) if "+" in mode else io.BufferedWriter(raw)

    def fsync(self, handle: int) -> None:
        self.boundary()
        self._fsync(handle)
        facts = os.fstat(handle)
        self._on_disk[facts.st_ino] = facts.st_size

    def replace(self, source: Any, target: Any) -> None:
        self.boundary()
        target = Path(target)
        self._replaced = (target, target.read_bytes()) if target.exists() else None
        self._replace(source, target)

    def unlink(self, path: Any, **more: Any) -> None:
        self.boundary()
        self._unlink(path, **more)

    def _is_ours(self, file: Any) -> bool:
        if isinstance(file, int):
            file = os.readlink(f"/proc/self/fd/{file}")
        return str(file).startswith(str(self.folder))

    def _lose_what_was_not_synced(self) -> None:
        draw = random.Random(self.crash_at)
        if self._replaced is not None and draw.random() < 0.5:
            path, content = self._replaced
            path.unlink()
            with self._open(path, "wb") as file:
                file.write(content)
            self._on_disk[path.stat().st_ino] = len(content)
        for path in self.folder.iterdir():
            kept, size = self._on_disk.get(path.stat().st_ino, 0), path.stat().st_size
            if kept < size and path.name == "journal.jsonl":
                _lose(path, draw.randint(kept, size), size if draw.random() < 0.3 else 0)


def _lose(path: Path, kept: int, zeros_up_to: int) -> None:
    os.truncate(path, kept)
    if zeros_up_to > kept:
        os.truncate(path, zeros_up_to)


class CountedFile(io.FileIO):
    """A file whose writes and truncations are boundaries."""

    def __init__(self, disk: Disk, file: Any, mode: str) -> None:
        super().__init__(file, mode)
        self._disk = disk

    def write(self, data: Any) -> int:
        part = bytes(data)[: int(len(data) * self._disk.piece)]
        self._disk.boundary(lambda: super(CountedFile, self).write(part))
        return super().write(data)

    def truncate(self, size: int | None = None) -> int:
        self._disk.boundary()
        return super().truncate(size)


def acknowledge(pipe: int) -> None:
    """From now on say, after each sync, how many answers are safe."""
    append, sync, answers = Journal.append, Journal.sync, [0]

    def counting(self: Journal, event: Any) -> None:
        append(self, event)
        answers[0] += type(event).__name__ == "AnsweredLine"

    def saying(self: Journal) -> None:
        sync(self)
        os.write(pipe, b"%d\n" % answers[0])

    Journal.append, Journal.sync = counting, saying  # type: ignore[method-assign]


def run(wanted: dict[str, Any], pipe: int) -> None:
    """The exam, new or taken up again, until its end or until the plug is pulled."""
    folder = Path(wanted["folder"])
    protocol, observer = load_protocol(wanted["protocol"]), load_observer(Path(wanted["observer"]))
    disk = Disk(folder, wanted["crash_at"], wanted["piece"], wanted["power"])
    acknowledge(pipe)
    disk.install()
    if wanted["resume"]:
        resume_virtual_exam(folder, observer, BEGAN)
    else:
        eyes = ("right", "left")
        record(folder, observer, protocol, seed=wanted["seed"], eyes=eyes, practice=True)
    os.write(pipe, f"boundaries {disk.count}\n".encode())


def in_child(wanted: dict[str, Any]) -> dict[str, Any]:
    """Run it in a forked child; how it ended, answers acknowledged, boundaries passed."""
    read_end, write_end = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read_end)
        try:
            run(wanted, write_end)
        except BaseException as error:  # noqa: BLE001
            os.write(write_end, f"error {type(error).__name__}: {error}\n".encode())
        os._exit(0)
    os.close(write_end)
    with open(read_end, encoding="utf-8") as answer:
        said = answer.read().splitlines()
    _, status = os.waitpid(child, 0)
    counts = [int(line) for line in said if line.isdigit()]
    error = next((line[6:] for line in said if line.startswith("error ")), "")
    passed = next((int(line[11:]) for line in said if line.startswith("boundaries ")), 0)
    return {
        "killed": os.WIFSIGNALED(status),
        "acknowledged": max(counts, default=0),
        "error": error,
        "boundaries": passed,
    }


if __name__ == "__main__":
    for text in sys.stdin:
        print(json.dumps(in_child(json.loads(text))), flush=True)
