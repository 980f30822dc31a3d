"""A real small disk that fills up: before the exam begins, and in the middle of it."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from exam_rig import Desk, data_of, end_of, grades, sequence, set_up

from protocols.verify import verify

SEED = 6
BUTTON = "simulated:observer.toml"
DISK_KIB = 256
NO_SPACE = "The system says: No space left on device."


@pytest.fixture(scope="module")
def disk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A disk of 256 KiB in memory."""
    folder = tmp_path_factory.mktemp("disk")
    words = ["mount", "-t", "tmpfs", "-o", f"size={DISK_KIB}k", "tmpfs", str(folder)]
    if os.geteuid() != 0 or subprocess.run(words, capture_output=True).returncode:
        pytest.skip("needs the right to mount a small disk")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


@pytest.fixture(scope="module")
def desk(display: str, disk: Path) -> Desk:
    return set_up(disk, display)


def fill(disk: Path, left_bytes: int) -> Path:
    """Fill the disk up to so many bytes, in whole pages as this kind of disk counts."""
    facts = os.statvfs(disk)
    filler = disk / "filler"
    filler.write_bytes(b"x" * (facts.f_bavail * facts.f_frsize - left_bytes))
    return filler


def test_no_room_to_begin(desk: Desk) -> None:
    filler = fill(desk.folder, 4096)
    before = sorted(desk.folder.rglob("*"))
    try:
        code, _, errors = end_of(desk.run(*desk.new_exam("none", BUTTON, SEED)))
        assert sorted(desk.folder.rglob("*")) == before
    finally:
        filler.unlink()
    assert code == 2
    assert errors == (
        'error: folder: got "none"; allowed: a folder in which pattern.toml can be written. '
        f"{NO_SPACE}\n"
    )


def test_no_room_for_the_first_lines(desk: Desk) -> None:
    filler = fill(desk.folder, 3 * 4096)
    before = sorted(desk.folder.rglob("*"))
    try:
        code, _, errors = end_of(desk.run(*desk.new_exam("none", BUTTON, SEED)))
        assert sorted(desk.folder.rglob("*")) == before
    finally:
        filler.unlink()
    assert code == 2
    assert errors == (
        f'error: --out: got "none"; allowed: a folder that can be written to. {NO_SPACE}\n'
    )


def test_full_in_mid_exam(desk: Desk, unbroken: Path) -> None:
    """Three small files, the head and its next version, and two pages of journal have room."""
    exam = desk.folder / "exam"
    filler = fill(desk.folder, 7 * 4096)
    code, _, errors = end_of(desk.run(*desk.new_exam("exam", BUTTON, SEED)))
    assert code == 1
    assert errors.endswith(
        f"error: exam: the record cannot be written on. {NO_SPACE} What was recorded is kept. "
        "Make room or mend the disk, then go on with: ripplefield run --resume exam\n"
    )
    found = verify(exam)
    assert found.sound, found.problems
    kept = sequence(exam)
    assert len(kept) >= 2
    assert kept == sequence(unbroken)[: len(kept)]
    again = ["--resume", "exam", "--button", BUTTON, "--start", "now"]
    code, _, errors = end_of(desk.run(*again))
    assert code in (1, 2)
    assert NO_SPACE in errors
    assert verify(exam).sound
    filler.unlink()
    code, _, errors = end_of(desk.run(*again))
    assert code == 0, errors
    assert sequence(exam) == sequence(unbroken)
    assert grades(exam) == grades(unbroken)
    assert verify(exam).sound
    assert {one["after"] for one in data_of(exam, "resumed")} == {"crash"}
