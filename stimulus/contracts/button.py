"""One contract for every button: subclass, say how it is pressed from outside, and run it.

    class TestPedal(ButtonContract):
        @pytest.fixture
        def rig(self, tmp_path):
            pedal = Pedal(tmp_path / "pedal")
            made = Rig(open_button(f"pedal:{pedal.path}"), pedal.press, gap_s=0.05)
            yield made
            made.button.close()
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

import pytest

from protocols.errors import OrderError
from stimulus.buttons import Button, open_button, require_button
from stimulus.clock import clock

TOLERANCE_S = 0.020
"""On top of the stated resolution: a shared two-core machine may keep a thread waiting."""

PATIENCE_S = 3.0


@dataclass(frozen=True)
class Rig:
    """A button that is not started, and a hand that presses it; `gap_s` keeps presses apart."""

    button: Button
    press: Callable[[], object]
    gap_s: float


def gather(button: Button, wanted: int) -> list[float]:
    """Presses until there are as many as wanted, or patience ends; then a moment for extras.

    Gives the seconds of each on the clock of `stimulus.clock`.
    """
    found: list[float] = []
    end_s = clock() + PATIENCE_S
    while len(found) < wanted and clock() < end_s:
        found += button.presses()
        time.sleep(0.005)
    time.sleep(0.05)
    return found + button.presses()


class ButtonContract:
    """What every button promises, tried by really pressing it."""

    @pytest.fixture
    def rig(self) -> Rig:
        """The button and a hand; a subclass makes them."""
        raise NotImplementedError("give the contract a fixture `rig`")

    def test_a_press_is_timed_on_the_shared_clock(self, rig: Rig) -> None:
        """Between the clock just before and just after, within the stated resolution."""
        rig.button.start()
        margin_s = rig.button.resolution_s + TOLERANCE_S
        for _ in range(10):
            before_s = clock()
            rig.press()
            after_s = clock()
            [press_s] = gather(rig.button, 1)
            assert before_s - rig.button.resolution_s <= press_s <= after_s + margin_s
            time.sleep(rig.gap_s)

    def test_presses_wait_for_whoever_asks_late_and_keep_their_times(self, rig: Rig) -> None:
        """Presses are stamped while nobody asks: a frame may be on."""
        rig.button.start()
        pressed_s = []
        for _ in range(3):
            pressed_s.append(clock())
            rig.press()
            time.sleep(0.1)
        time.sleep(0.3)
        margin_s = rig.button.resolution_s + TOLERANCE_S
        assert rig.button.presses() == pytest.approx(pressed_s, abs=margin_s)

    def test_each_press_is_delivered_once(self, rig: Rig) -> None:
        """Asking again gives nothing again."""
        rig.button.start()
        rig.press()
        assert len(gather(rig.button, 1)) == 1
        assert rig.button.presses() == []

    def test_none_of_200_rapid_presses_is_lost_and_they_are_in_order(self, rig: Rig) -> None:
        """As fast as `gap_s` says."""
        rig.button.start()
        found: list[float] = []
        for _ in range(200):
            rig.press()
            time.sleep(rig.gap_s)
            found += rig.button.presses()
        found += gather(rig.button, 200 - len(found))
        assert len(found) == 200
        assert found == sorted(found)

    def test_a_press_before_the_start_does_not_count(self, rig: Rig) -> None:
        """Somebody may have leaned on it."""
        rig.press()
        time.sleep(0.1)
        rig.button.start()
        assert gather(rig.button, 0) == []

    def test_resolution_is_stated(self, rig: Rig) -> None:
        """In seconds, fine enough for response times."""
        rig.button.start()
        assert 0 < rig.button.resolution_s < 0.02

    def test_the_name_opens_the_same_kind(self, rig: Rig) -> None:
        """The journal keeps the name; taking an exam up again opens it by that name, or raises.

        A keyboard needs its window besides, and a phone the station that measures it.
        """
        kind = rig.button.name.partition(":")[0]
        if kind != "phone":
            require_button(rig.button.name)
        if kind not in ("keyboard", "phone"):
            assert type(open_button(rig.button.name)) is type(rig.button)

    def test_recover_is_true_while_the_button_works(self, rig: Rig) -> None:
        """And nothing is lost by asking."""
        rig.button.start()
        assert rig.button.recover()
        rig.press()
        assert len(gather(rig.button, 1)) == 1

    def test_closing_twice_is_fine_and_it_can_start_again(self, rig: Rig) -> None:
        """An exam may be held for long."""
        rig.button.close()
        rig.button.start()
        rig.button.close()
        rig.button.close()
        rig.button.start()
        rig.press()
        assert len(gather(rig.button, 1)) == 1

    def test_asking_out_of_order_says_what_to_do(self, rig: Rig) -> None:
        """See `OrderError`; `stimulus.buttons.inbox` raises these for those who use it."""
        with pytest.raises(OrderError, match="not running; start it before asking"):
            rig.button.presses()
        rig.button.start()
        with pytest.raises(OrderError, match="running already; close it before starting again"):
            rig.button.start()
        rig.button.close()
        with pytest.raises(OrderError, match="not running; start it before asking"):
            rig.button.presses()

    def test_recover_is_false_when_not_started(self, rig: Rig) -> None:
        """There is nothing to reach yet."""
        assert not rig.button.recover()
