"""The wall clock is set back; the display changes its refresh rate."""

from __future__ import annotations

import json
import os
import re
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
TRIES = 4
RATE = re.compile(
    r"stopped: the display is refreshed at (49\.\d|50\.\d) Hz now, not at (59\.\d|60\.\d) Hz as "
    r"when the exam was opened; set it back, then resume\. "
    r"Go on with: ripplefield run --resume exam\n"
)
OTHER_DISPLAY = re.compile(
    r'error: display: got "(49\.\d\d|50\.\d\d) Hz"; allowed: (59\.\d\d|60\.\d\d) Hz, as when the '
    r"exam was opened\. Set the display back, or start a new exam\.\n"
)

NOT_IN_STEP = (
    'error: display: got "flips that do not wait for it"; allowed: flips in step with the display, '
    "as when the exam was opened. Close other programs and set the display back, or start a new "
    "exam.\n"
)


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
    code, output, _ = end_of(desk.start("verify", "exam"))
    assert code == 0
    assert f"\n  {found.notes[0]}\n" in output


def test_refresh_changed_in_mid_exam(desk: Desk, exam: Path) -> None:
    """60 to 50 Hz: no frame is late by its own rule, yet each is a fifth too long."""
    words = ["run", *desk.new_exam("exam", BUTTON, SEED)]
    words[1] = "longer.toml"
    code, errors = _in_step(desk, exam, OPENING_FLIPS + 40, words)
    assert code == 1
    said = errors[errors.index("stopped: ") :]
    assert RATE.fullmatch(said), said
    assert verify(exam).sound
    [closed] = data_of(exam, "closed")
    assert f"stopped: {closed['reason']}. Go on with: " in said
    last = data_of(exam, "presented")[-1]
    assert last["index"] not in {one["index"] for one in data_of(exam, "answered")}
    _require_resumes_only_at_the_old_rate(desk, exam)


def _in_step(desk: Desk, exam: Path, change_at: int, words: list[str]) -> tuple[int, str]:
    """Run it on the stand-in display; a busy machine may not see at first that flips wait."""
    for _ in range(TRIES):
        code, _, errors = run(desk, "refresh_program.py", str(change_at), *words)
        if data_of(exam, "display")[0]["display_locked"]:
            return code, errors
        shutil.rmtree(exam)
    raise AssertionError("the display was never found to be in step")


def _require_resumes_only_at_the_old_rate(desk: Desk, exam: Path) -> None:
    again = ["run", "--resume", "exam", "--button", BUTTON, "--start", "now"]
    before = (exam / "journal.jsonl").read_bytes()
    code, errors = _until_in_step(desk, 0, again)
    assert code == 2
    assert OTHER_DISPLAY.fullmatch(errors), errors
    assert (exam / "journal.jsonl").read_bytes() == before
    code, errors = _until_in_step(desk, 1_000_000, again)
    assert code == 0, errors
    assert verify(exam).sound
    assert json.loads((exam / "result.json").read_text())["exam"]["finished"]


def _until_in_step(desk: Desk, change_at: int, words: list[str]) -> tuple[int, str]:
    for _ in range(TRIES):
        code, _, errors = run(desk, "refresh_program.py", str(change_at), *words)
        if errors != NOT_IN_STEP:
            return code, errors
    raise AssertionError(errors)


LOCKED = Refresh(60.0, True, 0.0001, 80)


RATES = [(60.0, False), (59.94, False), (50.0, True), (75.0, True)]


@pytest.mark.parametrize(("hz", "changed"), RATES)
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
