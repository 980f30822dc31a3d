"""One contract for every photometer that reads luminance: subclass, say what it looks at, run it.

    class TestTube(PhotometerContract):
        @pytest.fixture
        def rig(self, tmp_path):
            screen = Screen(tmp_path)
            made = Rig(open_photometer(f"tube:{screen.path}"), screen.display, screen.show)
            made.photometer.start()
            yield made
            made.photometer.close()
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from calibration.certificate import Identity
from calibration.instruments import Photometer, Target
from calibration.instruments.measure import MeasuringPlan, ladder, measure
from calibration.simulated import SimulatedDisplay
from protocols.errors import InputError, OrderError

CODES = (0, 32, 64, 96, 128, 160, 192, 224, 255)
IDENTITY = Identity(
    machine="bench",
    display_name="simulated",
    display_serial="none",
    width_px=1280,
    height_px=720,
    system_tables_sha256=None,
    simulated=True,
)


@dataclass(frozen=True)
class Rig:
    """A started photometer, the display it measures, and how to show codes on it.

    The display's truth is known: a simulated one, or a stand-in for the light that the author
    can set.
    """

    photometer: Photometer
    display: SimulatedDisplay
    show: Callable[[tuple[int, int, int]], object]

    def look(self, target: Target) -> None:
        """Show a target and tell the photometer."""
        self.show(target.codes)
        self.photometer.look_at(target)


class PhotometerContract:
    """What every photometer that reads luminance promises."""

    @pytest.fixture
    def rig(self) -> Rig:
        """The photometer before a display; a subclass makes them."""
        raise NotImplementedError("give the contract a fixture `rig`")

    def test_it_says_what_it_is(self, rig: Rig) -> None:
        """The certificate says which instrument, and how sure it is."""
        identity = rig.photometer.identity
        assert identity.name
        assert identity.kind.startswith("photometer")
        assert 0 < identity.relative_uncertainty < 1
        assert rig.photometer.settle_s >= 0

    def test_it_reads_what_is_shown(self, rig: Rig) -> None:
        """Truth is the display's own formula; 5 % is ten times the noise of the meters here."""
        for target in (Target("red", 200), Target("blue", 255), Target("white", 128)):
            rig.look(target)
            truth = float(rig.display.cd_m2(target.codes))
            assert rig.photometer.read_cd_m2().cd_m2 == pytest.approx(truth, rel=0.05)

    def test_repeats_are_as_many_as_asked_for(self, rig: Rig) -> None:
        """Each kept, with their mean and spread."""
        rig.look(Target("green", 150))
        reading = rig.photometer.read_cd_m2(repeats=4)
        assert len(reading.repeats_cd_m2) == 4
        assert reading.cd_m2 == pytest.approx(np.mean(reading.repeats_cd_m2))
        assert reading.state == "good"
        assert reading.sd_cd_m2 is not None

    def test_a_single_reading_has_no_spread(self, rig: Rig) -> None:
        """One value tells nothing of repeats."""
        rig.look(Target("green", 150))
        assert rig.photometer.read_cd_m2().sd_cd_m2 is None

    @pytest.mark.parametrize("repeats", [0, 101])
    def test_repeats_out_of_range(self, rig: Rig, repeats: int) -> None:
        """See `require_within` of `protocols.errors`."""
        rig.look(Target("green", 150))
        message = f"repeats: got {repeats}; allowed: 1 to 100. Give a whole number of readings."
        with pytest.raises(InputError) as caught:
            rig.photometer.read_cd_m2(repeats)
        assert str(caught.value) == message

    def test_closed_it_reads_nothing_and_closing_twice_is_fine(self, rig: Rig) -> None:
        """See `require_started` of `calibration.instruments.interface`."""
        rig.photometer.close()
        rig.photometer.close()
        with pytest.raises(OrderError, match=r"is not started: start it before a reading$"):
            rig.photometer.read_cd_m2()

    def test_it_starts_once(self, rig: Rig) -> None:
        """And again after it was closed."""
        with pytest.raises(OrderError, match=r"is started already; close it first$"):
            rig.photometer.start()
        rig.photometer.close()
        rig.photometer.start()

    def test_a_plan_through_it_recovers_the_displays_exponent(
        self, rig: Rig, tmp_path: Path
    ) -> None:
        """Slope of log luminance above black on log code is gamma, whichever meter read it."""
        plan = MeasuringPlan(IDENTITY, ladder(("red", "green"), CODES), settle_s=0.0)
        lines = measure(plan, rig.show, rig.photometer, tmp_path / "readings.jsonl")
        for index, channel in enumerate(("red", "green")):
            light = np.array([line.cd_m2 for line in lines if line.channel == channel])
            bright = slice(4, None)
            logs = np.log(light[bright] - light[0]), np.log(np.array(CODES)[bright] / 255)
            slope = np.polyfit(logs[1], logs[0], 1)[0]
            assert slope == pytest.approx(rig.display.file.gamma[index], abs=0.06)
