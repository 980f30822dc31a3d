"""Fixtures for every folder of tests."""

from __future__ import annotations

import shutil
from collections.abc import Iterator

import pytest

from stimulus.virtual_screen import virtual_screen

ALONE = {
    "calibrating",
    "faults",
    "instruments",
    "outside",
    "station",
    "stimulus",
    "streams",
    "test_demo.py",
    "test_readme.py",
    "whole",
}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What is held to true times has the machine for itself: `-m alone`; the rest runs beside."""
    for item in items:
        if ALONE & set(item.path.parts):
            item.add_marker("alone")


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


@pytest.fixture
def open_page(browser):
    """Opens a page at a width and scheme; closed at the end."""
    opened = []

    def _open(path, width=1280, scheme="light", height=900):
        page = browser.new_page(viewport={"width": width, "height": height}, color_scheme=scheme)
        opened.append(page)
        page.goto(path.as_uri())
        return page

    yield _open
    for page in opened:
        page.close()
