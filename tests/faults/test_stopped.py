"""Stopped by key, by Ctrl-C, by termination, by a full disk: the record is kept and goes on."""

from __future__ import annotations

import ctypes
import os
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from beside import Beside, beside, own_display
from exam_rig import BUTTON, SEED, Desk, data_of, end_of, grades, sequence, set_up, wait_until

from protocols.verify import verify
from stimulus.stillness import HOLDS_S

STOPPED = "stopped: stopped by the operator. Go on with: ripplefield run --resume {}\n"
PR_CAPBSET_DROP, CAP_DAC_OVERRIDE = 24, 1  # prctl(2), capabilities(7)
FULL_AFTER_BYTES = 7000  # the first lines of a journal and a few presentations


@pytest.fixture(scope="module")
def desk(display: str, tmp_path_factory: pytest.TempPathFactory) -> Desk:
    return set_up(tmp_path_factory.mktemp("stopped"), display)


def begun(desk: Desk, exam: Path) -> subprocess.Popen[str]:
    """An exam with a few answers already."""
    program = desk.run(*desk.new_exam(exam.name, BUTTON, SEED))
    wait_until(lambda: len(data_of(exam, "answered")) >= 3, program, "three answers")
    return program


Stop = Callable[[Desk, "subprocess.Popen[str]"], None]


def escape(desk: Desk, program: subprocess.Popen[str]) -> None:
    environment = {**os.environ, "DISPLAY": desk.display}
    subprocess.run(["xdotool", "key", "Escape"], env=environment, check=True, timeout=20)


def ctrl_c(desk: Desk, program: subprocess.Popen[str]) -> None:
    program.send_signal(signal.SIGINT)


def terminate(desk: Desk, program: subprocess.Popen[str]) -> None:
    program.send_signal(signal.SIGTERM)


STOPS = (escape, ctrl_c, terminate)


@pytest.fixture(scope="module")
def under_way(desk: Desk, unbroken: Path) -> Iterator[Beside]:
    bodies: dict[str, Callable[[], None]] = {
        stop.__name__: partial(_stop_and_go_on, desk, unbroken, stop) for stop in STOPS
    }
    bodies["disk_full"] = partial(_full_and_go_on, desk, unbroken)
    bodies["second_run"] = partial(_run_beside_another, desk, unbroken)
    with beside(bodies) as all_of_them:
        yield all_of_them


@pytest.mark.parametrize("stop", STOPS)
def test_stopped_by_the_operator(under_way: Beside, stop: Stop) -> None:
    under_way.end_of(stop.__name__)


def _stop_and_go_on(desk: Desk, unbroken: Path, stop: Stop) -> None:
    exam = desk.folder / stop.__name__
    with own_display() as (name, _):
        there = Desk(desk.folder, name)
        program = begun(there, exam)
        stop(there, program)
        code, _, errors = end_of(program)
    assert code == 130
    assert errors.endswith(STOPPED.format(exam.name))
    _require_kept(exam, unbroken)
    assert data_of(exam, "closed") == [{"reason": "stopped by the operator", "phase": "stopped"}]
    _require_same_end_after_resume(desk, unbroken, exam)
    assert [one["after"] for one in data_of(exam, "resumed")] == ["stopped"]


def test_disk_full(under_way: Beside) -> None:
    """The system refuses to let the journal grow (a file size limit does what a full disk does)."""
    under_way.end_of("disk_full")


def _full_and_go_on(desk: Desk, unbroken: Path) -> None:
    exam = desk.folder / "full"
    limit = (FULL_AFTER_BYTES, FULL_AFTER_BYTES)
    program = desk.start(
        "run",
        *desk.new_exam(exam.name, BUTTON, SEED),
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, limit),
    )
    code, _, errors = end_of(program)
    assert code == 1
    assert errors.endswith(
        "error: full: the record cannot be written on. The system says: File too large. What was "
        "recorded is kept. Make room or mend the disk, then go on with: ripplefield run --resume "
        "full\n"
    )
    assert (exam / "journal.jsonl").stat().st_size == FULL_AFTER_BYTES
    _require_kept(exam, unbroken)
    _require_same_end_after_resume(desk, unbroken, exam)
    [torn] = exam.glob("journal.torn-*")
    assert [one["set_aside"] for one in data_of(exam, "resumed")] == [torn.name]


def _require_kept(exam: Path, unbroken: Path) -> None:
    found = verify(exam)
    assert found.sound, found.problems
    kept = sequence(exam)
    assert len(kept) >= 2
    assert kept == sequence(unbroken)[: len(kept)]


def _require_same_end_after_resume(desk: Desk, unbroken: Path, exam: Path) -> None:
    words = ["--resume", exam.name, "--button", BUTTON, "--start", "now"]
    code, _, errors = end_of(desk.run(*words))
    assert code == 0, errors
    assert sequence(exam) == sequence(unbroken)
    assert grades(exam) == grades(unbroken)
    assert verify(exam).sound


def test_a_second_run_into_the_folder_is_refused_and_the_first_is_not_disturbed(
    under_way: Beside,
) -> None:
    under_way.end_of("second_run")


def _run_beside_another(desk: Desk, unbroken: Path) -> None:
    exam = desk.folder / "taken"
    first = begun(desk, exam)
    first.send_signal(signal.SIGSTOP)  # else it may be over before the others have begun
    wait_until(lambda: _stands_still(first), first, "the stop")
    held_at_s, held_files = time.monotonic() + 1.5 * HOLDS_S, _bytes_of(exam)
    second = desk.run(*desk.new_exam(exam.name, BUTTON, SEED))
    third = desk.run("--resume", exam.name, "--button", BUTTON)
    code, _, errors = end_of(second)
    assert (code, errors) == (
        2,
        'error: --out: got "taken"; allowed: a folder that is new or empty. '
        "Name another folder, or go on with this exam: ripplefield run --resume taken\n",
    )
    code, _, errors = end_of(third)
    assert code == 2
    assert errors in (
        'error: exam folder: got "taken"; allowed: an exam that no other program is running. '
        "Wait for the other one to end, or stop it.\n",
    )
    assert _bytes_of(exam) == held_files
    time.sleep(max(0.0, held_at_s - time.monotonic()))  # a shorter stop spoils what it falls into
    assert first.poll() is None
    first.send_signal(signal.SIGCONT)
    code, _, errors = end_of(first)
    assert code == 0, errors
    assert sequence(exam) == sequence(unbroken)
    assert verify(exam).sound


def _stands_still(program: subprocess.Popen[str]) -> bool:
    return Path(f"/proc/{program.pid}/stat").read_text().rpartition(") ")[2].startswith("T")


def _bytes_of(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_of_two_that_start_at_once_one_gets_the_folder(
    desk: Desk, unbroken: Path, exam: Path
) -> None:
    both = [desk.run(*desk.new_exam(exam.name, BUTTON, SEED)) for _ in range(2)]
    ends = sorted(end_of(program) for program in both)
    assert [code for code, *_ in ends] == [0, 2]
    refused = ends[1][2]
    assert refused.startswith('error: --out: got "exam"; allowed: a folder that ')
    assert sequence(exam) == sequence(unbroken)
    assert verify(exam).sound


@pytest.fixture
def guarded(display: str) -> Iterator[Desk]:
    """A folder that may be read and not written."""
    folder = Path(tempfile.mkdtemp(prefix="ripplefield-"))
    desk = set_up(folder, display)
    (folder / "empty").mkdir(mode=0o555)
    folder.chmod(0o555)
    yield desk
    folder.chmod(0o755)
    shutil.rmtree(folder)


def _heed_permissions() -> None:
    """The superuser gives up the right to write where permissions forbid it."""
    if os.geteuid() == 0:
        assert ctypes.CDLL(None).prctl(PR_CAPBSET_DROP, CAP_DAC_OVERRIDE, 0, 0, 0) == 0


@pytest.mark.parametrize("out", ["empty", "new", "new/deeper"])
def test_a_folder_that_takes_no_files(guarded: Desk, out: str) -> None:
    before = sorted(guarded.folder.rglob("*"))
    words = guarded.new_exam(out, BUTTON, SEED)
    program = guarded.start("run", *words, preexec_fn=_heed_permissions)
    code, _, errors = end_of(program)
    assert (code, errors) == (
        2,
        f'error: --out: got "{out}"; allowed: a folder that can be written to. '
        "The system says: Permission denied.\n",
    )
    assert sorted(guarded.folder.rglob("*")) == before
