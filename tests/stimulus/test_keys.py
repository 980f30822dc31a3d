"""Keys of a real window: whose they are, auto-repeat, the server's clock, and losing it."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from button_rigs import Neighbour, XWindow

from protocols.errors import InputError, OrderError
from stimulus.buttons import ButtonLost
from stimulus.buttons.key_listener import KeyListener
from stimulus.buttons.keyboard import Keyboard
from stimulus.buttons.operator_keys import OperatorKeys
from stimulus.buttons.server_clock import Probe, ServerClock, from_probes

SETTLE_S = 0.1
LOST = r"^The keyboard is gone: the window or its display was closed; stop the exam\.$"


@pytest.fixture(params=["alone", "inner window of another program"])
def window(request: pytest.FixtureRequest, display: str) -> Iterator[XWindow]:
    """As a drawing library has it, in the second case: it takes keys in a window of its own."""
    made = XWindow()
    neighbour = None if request.param == "alone" else Neighbour(made.xid)
    yield made
    if neighbour is not None:
        neighbour.close()
    made.close()


@pytest.fixture
def keys(window: XWindow) -> Iterator[KeyListener]:
    made = KeyListener(window.xid)
    made.start()
    yield made
    made.close()


@pytest.fixture
def keyboard(keys: KeyListener) -> Keyboard:
    made = Keyboard(keys)
    made.start()
    return made


def xdotool(*words: str) -> None:
    subprocess.run(["xdotool", *words], check=True, timeout=20)
    time.sleep(SETTLE_S)


def test_keys_typed_by_another_program(keyboard: Keyboard) -> None:
    xdotool("key", "--delay", "20", "--repeat", "50", "space")
    xdotool("key", "Return")
    assert len(keyboard.presses()) == 51


def test_participant_and_operator_do_not_hear_each_other(
    keys: KeyListener, keyboard: Keyboard
) -> None:
    operator = OperatorKeys(keys)
    xdotool("key", "--delay", "20", "h", "space", "g", "n", "x", "Escape")
    assert operator.commands() == ["hold", "resume", "skip_eye", "stop"]
    assert operator.commands() == []
    assert len(keyboard.presses()) == 1


def test_operator_keys_work_with_shift_held(window: XWindow, keys: KeyListener) -> None:
    operator = OperatorKeys(keys)
    window.key("Shift_L", down=True)
    window.type("h")
    window.key("Shift_L", down=False)
    time.sleep(SETTLE_S)
    assert operator.commands() == ["hold"]


def test_a_key_held_down_is_one_press(window: XWindow, keyboard: Keyboard) -> None:
    window.key("space", down=True)
    time.sleep(1.2)  # the server repeats after 0.66 s
    window.key("space", down=False)
    time.sleep(SETTLE_S)
    window.type("space")
    time.sleep(SETTLE_S)
    assert len(keyboard.presses()) == 2


def test_losing_the_window(window: XWindow, keys: KeyListener, keyboard: Keyboard) -> None:
    operator = OperatorKeys(keys)
    window.type("space")
    time.sleep(SETTLE_S)
    window.destroy()
    time.sleep(SETTLE_S)
    assert len(keyboard.presses()) == 1
    with pytest.raises(ButtonLost, match=LOST):
        keyboard.presses()
    with pytest.raises(ButtonLost, match=LOST):
        operator.commands()
    assert not keyboard.recover()
    with pytest.raises(ButtonLost, match=LOST):
        keyboard.presses()


def test_a_reader_that_comes_after_the_loss_hears_of_it(window: XWindow, keys: KeyListener) -> None:
    window.destroy()
    time.sleep(SETTLE_S)
    with pytest.raises(ButtonLost, match=LOST):
        OperatorKeys(keys).commands()


def test_a_window_that_does_not_exist(display: str) -> None:
    with pytest.raises(InputError, match=r"window of the keyboard: .*0x3.*an open window"):
        KeyListener(3).start()


def test_no_display(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("DISPLAY", raising=False)
    with pytest.raises(InputError, match=r"a running X11 display\. Use a button box instead"):
        KeyListener(1).start()


def test_a_display_that_is_not_there(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DISPLAY", ":9999")
    with pytest.raises(InputError, match=r'got ":9999"; allowed: a running X11 display'):
        KeyListener(1).start()


def test_the_listener_refuses_the_wrong_order(keys: KeyListener) -> None:
    with pytest.raises(OrderError, match="running already"):
        keys.start()
    with pytest.raises(OrderError, match="start it first"):
        _ = KeyListener(1).resolution_s


@pytest.mark.parametrize("start_ms", [1_000, 2**32 - 50])
def test_the_server_clock_is_found_well_inside_its_tick(start_ms: int) -> None:
    """Invented server, 1.2345678 s ahead; questions take 0.1 to 0.3 ms. Seed 5."""
    rng = np.random.default_rng(5)
    ahead_s = start_ms / 1000 + 0.2345678
    probes = []
    for before_s in np.arange(60) * 0.00147:
        took = rng.uniform(1e-4, 3e-4, 2)
        stamp = int((before_s + took[0] + ahead_s) * 1000) % 2**32
        probes.append(Probe(before_s, stamp, before_s + took.sum()))
    found = from_probes(probes)
    true_s = 3.0
    stamp = int((true_s + ahead_s) * 1000) % 2**32
    assert found.error_s < 0.0003
    assert found.shared_s(stamp) == pytest.approx(true_s, abs=0.0005 + found.error_s)


def test_resolution_is_one_tick_and_the_error_both_ways() -> None:
    assert ServerClock(0, 0.0, 0.0002).resolution_s == pytest.approx(0.0014)
