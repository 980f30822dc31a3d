"""Fixtures for every folder of tests."""

from __future__ import annotations

import shutil
from collections.abc import Iterator

import pytest

from stimulus.virtual_screen import virtual_screen


@pytest.fixture(scope="session")
def display() -> Iterator[str]:
    """The X display to draw on: the one at hand, else a virtual one for the whole session."""
    if shutil.which("Xvfb") is None:
        pytest.skip("needs Xvfb: apt-get install xvfb")
    with virtual_screen(1280, 720) as name:
        yield name


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
