"""Clock offset and delay of a phone, against clocks whose offset is known.

The bound is that of NTP: the offset's error is at most half the delay of a trip, however the two
ways share it (Mills 1991, IEEE Trans Commun 39:1482).
"""

from __future__ import annotations

import numpy as np
import pytest

from stimulus.station.phone import PhoneLink
from stimulus.station.phone_clock import (
    LATEST_S,
    LEAST_SURE_S,
    LEAST_TRIPS,
    Trip,
    measured,
)


def trips(out_s, back_s, offset_s=1000.0, every_s=0.1) -> list[Trip]:
    """Trips with known ways there and back; our clock is ahead of the phone's by `offset_s`."""
    found = []
    for n, (out, back) in enumerate(zip(out_s, back_s, strict=True)):
        sent = n * every_s
        here = sent + out + offset_s
        found.append(Trip(sent, here, here + 0.001, here + 0.001 - offset_s + back))
    return found


def ways(rng, count: int, least_s: float, mean_s: float):
    return least_s + rng.exponential(mean_s, count)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize(("out", "back"), [(0.004, 0.004), (0.002, 0.03), (0.03, 0.002)])
def test_the_true_offset_lies_within_the_stated_uncertainty_however_lopsided(seed, out, back):
    rng = np.random.default_rng(seed)
    made = trips(ways(rng, 60, out, 0.004), ways(rng, 60, back, 0.004))
    found = measured(made, [], made[-1].answered_s)
    assert abs(found.offset_s - 1000.0) <= found.uncertainty_s, seed
    assert found.uncertainty_s >= (out + back) / 2 - 1e-9


def test_delays_are_counted_with_their_spread_and_late_tail():
    rng = np.random.default_rng(2)
    out, back = ways(rng, 150, 0.005, 0.01), ways(rng, 150, 0.005, 0.01)
    made = trips(out, back)
    found = measured(made, [], made[-1].answered_s)
    delays = out + back
    assert found.trips == 150
    assert found.middle_s == pytest.approx(np.median(delays))
    assert found.spread_s == pytest.approx(delays.std())
    assert found.late_s == pytest.approx(np.quantile(delays, 0.95))
    slow = measured(made, [0.05] * 10, made[-1].answered_s)
    assert slow.late_s == pytest.approx(found.late_s + 0.05)


def test_each_limit_refuses_with_its_reason():
    few = measured(trips([0.001] * 5, [0.001] * 5), [], 1000.5)
    assert few.refusal == f"5 of {LEAST_TRIPS} round trips measured so far"
    late = measured(trips([0.002] * 50 + [0.2] * 10, [0.002] * 60), [], 1006.0)
    assert "95 of 100 round trips" in late.refusal
    assert f"{1000 * LATEST_S:.0f} ms" in late.refusal
    unsure = measured(trips([0.03] * 60, [0.03] * 60), [], 1006.0)
    assert "sure to 3" in unsure.refusal
    assert f"{1000 * LEAST_SURE_S:.0f} ms" in unsure.refusal
    assert not measured(trips([0.004] * 60, [0.004] * 60), [], 1006.0).refusal


def test_old_trips_count_no_more_and_drift_widens_the_uncertainty():
    made = trips([0.004] * 60, [0.004] * 60)
    at_once, later = (measured(made, [], made[-1].answered_s + s) for s in (0.0, 10.0))
    assert later.trips < at_once.trips or later.uncertainty_s > at_once.uncertainty_s
    assert later.uncertainty_s == pytest.approx(0.004 + 100e-6 * 10.0, abs=1e-3)
    assert measured(made, [], made[-1].answered_s + 30.0).trips == 0


class Phone:
    """A phone page in numbers: its clock is 500 s behind ours; the ways take `way_s`."""

    def __init__(self, folder, way_s: float) -> None:
        self.now_s, self.way_s = 2000.0, way_s
        self.link = PhoneLink(folder / "phone.sock", now_s=lambda: self.now_s)
        self.last = None

    @property
    def own_s(self) -> float:
        return self.now_s - 500.0

    def trip(self) -> None:
        sent = self.own_s
        self.now_s += self.way_s
        name = self.link.echo(sent, self.last)
        self.now_s += self.way_s
        self.last = (name, self.own_s)
        self.now_s += 0.05

    def press(self) -> tuple[str, float]:
        """Press; gives the refusal and when it was on our clock."""
        at, truly_s = self.own_s, self.now_s
        self.now_s += self.way_s
        return self.link.press(at, at), truly_s


def test_presses_are_taken_only_while_the_measurement_is_good(tmp_path):
    phone = Phone(tmp_path, 0.004)
    assert phone.link.refusal == "no phone has its page open"
    assert phone.press()[0]
    for _ in range(LEAST_TRIPS + 2):
        phone.trip()
    assert phone.link.refusal == ""
    assert phone.press()[0] == ""
    phone.way_s = 0.08
    for _ in range(30):
        phone.trip()
    assert "round trips take up to 160 ms" in phone.press()[0]
    phone.now_s += 3.0
    assert phone.link.refusal == "no phone has its page open"


def test_a_press_that_was_kept_for_later_or_comes_from_the_future_is_dropped(tmp_path):
    phone = Phone(tmp_path, 0.004)
    for _ in range(LEAST_TRIPS + 2):
        phone.trip()
    own_s = phone.own_s
    assert "older than a second" in phone.link.press(own_s - 2.0, own_s - 2.0)
    assert "from the future" in phone.link.press(own_s + 1.0, own_s + 1.0)
    assert phone.link.dropped == 2
    assert phone.link.press(own_s - 0.1, own_s) == ""


def test_made_up_trips_and_closings_do_no_harm(tmp_path):
    phone = Phone(tmp_path, 0.004)
    for _ in range(200):
        phone.link.echo(5.0, ("not a trip", 1.0))
    assert phone.link.measured.trips == 0
    name = phone.link.echo(10.0, None)
    phone.link.echo(11.0, (name, 9.0))  # back before it was sent
    assert phone.link.measured.trips == 0
