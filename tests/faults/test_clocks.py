"""The wall clock is set back; the display changes its refresh rate."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from exam_rig import PROTOCOL, Desk, data_of, end_of, journal, set_up

from protocols.verify import verify
from stimulus.pacing import Refresh
from stimulus.refresh_watch import frame_interval_s, other_rate_hz

HERE = Path(__file__).parent
SEED = 6
BUTTON = "simulated:observer.toml"
LONGER = PROTOCOL.replace("duration_s = 0.05", "duration_s = 0.2")
OPENING_FLIPS = 120  # the rate is measured by 92 of them
RATE = "the display is refreshed at 50.0 Hz now, not at 60.0 Hz as when the exam was opened; "


@pytest.fixture(scope="module")
def desk(display: str, tmp_path_factory: pytest.TempPathFactory) -> Desk:
    desk = set_up(tmp_path_factory.mktemp("clocks"), display)
    (desk.folder / "longer.toml").write_text(LONGER.replace('"tiny"', '"longer"'))
    return desk


@pytest.fixture
def exam(desk: Desk) -> Iterator[Path]:
    yield desk.folder / "exam"
    shutil.rmtree(desk.folder / "exam", ignore_errors=True)


def run(desk: Desk, program: str, *words: str) -> tuple[int, str, str]:
    return end_of(
        subprocess.Popen(
            [sys.executable, str(HERE / program), *words],
            cwd=desk.folder,
            env={**os.environ, "DISPLAY": desk.display},
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
    )


def test_wall_clock_set_back(desk: Desk, exam: Path) -> None:
    words = ["run", *desk.new_exam("exam", BUTTON, SEED)]
    code, _, errors = run(desk, "stepped_clock_program.py", *words)
    assert code == 0, errors
    lines = journal(exam)
    wall = [line["utc"] for line in lines]
    assert wall != sorted(wall)
    times = [line["t_s"] for line in lines]
    assert times == sorted(times)
    onsets = [one["onset_s"] for one in data_of(exam, "presented")]
    assert onsets == sorted(onsets)
    assert times[-1] < 30
    found = verify(exam)
    assert (found.sound, found.closed) == (True, True)
    stepped = next(n for n in range(1, len(wall)) if wall[n] < wall[n - 1])
    assert found.notes == [
        f"the wall clock stepped by -3600 s before line {stepped + 1}; t_s, onsets and response "
        "times are by another clock and not touched"
    ]


def test_verify_says_that_the_clock_stepped(desk: Desk, exam: Path) -> None:
    run(desk, "stepped_clock_program.py", "run", *desk.new_exam("exam", BUTTON, SEED))
    code, output, _ = end_of(desk.start("verify", "exam"))
    assert code == 0
    assert "\n  the wall clock stepped by -3600 s before line " in output


def test_refresh_changed_in_mid_exam(desk: Desk, exam: Path) -> None:
    """60 to 50 Hz: no frame is late by its own rule, yet each is a fifth too long."""
    words = [*desk.new_exam("exam", BUTTON, SEED)]
    words[0] = "longer.toml"
    code, _, errors = run(desk, "refresh_program.py", str(OPENING_FLIPS + 40), "run", *words)
    assert code == 1
    todo = "set it back, then resume. Go on with: ripplefield run --resume exam\n"
    assert errors.endswith(f"stopped: {RATE}{todo}")
    assert verify(exam).sound
    assert data_of(exam, "display")[0]["display_locked"]
    [closed] = data_of(exam, "closed")
    assert closed["reason"].startswith(RATE)
    last = data_of(exam, "presented")[-1]
    assert last["index"] not in {one["index"] for one in data_of(exam, "answered")}
    _require_resumes_only_at_the_old_rate(desk, exam)


def _require_resumes_only_at_the_old_rate(desk: Desk, exam: Path) -> None:
    again = ["run", "--resume", "exam", "--button", BUTTON, "--start", "now"]
    before = (exam / "journal.jsonl").read_bytes()
    code, _, errors = run(desk, "refresh_program.py", "0", *again)
    assert code == 2
    assert errors.startswith('error: display: got "50.0')
    assert errors.endswith(
        ' Hz, as when the exam was opened. Set the display back, or start a new exam.\n'
    )
    assert (exam / "journal.jsonl").read_bytes() == before
    code, _, errors = run(desk, "refresh_program.py", "1000000", *again)
    assert code == 0, errors
    assert verify(exam).sound
    assert json.loads((exam / "result.json").read_text())["exam"]["finished"]


LOCKED = Refresh(60.0, True, 0.0001, 80)


@pytest.mark.parametrize(("hz", "changed"), [(60.0, False), (59.94, False), (50.0, True), (75.0, True)])
def test_another_rate_is_told_from_the_same(hz: float, changed: bool) -> None:
    flips = [n / hz for n in range(13)]
    found = other_rate_hz(LOCKED, frame_interval_s(flips))
    assert found == (pytest.approx(hz) if changed else None)


def test_late_frames_are_no_other_rate() -> None:
    flips = [0.0, 1 / 60, 3 / 60, 4 / 60, 5 / 60, 8 / 60, 9 / 60]
    assert other_rate_hz(LOCKED, frame_interval_s(flips)) is None


def test_flips_that_do_not_wait_tell_no_rate() -> None:
    unlocked = Refresh(60.0, False, 0.0001, 80)
    assert other_rate_hz(unlocked, 1 / 50) is None
    assert frame_interval_s([0.0, 0.1, 0.2]) is None
