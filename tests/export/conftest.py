"""Exams for the tests of exports, made once."""

from __future__ import annotations

from pathlib import Path

import pytest
from export_rigs import make_originals, make_variety


@pytest.fixture(scope="session")
def originals(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    return make_originals(tmp_path_factory.mktemp("originals"))


@pytest.fixture(scope="session")
def variety(
    originals: dict[str, Path], tmp_path_factory: pytest.TempPathFactory
) -> dict[str, Path]:
    return make_variety(originals, tmp_path_factory.mktemp("variety"))
