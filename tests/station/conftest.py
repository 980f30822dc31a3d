"""A browser for the station's pages, and a station that many tests may share."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from station_rig import Running, prepare, station


@pytest.fixture(scope="session")
def browser() -> Iterator[object]:
    """The system's Chromium."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="needs playwright")
    chromium = shutil.which("chromium") or shutil.which("google-chrome")
    if chromium is None:
        pytest.skip("needs Chromium: apt-get install chromium")
    with sync_api.sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A station without a display: for pages and refusals."""
    data = prepare(tmp_path_factory.mktemp("st") / "d")
    with station(data, "") as found:
        yield found
