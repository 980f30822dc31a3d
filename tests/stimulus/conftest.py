"""One open window for each file of tests that draws."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from calibration.geometry import screen_of_width
from calibration.transfer import srgb_nominal
from stimulus.priority import first_in_line
from stimulus.window import StimulusWindow


@pytest.fixture(scope="module", autouse=True)
def ahead_of_others() -> Iterator[None]:
    """As in an exam: frames and presses do not wait for other programs."""
    with first_in_line():
        yield


@pytest.fixture(scope="module")
def window(display: str) -> Iterator[StimulusWindow]:
    screen = screen_of_width(1280, 720, 53.0, 35.0)
    with StimulusWindow(screen, srgb_nominal(), seed=7) as opened:
        yield opened
