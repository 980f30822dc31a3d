"""The feed under the contract of all photometers, before a display whose light is known."""

from __future__ import annotations

import pytest

from calibration.contracts.photometer import PhotometerContract, Rig
from calibration.instruments import open_photometer
from calibration.simulated import DisplayFile, SimulatedDisplay


class TestFeed(PhotometerContract):
    @pytest.fixture
    def rig(self, tmp_path):
        display = SimulatedDisplay(DisplayFile(about="Invented.", gamma=[2.1, 2.3, 2.4]))
        path = tmp_path / "reading.txt"

        def show(codes):
            path.write_text(f"{float(display.cd_m2(codes)):.6f}")

        show((0, 0, 0))
        made = Rig(open_photometer(f"feed:{path}"), display, show)
        made.photometer.start()
        yield made
        made.photometer.close()
