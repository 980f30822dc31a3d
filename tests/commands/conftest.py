"""One run of the demonstration for all tests that look at it."""

from __future__ import annotations

import pytest
from demo_run import Demo, run_demo


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    return run_demo(tmp_path_factory.mktemp("demo"))
