"""The window is closed, the display dies, the machine sleeps: held or ended with one sentence."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from beside import Beside, beside, own_display
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

from protocols.errors import InputError
from protocols.observer import load_observer
from protocols.verify import verify
from stimulus.virtual_exam import resume_virtual_exam

FIRST_LINES = 3
CLOSED = "the stimulus window was closed"
LOST = "the display was lost"
STOPPED = "stopped: {}. Go on with: ripplefield run --resume {}\n"


@pytest.fixture(scope="module")
def desk(display: str, tmp_path_factory: pytest.TempPathFactory) -> Desk:
    return set_up(tmp_path_factory.mktemp("lost"), display)


def begun(desk: Desk, exam: Path) -> subprocess.Popen[str]:
    """An exam with a few answers already."""
    program = desk.run(*desk.new_exam(exam.name, BUTTON, SEED))
    wait_until(lambda: len(data_of(exam, "answered")) >= 3, program, "three answers")
    return program


def waiting(desk: Desk, exam: Path) -> subprocess.Popen[str]:
    """An exam that waits for the press which begins the first eye; nothing is drawn meanwhile."""
    words = desk.new_exam(exam.name, "keyboard", SEED)
    at = words.index("--start")
    program = desk.run(*words[:at], *words[at + 2 :])
    wait_until(lambda: count_lines(exam) >= FIRST_LINES, program, "the first lines")
    time.sleep(1.0)
    return program


Begin = Callable[[Desk, Path], "subprocess.Popen[str]"]


def close_window(desk: Desk) -> None:
    """Destroy the window from outside, by another program."""
    environment = {**os.environ, "DISPLAY": desk.display}
    words = ["xdotool", "search", "--onlyvisible", "--name", "Ripplefield", "windowclose"]
    subprocess.run(words, env=environment, check=True, timeout=20)


def _require_kept(exam: Path, unbroken: Path, reason: str) -> None:
    found = verify(exam)
    assert found.sound, found.problems
    assert data_of(exam, "closed") == [{"reason": reason, "phase": "stopped"}]
    kept = sequence(exam)
    assert kept == sequence(unbroken)[: len(kept)]


def _require_same_end_after_resume(desk: Desk, unbroken: Path, exam: Path) -> None:
    words = ["--resume", exam.name, "--button", BUTTON, "--start", "now"]
    code, _, errors = end_of(desk.run(*words))
    assert code == 0, errors
    assert sequence(exam) == sequence(unbroken)
    assert grades(exam) == grades(unbroken)
    assert verify(exam).sound
    assert [one["after"] for one in data_of(exam, "resumed")] == ["stopped"]


def _require_refused_on_a_virtual_clock(desk: Desk, exam: Path) -> None:
    with pytest.raises(InputError) as error:
        resume_virtual_exam(exam, load_observer(desk.folder / "observer.toml"))
    assert str(error.value) == (
        f'exam folder: got "{exam}"; allowed: an exam that ran on a virtual clock. '
        f"This one was run in a window: ripplefield run --resume {exam}"
    )


@pytest.fixture(scope="module")
def under_way(desk: Desk, unbroken: Path) -> Iterator[Beside]:
    bodies: dict[str, Callable[[], None]] = {
        f"{body.__name__} {begin.__name__}": partial(body, desk, unbroken, begin)
        for body in (_close_window, _lose_display)
        for begin in (begun, waiting)
    }
    bodies["asleep"] = partial(_fall_asleep, desk, unbroken)
    bodies["short stops"] = partial(_stop_for_moments, desk)
    with beside(bodies) as all_of_them:
        yield all_of_them


@pytest.mark.parametrize("begin", [begun, waiting])
def test_window_closed(under_way: Beside, begin: Begin) -> None:
    under_way.end_of(f"_close_window {begin.__name__}")


def _close_window(desk: Desk, unbroken: Path, begin: Begin) -> None:
    exam = desk.folder / f"closed-{begin.__name__}"
    with own_display() as (name, _):
        there = Desk(desk.folder, name)
        program = begin(there, exam)
        close_window(there)
        code, _, errors = end_of(program)
    assert code == 130
    assert errors.endswith(STOPPED.format(CLOSED, exam.name))
    _require_kept(exam, unbroken, CLOSED)
    _require_refused_on_a_virtual_clock(desk, exam)
    if begin is begun:
        _require_same_end_after_resume(desk, unbroken, exam)


@pytest.mark.parametrize("begin", [begun, waiting])
def test_display_lost(under_way: Beside, begin: Begin) -> None:
    under_way.end_of(f"_lose_display {begin.__name__}")


def _lose_display(desk: Desk, unbroken: Path, begin: Begin) -> None:
    exam = desk.folder / f"lost-{begin.__name__}"
    with own_display() as (name, server):
        program = begin(Desk(desk.folder, name), exam)
        server.kill()
        code, _, errors = end_of(program)
    assert code == 1
    assert errors.endswith(STOPPED.format(LOST, exam.name)), errors
    assert "XIO" not in errors
    _require_kept(exam, unbroken, LOST)
    if begin is begun:
        _require_same_end_after_resume(desk, unbroken, exam)


def _sleep(program: subprocess.Popen[str], seconds: float) -> None:
    program.send_signal(signal.SIGSTOP)
    time.sleep(seconds)
    program.send_signal(signal.SIGCONT)


def test_asleep_in_mid_exam(under_way: Beside) -> None:
    """Stopped for longer than 2 s: held with a sentence; the pending presentation is repeated."""
    under_way.end_of("asleep")


def _fall_asleep(desk: Desk, unbroken: Path) -> None:
    exam = desk.folder / "asleep"
    program = begun(desk, exam)
    _sleep(program, 3.0)
    code, _, errors = end_of(program)
    assert code == 0, errors
    [held] = data_of(exam, "held")
    reason, _, rest = held["reason"].partition(" for ")
    assert reason == "The machine stood still"
    assert 2.9 < float(rest.partition(" s,")[0]) < 5.0
    assert rest.partition(" s,")[2] == " asleep or too busy: see that the participant is ready"
    assert f"On hold: {held['reason']}. Go on with key g, or with the button.\n" in errors
    assert [one["after"] for one in data_of(exam, "resumed")] == ["held"]
    assert verify(exam).sound
    assert sequence(exam) == sequence(unbroken)
    assert grades(exam) == grades(unbroken)


def test_short_stops_spoil_what_they_fall_into(under_way: Beside) -> None:
    """Half a second is no reason for a hold; what was shown meanwhile counts for nothing."""
    under_way.end_of("short stops")


def _stop_for_moments(desk: Desk) -> None:
    exam = desk.folder / "moments"
    program = begun(desk, exam)
    for _ in range(4):
        _sleep(program, 0.5)
        time.sleep(0.17)
    code, _, errors = end_of(program)
    assert code == 0, errors
    assert data_of(exam, "held") == []
    assert verify(exam).sound
    shown = data_of(exam, "presented")
    longest = {one["index"]: _longest_s(exam, one["index"]) for one in shown}
    spoiled = {one["index"] for one in shown if one["spoiled"]}
    assert spoiled
    assert {index for index, seconds in longest.items() if seconds > 0.8} <= spoiled
    assert None not in grades(exam)


def _longest_s(exam: Path, index: int) -> float:
    """From onset to the line that records the end of the answer window; 0.3 s by the protocol."""
    lines = journal(exam)
    return next(
        line["t_s"] - line["data"]["onset_s"]
        for line in lines
        if line["kind"] == "presented" and line["data"]["index"] == index
    )
