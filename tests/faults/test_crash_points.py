"""Killed, or cut from power, at 200 random write boundaries: nothing acknowledged is lost.

An answer is acknowledged when `Journal.sync` has come back: then it is on disk by fsync(2) (POSIX:
"shall not return until the system has completed that action"). Every exam is taken up again, half
of them after a second crash during the resume, and ends as the unbroken one does.
"""

from __future__ import annotations

import json
import os
import random
import secrets
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from exam_rig import OBSERVER, PATTERN, PROTOCOL, count_lines, data_of, sequence

from protocols.verify import verify

POINTS = 200
SEED = 6
NEVER = -1
FIRST_LINES = 3  # opened, display, caution
MEMORY = Path("/dev/shm")
End = dict[str, Any]
LEFT_TOO = """
[left]
centre_db = 18.0

[pressing]"""


class Crasher:
    """The crash program, to be asked for one run after the other."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        (folder / "tiny.toml").write_text(PROTOCOL)
        (folder / "four.toml").write_text(PATTERN)
        (folder / "observer.toml").write_text(OBSERVER.replace("[pressing]", LEFT_TOO))
        program = Path(__file__).parent / "crash_program.py"
        self._program = subprocess.Popen(
            [sys.executable, str(program)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def run(self, out: str, crash_at: int = NEVER, piece: float = 0.0, **how: Any) -> End:
        wanted = {
            "folder": str(self.folder / out),
            "protocol": str(self.folder / "tiny.toml"),
            "observer": str(self.folder / "observer.toml"),
            "crash_at": crash_at,
            "piece": piece,
            "power": how.get("power", False),
            "resume": how.get("resume", False),
            "seed": SEED,
        }
        assert self._program.stdin is not None
        assert self._program.stdout is not None
        self._program.stdin.write(json.dumps(wanted) + "\n")
        self._program.stdin.flush()
        end: End = json.loads(self._program.stdout.readline())
        return end

    def close(self) -> None:
        assert self._program.stdin is not None
        self._program.stdin.close()
        self._program.wait(20)


@dataclass(frozen=True)
class Whole:
    """The unbroken exam: its folder, and how many boundaries it and its opening have."""

    folder: Path
    boundaries: int
    opening: int


@pytest.fixture(scope="module")
def crasher(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Crasher]:
    """In memory where the system has a disk there: what a cut loses is worked out in any case."""
    if not MEMORY.is_dir():
        yield from _crasher(tmp_path_factory.mktemp("crashes"))
        return
    with tempfile.TemporaryDirectory(dir=MEMORY, prefix="ripplefield-") as folder:
        yield from _crasher(Path(folder))


def _crasher(folder: Path) -> Iterator[Crasher]:
    found = Crasher(folder)
    yield found
    found.close()


@pytest.fixture(scope="module")
def whole(crasher: Crasher) -> Whole:
    end = crasher.run("whole")
    assert (end["killed"], end["error"]) == (False, ""), end
    return Whole(crasher.folder / "whole", end["boundaries"], _opening(crasher))


def _opening(crasher: Crasher) -> int:
    """The first boundary after which the folder's first lines are on disk."""
    for boundary in range(100):
        end = crasher.run(f"opening-{boundary}", boundary)
        assert end["killed"]
        if count_lines(crasher.folder / f"opening-{boundary}") > FIRST_LINES:
            return boundary
    raise AssertionError("the exam never began")


def test_the_whole_exam_has_something_of_everything(whole: Whole) -> None:
    roles = {role for _, role, *_ in sequence(whole.folder)}
    assert roles == {"place", "blind_spot", "blank", "full_contrast"}
    assert [one["eye"] for one in data_of(whole.folder, "eye")] == ["right", "left"]
    assert verify(whole.folder).sound
    print(f"\n{whole.boundaries} write boundaries, {whole.opening} of them in the opening")
    assert whole.boundaries > 200


def test_two_hundred_crashes(crasher: Crasher, whole: Whole) -> None:
    seed = int(os.environ.get("RIPPLEFIELD_CRASH_SEED", secrets.randbelow(2**32)))
    print(f"\ncrash points: RIPPLEFIELD_CRASH_SEED={seed}")
    draw, met = random.Random(seed), Counter[str]()
    for number in range(POINTS):
        power = bool(number % 2)
        at = draw.randint(whole.opening, whole.boundaries - 1)
        end = crasher.run(f"e{number}", at, draw.random(), power=power)
        assert end["killed"], (number, end)
        folder = crasher.folder / f"e{number}"
        _require_kept(folder, whole, end, (seed, number, at), met)
        if number % 4 > 1:
            met["crashed again"] += 1
            at = draw.randint(0, 60)
            again = crasher.run(folder.name, at, draw.random(), power=power, resume=True)
            _require_kept(folder, whole, again, (seed, number, at, "again"), met)
        _require_same_end(crasher, folder, whole, (seed, number, at), met)
    print(dict(met))
    assert met["same end"] == POINTS
    assert met["torn"] > 10
    assert met["unconfirmed"] > 10


def _require_kept(
    folder: Path, whole: Whole, end: End, what: object, met: Counter[str]
) -> None:
    found = verify(folder)
    assert found.sound, (what, found.problems)
    kept = sequence(folder)
    assert len(kept) >= end["acknowledged"], what
    assert kept == sequence(whole.folder)[: len(kept)], what
    met["torn"] += found.torn_bytes > 0
    met["unconfirmed"] += found.unconfirmed > 0
    met["acknowledged answers"] += end["acknowledged"]


def _require_same_end(
    crasher: Crasher, folder: Path, whole: Whole, what: object, met: Counter[str]
) -> None:
    end = crasher.run(folder.name, resume=True)
    if end["error"]:
        todo = f"Nothing is left to do: ripplefield grade {folder}"
        assert end["error"] == (
            f'InputError: --resume: got "{folder}"; allowed: an exam that is not finished. {todo}'
        ), what
        met["had ended"] += 1
    found = verify(folder)
    assert found.sound, (what, found.problems)
    assert (found.closed, found.torn_bytes) == (True, 0), what
    assert sequence(folder) == sequence(whole.folder), what
    met["same end"] += 1


def test_every_boundary_of_the_opening(crasher: Crasher, whole: Whole) -> None:
    """Before the first lines are written there is nothing to lose and nothing to go on with."""
    said = Counter[str]()
    for boundary in range(whole.opening):
        folder = crasher.folder / f"opening-{boundary}"
        begun = count_lines(folder) == FIRST_LINES
        end = crasher.run(folder.name, resume=True)
        assert begun == (end["error"] == ""), end
        if begun:
            assert sequence(folder) == sequence(whole.folder)
        said[end["error"].replace(str(folder), "DIR")] += 1
    journal = 'InputError: exam folder: got "DIR"; allowed: a folder that holds journal.jsonl. '
    assert set(said) == {
        journal + "Name the folder an exam was written to.",
        'InputError: --resume: got "DIR"; allowed: a record with its first lines. '
        "The exam ended before it began; start a new one.",
        "",
    }
