"""The four examples, installed once."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from plugin_rigs import EXAMPLES, Site, pip_install


@pytest.fixture(scope="session")
def packages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("site") / "packages"
    for example in sorted(EXAMPLES.iterdir()):
        pip_install(example, target)
    return target


@pytest.fixture
def site(packages: Path, tmp_path: Path) -> Site:
    (tmp_path / "desk").mkdir()
    return Site(packages, tmp_path / "desk")
