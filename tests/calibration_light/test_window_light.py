"""The whole way: readings, table, shader, frames read back, and the light of the true display.

The window draws by the measured table; what it shows is turned into light by the simulated
display's own curves, which the measurement never saw. The display has dead codes, a black that
counts, channels of different gamma and 1 % reading noise.
"""

from __future__ import annotations

import numpy as np
import pytest
from displays import readings_of

from calibration.gamma import gamma_part, transfer_of
from calibration.geometry import pixel_centres, px_to_cm, screen_of_width
from calibration.simulated import DisplayFile, SimulatedDisplay
from protocols.field import Place
from protocols.grating import Patch, frame_plan, modulation, patch_angles
from stimulus.window import StimulusWindow

DISPLAY = SimulatedDisplay(
    DisplayFile(
        about="awkward",
        gamma=[1.9, 2.3, 2.6],
        code_offset=[0.03, 0.05, 0.0],
        black_cd_m2=[0.4, 0.9, 0.2],
        noise_relative=0.01,
    )
)
SCREEN = screen_of_width(1280, 720, 53.0, 35.0)
PATCH = Patch(Place(-14.0, 6.0), 2.5, 3.5, 0.5, 90.0, 180.0)


@pytest.fixture(scope="module")
def window(display):
    lines = readings_of(DISPLAY, np.random.default_rng(17))
    transfer = transfer_of(gamma_part(lines, "simulated meter", 0.02, 8))
    with StimulusWindow(SCREEN, transfer, seed=3) as opened:
        yield opened


def shown_contrast(window: StimulusWindow, contrast: float) -> float:
    """Contrast that best explains the true light of all frames over that of mean grey."""
    frames = []
    plan = frame_plan(0.6, 0.1, 20.0, window.refresh.refresh_hz)
    window.present(PATCH, contrast, plan, lambda: frames.append(window.read_back()[::-1]) is None)
    shape = modulation(PATCH, *_angles())
    inside = shape != 0
    light = np.stack([DISPLAY.cd_m2(frame[inside]) for frame in frames])
    swing = light / DISPLAY.cd_m2(np.array(window.transfer.mean_codes)) - 1
    model = plan.factors[:, None] * shape[inside]
    return float(np.sum(swing * model) / np.sum(model**2))


def _angles():
    x_cm, y_cm = px_to_cm(*pixel_centres(SCREEN), SCREEN)
    return patch_angles(PATCH.place, x_cm, y_cm, SCREEN.distance_cm)


@pytest.mark.parametrize("contrast", [0.005, 0.01, 0.05, 0.5, 1.0])
def test_true_light_of_a_measured_display_has_the_wanted_contrast(window, contrast):
    """Within 2 %; contrast 1 is the most that the measured black allows."""
    wanted = contrast * window.transfer.greatest_contrast
    got = shown_contrast(window, contrast)
    print(f"contrast {wanted:.5f}: shown {got:.5f}, error {got / wanted - 1:+.3%}")
    assert got == pytest.approx(wanted, rel=0.02)
