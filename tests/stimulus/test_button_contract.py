"""What every button promises, tried on each kind by really pressing it."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from button_rigs import RIGS, Rig

from protocols.errors import InputError, OrderError
from stimulus.buttons import Button, open_button
from stimulus.clock import clock

TOLERANCE_S = 0.020
"""On top of the stated resolution: a shared two-core machine may keep a thread waiting."""

PATIENCE_S = 3.0


@pytest.fixture(params=list(RIGS))
def rig(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Rig]:
    if request.param == "keyboard":
        request.getfixturevalue("display")
    with RIGS[request.param](tmp_path) as made:
        yield made
        made.button.close()


def gather(button: Button, wanted: int) -> list[float]:
    """Presses until there are as many as wanted, or patience ends; then a moment for extras."""
    found: list[float] = []
    end_s = clock() + PATIENCE_S
    while len(found) < wanted and clock() < end_s:
        found += button.presses()
        time.sleep(0.005)
    time.sleep(0.05)
    return found + button.presses()


def test_a_press_is_timed_on_the_shared_clock(rig: Rig) -> None:
    rig.button.start()
    margin_s = rig.button.resolution_s + TOLERANCE_S
    for _ in range(10):
        before_s = clock()
        rig.press()
        after_s = clock()
        [press_s] = gather(rig.button, 1)
        assert before_s - rig.button.resolution_s <= press_s <= after_s + margin_s
        time.sleep(rig.gap_s)


def test_presses_wait_for_whoever_asks_late_and_keep_their_times(rig: Rig) -> None:
    rig.button.start()
    pressed_s = []
    for _ in range(3):
        pressed_s.append(clock())
        rig.press()
        time.sleep(0.1)
    time.sleep(0.3)
    margin_s = rig.button.resolution_s + TOLERANCE_S
    assert rig.button.presses() == pytest.approx(pressed_s, abs=margin_s)


def test_each_press_is_delivered_once(rig: Rig) -> None:
    rig.button.start()
    rig.press()
    assert len(gather(rig.button, 1)) == 1
    assert rig.button.presses() == []


def test_none_of_200_rapid_presses_is_lost_and_they_are_in_order(rig: Rig) -> None:
    rig.button.start()
    found: list[float] = []
    for _ in range(200):
        rig.press()
        time.sleep(rig.gap_s)
        found += rig.button.presses()
    found += gather(rig.button, 200 - len(found))
    assert len(found) == 200
    assert found == sorted(found)


def test_a_press_before_the_start_does_not_count(rig: Rig) -> None:
    rig.press()
    time.sleep(0.1)
    rig.button.start()
    assert gather(rig.button, 0) == []


def test_resolution_is_stated(rig: Rig) -> None:
    rig.button.start()
    assert 0 < rig.button.resolution_s < 0.02


def test_the_name_opens_the_same_kind(rig: Rig) -> None:
    assert rig.button.name.partition(":")[0] in RIGS


def test_recover_is_true_while_the_button_works(rig: Rig) -> None:
    rig.button.start()
    assert rig.button.recover()
    rig.press()
    assert len(gather(rig.button, 1)) == 1


def test_closing_twice_is_fine_and_it_can_start_again(rig: Rig) -> None:
    rig.button.close()
    rig.button.start()
    rig.button.close()
    rig.button.close()
    rig.button.start()
    rig.press()
    assert len(gather(rig.button, 1)) == 1


def test_asking_out_of_order_says_what_to_do(rig: Rig) -> None:
    with pytest.raises(OrderError, match="not running; start it before asking"):
        rig.button.presses()
    rig.button.start()
    with pytest.raises(OrderError, match="running already; close it before starting again"):
        rig.button.start()
    rig.button.close()
    with pytest.raises(OrderError, match="not running; start it before asking"):
        rig.button.presses()


def test_recover_is_false_when_not_started(rig: Rig) -> None:
    assert not rig.button.recover()


def test_an_unknown_kind_names_the_known_ones() -> None:
    with pytest.raises(InputError, match=r'button: got "foot:1"; allowed: .*keyboard, serial'):
        open_button("foot:1")


def test_a_keyboard_needs_a_window() -> None:
    with pytest.raises(InputError, match="Open the window before the button"):
        open_button("keyboard")


@pytest.mark.parametrize(
    ("spec", "words"), [("keyboard:usb", "without a colon"), ("serial:", "Name the port")]
)
def test_details_are_checked(spec: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        open_button(spec)
