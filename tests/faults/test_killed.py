"""Killed at a random moment, twenty times: nothing recorded is lost, and it ends the same.

`kill -9` gives a program no chance to tidy up. What it had written stays with the system, so the
journal is whole up to its last event, and every draw is a function of (seed, index): the exam that
goes on shows what the unbroken one shows.
"""

from __future__ import annotations

import os
import random
import secrets
import shutil
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import msgspec
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from exam_rig import (
    BUTTON,
    SEED,
    Desk,
    count_lines,
    data_of,
    end_of,
    grades,
    journal,
    sequence,
    set_up,
    wait_until,
)

from protocols.files import sha256_hex
from protocols.verify import verify

KILLS = 20
AT_ONCE = 4
LONGEST_DELAY_S = 0.4  # more than one presentation with its answer window


@dataclass(frozen=True)
class Kill:
    """When: some time after a line of the journal is there."""

    number: int
    after_line: int
    delay_s: float


@pytest.fixture(scope="module")
def desk(display: str, tmp_path_factory: pytest.TempPathFactory) -> Desk:
    return set_up(tmp_path_factory.mktemp("killed"), display)


@pytest.fixture(scope="module")
def kills(unbroken: Path) -> list[Kill]:
    seed = int(os.environ.get("RIPPLEFIELD_KILL_SEED", secrets.randbelow(2**32)))
    print(f"\nkill moments: RIPPLEFIELD_KILL_SEED={seed}")
    draw = random.Random(seed)
    last = count_lines(unbroken) - 4  # so that the delay seldom outlives the exam
    return [
        Kill(number, draw.randint(4, last), draw.uniform(0.0, LONGEST_DELAY_S))
        for number in range(KILLS)
    ]


def test_the_unbroken_exam_has_something_of_everything(unbroken: Path) -> None:
    roles = {role for _, role, *_ in sequence(unbroken)}
    assert roles == {"place", "blind_spot", "blank", "full_contrast"}
    assert {verdict for *_, verdict in sequence(unbroken)} >= {"seen", "not_seen"}
    assert grades(unbroken)[1] == 4
    assert len(sequence(unbroken)) >= 10


def test_twenty_kills(desk: Desk, unbroken: Path, kills: list[Kill]) -> None:
    with ThreadPoolExecutor(AT_ONCE) as pool:
        broken = list(pool.map(lambda kill: _kill_and_go_on(desk, unbroken, kill), kills))
    in_mid_presentation = sum(shown > answered for shown, answered in broken)
    print(f"{KILLS} kills, {in_mid_presentation} between a presentation and its answer")


def _kill_and_go_on(desk: Desk, unbroken: Path, kill: Kill) -> tuple[int, int]:
    out = f"exam-{kill.number}"
    folder = desk.folder / out
    _kill(desk, out, kill)
    found = verify(folder)
    assert found.sound, (kill, found.problems)
    assert not found.closed, kill
    events = len(data_of(folder, "presented")), len(data_of(folder, "answered"))
    assert 0 <= events[0] - events[1] <= 1, kill
    assert sequence(folder) == sequence(unbroken)[: events[1]], kill
    code, _, errors = end_of(desk.run("--resume", out, "--button", BUTTON, "--start", "now"))
    assert code == 0, (kill, errors)
    _require_same_end(folder, unbroken, kill)
    return events


def _kill(desk: Desk, out: str, kill: Kill) -> None:
    """Kill it; an exam that was over too soon is run again and killed a little earlier."""
    folder = desk.folder / out
    for earlier in range(4):
        delay_s = kill.delay_s / 4**earlier
        program = desk.run(*desk.new_exam(out, BUTTON, SEED))
        wait_until(lambda: count_lines(folder) >= kill.after_line, program, f"{kill}")
        time.sleep(delay_s)
        program.kill()
        program.communicate()
        if not data_of(folder, "closed"):
            return
        shutil.rmtree(folder)
    raise AssertionError(f"the exam always ended before {kill}")


def _require_same_end(folder: Path, unbroken: Path, kill: Kill) -> None:
    found = verify(folder)
    assert found.sound, (kill, found.problems)
    assert found.closed, kill
    assert sequence(folder) == sequence(unbroken), kill
    assert grades(folder) == grades(unbroken), kill
    assert [one["after"] for one in data_of(folder, "resumed")] == ["crash"], kill
    assert len(journal(folder)) == found.lines


def _as_if_killed_after(unbroken: Path, folder: Path, lines: int, torn: bytes = b"") -> None:
    """A copy of a record as a kill leaves it: its first lines, and a piece of the next."""
    shutil.copytree(unbroken, folder)
    path = folder / "journal.jsonl"
    kept = path.read_bytes().splitlines(keepends=True)[:lines]
    path.write_bytes(b"".join(kept) + torn)
    head = {"n": lines - 1, "sha256": sha256_hex(kept[-1][:-1])}
    (folder / "journal.head").write_bytes(msgspec.json.encode(head) + b"\n")


def test_killed_after_the_last_answer(desk: Desk, unbroken: Path) -> None:
    """Everything was answered, but the record has no end yet: going on writes it."""
    folder = desk.folder / "no-end"
    _as_if_killed_after(unbroken, folder, count_lines(unbroken) - 1)
    assert not data_of(folder, "closed")
    code, _, errors = end_of(desk.run("--resume", "no-end", "--button", BUTTON, "--start", "now"))
    assert code == 0, errors
    assert data_of(folder, "closed") == [{"reason": "finished", "phase": "finished"}]
    assert sequence(folder) == sequence(unbroken)
    assert verify(folder).sound


def test_a_torn_line_is_set_aside_and_named(desk: Desk, unbroken: Path) -> None:
    folder = desk.folder / "torn"
    piece = b'{"n":9,"t_s":1.2'
    _as_if_killed_after(unbroken, folder, 9, piece)
    assert verify(folder).torn_bytes == len(piece)
    code, _, errors = end_of(desk.run("--resume", "torn", "--button", BUTTON, "--start", "now"))
    assert code == 0, errors
    [aside] = folder.glob("journal.torn-*")
    assert aside.read_bytes() == piece
    assert [one["set_aside"] for one in data_of(folder, "resumed")] == [aside.name]
    assert sequence(folder) == sequence(unbroken)
    assert verify(folder).sound


def test_after_a_kill_the_participants_press_takes_it_up(desk: Desk, unbroken: Path) -> None:
    """Without `--start now` the exam that is taken up waits, on hold, for the participant."""
    folder = desk.folder / "press"
    _as_if_killed_after(unbroken, folder, 8)
    code, _, errors = end_of(desk.run("--resume", "press", "--button", BUTTON))
    assert code == 0, errors
    assert [one["reason"] for one in data_of(folder, "held")] == ["the exam is taken up again"]
    assert [one["after"] for one in data_of(folder, "resumed")] == ["crash", "held"]
    assert sequence(folder) == sequence(unbroken)
