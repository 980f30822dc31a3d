"""What only a serial button can do: bounce, be pulled out, be plugged in again."""

from __future__ import annotations

import os
import re
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from button_rigs import Box

from protocols.errors import InputError
from stimulus.buttons import ButtonLost
from stimulus.buttons.serial_box import SerialBox

SETTLE_S = 0.1


@pytest.fixture
def box(tmp_path: Path) -> Box:
    return Box(tmp_path / "box")


@pytest.fixture
def button(box: Box) -> Iterator[SerialBox]:
    made = SerialBox(str(box.path))
    made.start()
    yield made
    made.close()


def send(box: Box, data: bytes) -> None:
    box.send(data)
    time.sleep(SETTLE_S)


@pytest.mark.parametrize("value", [0, 1, 10, 65, 255])
def test_any_byte_is_a_press(box: Box, button: SerialBox, value: int) -> None:
    send(box, bytes([value]))
    assert len(button.presses()) == 1


def test_bytes_that_arrive_together_are_one_press(box: Box, button: SerialBox) -> None:
    send(box, b"PRESS\r\n")
    assert len(button.presses()) == 1


def test_ignored_bytes_are_no_presses(box: Box) -> None:
    button = SerialBox(str(box.path), ignored=b"r")
    button.start()
    send(box, b"r")
    send(box, b"p")
    assert len(button.presses()) == 1
    button.close()


def test_unplugged_in_the_middle(box: Box, button: SerialBox) -> None:
    send(box, b"1")
    send(box, b"1")
    box.pull()
    time.sleep(SETTLE_S)
    sentence = f"The button serial:{box.path} is gone: plug it in again to go on, or stop the exam."
    assert len(button.presses()) == 2
    for _ in range(2):
        with pytest.raises(ButtonLost, match=f"^{re.escape(sentence)}$"):
            button.presses()


def test_plugged_in_again_under_the_same_name(box: Box, button: SerialBox) -> None:
    box.pull()
    time.sleep(SETTLE_S)
    assert not button.recover()
    box.plug()
    assert button.recover()
    send(box, b"1")
    assert len(button.presses()) == 1


def test_presses_not_yet_fetched_survive_a_loss_and_a_recovery(box: Box, button: SerialBox) -> None:
    send(box, b"1")
    box.pull()
    time.sleep(SETTLE_S)
    box.plug()
    assert button.recover()
    send(box, b"1")
    assert len(button.presses()) == 2


def test_a_lost_button_can_be_closed(box: Box, button: SerialBox) -> None:
    box.pull()
    time.sleep(SETTLE_S)
    button.close()


def test_a_missing_port(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"allowed: a port that exists\. Plug the box in"):
        SerialBox(str(tmp_path / "none")).start()


def test_a_busy_port(box: Box, button: SerialBox) -> None:
    with pytest.raises(InputError, match=r"allowed: a port nobody else uses\. Close the other"):
        SerialBox(str(box.path)).start()


def test_something_that_is_no_port(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(InputError, match=r"allowed: a serial port\. Name the port"):
        SerialBox(str(tmp_path / "file")).start()


@pytest.mark.skipif(os.geteuid() == 0, reason="root may open everything")
def test_a_port_of_somebody_else(tmp_path: Path) -> None:
    (tmp_path / "file").touch(mode=0)
    with pytest.raises(InputError, match="Join the group"):
        SerialBox(str(tmp_path / "file")).start()


def test_closing_frees_the_port(box: Box, button: SerialBox) -> None:
    button.close()
    other = SerialBox(str(box.path))
    other.start()
    other.close()
