"""Ripplefield's own photometers under the contract of all photometers."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from instrument_rigs import RIGS

from calibration.contracts.photometer import PhotometerContract, Rig
from calibration.instruments import PHOTOMETER_KINDS


class TestPhotometers(PhotometerContract):
    @pytest.fixture(params=sorted(RIGS))
    def rig(self, request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Rig]:
        with RIGS[request.param](tmp_path) as made:
            made.photometer.start()
            yield made
            made.photometer.close()

    def test_the_rigs_need_no_time_to_settle(self, rig: Rig) -> None:
        assert rig.photometer.settle_s == 0


def test_every_kind_that_reads_luminance_is_held_to_this():
    """The eye is the one kind that reads none; it has tests of its own."""
    assert set(RIGS) == set(PHOTOMETER_KINDS) - {"eye"}
