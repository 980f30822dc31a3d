"""Fixtures for every folder of tests."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path

import pytest
from truth_rows import Row, Truth, require_on_page, rows_of

from stimulus.virtual_screen import virtual_screen

ALONE = {
    "calibrating",
    "instruments",
    "outside",
    "stimulus",
    "streams",
    "test_clocks.py",
    "test_control_channel.py",
    "test_demo.py",
    "test_disk_full.py",
    "test_fast_day.py",
    "test_keyboard_only.py",
    "test_killed.py",
    "test_phone_pages.py",
    "test_practice_pages.py",
    "test_readme.py",
    "test_stopped.py",
    "test_unplugged.py",
    "test_whole_day.py",
    "test_window_lost.py",
    "whole",
}
"""Folders, and files of other folders."""

ROWS: list[Row] = []


def pytest_addoption(parser):
    """Where to write the outside truths; without it each is held against the page."""
    parser.addoption("--truths", metavar="FILE", help="write the outside truths found, as JSON")


@pytest.fixture
def truth(request) -> Truth:
    """Holds a value against an outside truth; AREA and SOURCE of the test's file say whose."""
    return Truth(request.node, request.module.AREA, request.module.SOURCE)


def pytest_collection_modifyitems(config, items):
    """What is held to true times has the machine for itself: `-m alone`; the rest runs beside.

    Where truths are written, only the tests that hold some are run.
    """
    for item in items:
        if ALONE & set(item.path.parts):
            item.add_marker("alone")
    if config.getoption("--truths"):
        items[:] = [item for item in items if "truth" in getattr(item, "fixturenames", ())]


@pytest.hookimpl(wrapper=True)
def pytest_pyfunc_call(pyfuncitem):
    """A test's truths must stand on the page, once the test itself has passed."""
    done = yield
    if "truth" in pyfuncitem.fixturenames and not pyfuncitem.config.getoption("--truths"):
        require_on_page(pyfuncitem.nodeid, rows_of(pyfuncitem.user_properties))
    return done


def pytest_runtest_logreport(report):
    """Gathers the rows, from workers too."""
    if report.when == "call" and report.passed:
        ROWS.extend(rows_of(report.user_properties))


def pytest_sessionfinish(session):
    """Writes them where they were asked for."""
    wanted = session.config.getoption("--truths")
    if wanted and not hasattr(session.config, "workerinput"):
        Path(wanted).write_text(json.dumps([asdict(row) for row in ROWS], indent=1))


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
