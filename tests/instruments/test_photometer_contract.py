"""What every photometer does alike, whatever stands behind it."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from instrument_rigs import IDENTITY, RIGS, Rig

from calibration.instruments import PHOTOMETER_KINDS, Target
from calibration.instruments.measure import MeasuringPlan, ladder, measure
from protocols.errors import InputError, OrderError

CODES = (0, 32, 64, 96, 128, 160, 192, 224, 255)


@pytest.fixture(params=sorted(RIGS))
def rig(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Rig]:
    with RIGS[request.param](tmp_path) as made:
        made.photometer.start()
        yield made
        made.photometer.close()


def show(rig: Rig, target: Target) -> None:
    rig.show(target.codes)
    rig.photometer.look_at(target)


def test_every_kind_that_reads_luminance_is_held_to_this():
    """The eye is the one kind that reads none; it has tests of its own."""
    assert set(RIGS) == set(PHOTOMETER_KINDS) - {"eye"}


def test_it_says_what_it_is(rig):
    identity = rig.photometer.identity
    assert identity.name
    assert identity.kind.startswith("photometer")
    assert 0 < identity.relative_uncertainty < 1
    assert rig.photometer.settle_s == 0


def test_it_reads_what_is_shown(rig):
    """Truth is the display's own formula; 5 % is ten times the noise of the meters here."""
    for target in (Target("red", 200), Target("blue", 255), Target("white", 128)):
        show(rig, target)
        truth = float(rig.display.cd_m2(target.codes))
        assert rig.photometer.read_cd_m2().cd_m2 == pytest.approx(truth, rel=0.05)


def test_repeats_are_as_many_as_asked_for(rig):
    show(rig, Target("green", 150))
    reading = rig.photometer.read_cd_m2(repeats=4)
    assert len(reading.repeats_cd_m2) == 4
    assert reading.cd_m2 == pytest.approx(np.mean(reading.repeats_cd_m2))
    assert reading.state == "good"
    assert reading.sd_cd_m2 is not None


def test_a_single_reading_has_no_spread(rig):
    show(rig, Target("green", 150))
    assert rig.photometer.read_cd_m2().sd_cd_m2 is None


@pytest.mark.parametrize("repeats", [0, 101])
def test_repeats_out_of_range(rig, repeats):
    show(rig, Target("green", 150))
    message = f"repeats: got {repeats}; allowed: 1 to 100. Give a whole number of readings."
    with pytest.raises(InputError) as caught:
        rig.photometer.read_cd_m2(repeats)
    assert str(caught.value) == message


def test_closed_it_reads_nothing_and_closing_twice_is_fine(rig):
    rig.photometer.close()
    rig.photometer.close()
    with pytest.raises(OrderError, match=r"is not started: start it before a reading$"):
        rig.photometer.read_cd_m2()


def test_it_starts_once(rig):
    with pytest.raises(OrderError, match=r"is started already; close it first$"):
        rig.photometer.start()
    rig.photometer.close()
    rig.photometer.start()


def test_a_plan_through_it_recovers_the_displays_exponent(rig, tmp_path):
    """Slope of log luminance above black on log code is gamma, whichever meter read it."""
    plan = MeasuringPlan(IDENTITY, ladder(("red", "green"), CODES), settle_s=0.0)
    lines = measure(plan, rig.show, rig.photometer, tmp_path / "readings.jsonl")
    for index, channel in enumerate(("red", "green")):
        light = np.array([line.cd_m2 for line in lines if line.channel == channel])
        bright = slice(4, None)
        logs = np.log(light[bright] - light[0]), np.log(np.array(CODES)[bright] / 255)
        slope = np.polyfit(logs[1], logs[0], 1)[0]
        assert slope == pytest.approx(rig.display.file.gamma[index], abs=0.06)
