"""The button box is pulled out in mid-exam: the exam holds, says so, loses nothing and goes on."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from beside import Beside, beside, own_display
from exam_rig import Desk, count_lines, data_of, end_of, grades, sequence, set_up, wait_until
from pty_box import Box

from protocols.verify import verify

SEED = 11
EXAM = "exam"
Body = Callable[[Desk, Box], None]


@pytest.fixture(scope="module")
def under_way(display: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Beside]:
    bodies = (_hold_and_plug_in, _pull_twice, _stop_and_resume)
    folders = {body.__name__: tmp_path_factory.mktemp("box") for body in bodies}
    with beside({b.__name__: partial(_with_box, b, folders[b.__name__]) for b in bodies}) as them:
        yield them


def _with_box(body: Body, folder: Path) -> None:
    with own_display() as (name, _):
        body(set_up(folder, name), Box(folder / "box"))


class Said:
    """What a program writes to its errors, line by line while it runs."""

    def __init__(self, program: subprocess.Popen[str]) -> None:
        self._lines: list[str] = []
        self._reader = threading.Thread(target=self._read, args=(program.stderr,), daemon=True)
        self._reader.start()

    def _read(self, stream: Iterator[str]) -> None:
        self._lines.extend(iter(stream))

    def __contains__(self, text: str) -> bool:
        return any(text in line for line in [*self._lines])

    def count(self, text: str) -> int:
        return sum(text in line for line in [*self._lines])

    def all(self) -> str:
        self._reader.join(10)
        return "".join(self._lines)


def key(desk: Desk, name: str) -> None:
    subprocess.run(
        ["xdotool", "key", name],
        env={**os.environ, "DISPLAY": desk.display},
        check=True,
        timeout=20,
    )


def pulled_in_mid_exam(desk: Desk, box: Box) -> subprocess.Popen[str]:
    program = desk.run(*desk.new_exam(EXAM, f"serial:{box.path.name}", SEED))
    folder = desk.folder / EXAM
    wait_until(lambda: len(data_of(folder, "answered")) >= 4, program, "four answers")
    box.pull()
    return program


def test_hold_plug_in_and_go_on(under_way: Beside) -> None:
    under_way.end_of("_hold_and_plug_in")


def _hold_and_plug_in(desk: Desk, box: Box) -> None:
    program = pulled_in_mid_exam(desk, box)
    said, folder = Said(program), desk.folder / EXAM
    reason = "The button serial:box is gone: plug it in again to go on, or stop the exam"
    hold = f"On hold: {reason}. Go on with key g, or with the button."
    wait_until(lambda: hold in said, program, "the message")
    wait_until(lambda: len(data_of(folder, "held")) == 1, program, "the hold on record")
    shown_at_hold = len(data_of(folder, "presented"))
    key(desk, "g")
    wait_until(
        lambda: "The button does not answer yet: plug it in first." in said, program, "patience"
    )
    assert len(data_of(folder, "presented")) == shown_at_hold
    box.plug()
    wait_until(lambda: "The button is back. Go on with key g" in said, program, "the button")
    box.send()
    assert program.wait(60) == 0, said.all()
    assert "Traceback" not in said.all()
    _require_nothing_lost(folder)
    assert [one["after"] for one in data_of(folder, "resumed")] == ["held"]
    assert data_of(folder, "held")[0]["reason"] == f"{reason}."


def test_pulled_twice_in_one_hold_and_gone_on_with_the_operators_key(under_way: Beside) -> None:
    under_way.end_of("_pull_twice")


def _pull_twice(desk: Desk, box: Box) -> None:
    program = pulled_in_mid_exam(desk, box)
    said, folder = Said(program), desk.folder / EXAM
    wait_until(lambda: bool(data_of(folder, "held")), program, "the hold")
    box.plug()
    wait_until(lambda: said.count("The button is back") == 1, program, "the button")
    box.pull()
    box.plug()
    wait_until(lambda: said.count("The button is back") == 2, program, "the button again")
    key(desk, "g")
    assert program.wait(60) == 0, said.all()
    _require_nothing_lost(folder)


def test_stop_while_unplugged_then_resume(under_way: Beside) -> None:
    """Nobody finds the cable: stop, and go on another time with the box plugged in."""
    under_way.end_of("_stop_and_resume")


def _stop_and_resume(desk: Desk, box: Box) -> None:
    program = pulled_in_mid_exam(desk, box)
    folder = desk.folder / EXAM
    wait_until(lambda: bool(data_of(folder, "held")), program, "the hold")
    program.send_signal(signal.SIGTERM)
    code, _, errors = end_of(program)
    assert code == 130, errors
    assert errors.rstrip().endswith(
        "stopped: stopped by the operator. Go on with: ripplefield run --resume exam"
    )
    before = sequence(folder)
    code, _, errors = end_of(desk.run("--resume", EXAM, "--start", "now"))
    assert code == 2
    assert errors == (
        'error: button: got "serial:box"; allowed: a port that exists. '
        "Plug the box in and check the name of its port.\n"
    )
    box.plug()
    code, _, errors = end_of(desk.run("--resume", EXAM, "--start", "now"))
    assert code == 0, errors
    assert sequence(folder)[: len(before)] == before
    _require_nothing_lost(folder)


def _require_nothing_lost(folder: Path) -> None:
    """Each presentation has one answer in the end, in order; nobody pressed, so none is seen."""
    found = verify(folder)
    assert found.sound, found.problems
    assert found.closed
    answered = [one["index"] for one in data_of(folder, "answered")]
    assert answered == list(range(len(answered)))
    assert {verdict for *_, verdict in sequence(folder)} == {"not_seen"}
    abandoned = [one["abandoned_index"] for one in data_of(folder, "held")]
    shown = [one["index"] for one in data_of(folder, "presented")]
    repeated = {index for index in shown if shown.count(index) > 1}
    assert repeated <= set(abandoned)
    assert grades(folder) == [4, 4, 4, 4]
    assert count_lines(folder) == found.lines
