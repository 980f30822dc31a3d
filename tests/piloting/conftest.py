"""One small pilot, run once, that several tests look at."""

from __future__ import annotations

from pathlib import Path

import pytest
from pilot_rigs import piloted, write_plan


@pytest.fixture(scope="session")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_plan(tmp_path_factory.mktemp("plan"))


@pytest.fixture(scope="session")
def pilot(plan: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return piloted(plan, tmp_path_factory.mktemp("pilot") / "out", "--workers", "1")
