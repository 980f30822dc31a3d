"""The unbroken exam that others are held against, and a folder for one that is not."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from exam_rig import BUTTON, SEED, Desk, end_of, set_up


@pytest.fixture(scope="session")
def unbroken(display: str, tmp_path_factory: pytest.TempPathFactory) -> Path:
    desk = set_up(tmp_path_factory.mktemp("unbroken"), display)
    code, _, errors = end_of(desk.run(*desk.new_exam("unbroken", BUTTON, SEED)))
    assert code == 0, errors
    return desk.folder / "unbroken"


@pytest.fixture
def exam(desk: Desk) -> Iterator[Path]:
    yield desk.folder / "exam"
    shutil.rmtree(desk.folder / "exam", ignore_errors=True)
