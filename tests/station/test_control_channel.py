"""Commands from another program: in order, once, without waiting, whatever else arrives."""

from __future__ import annotations

import socket
import time
from typing import get_args

import pytest

from protocols.errors import InputError, OrderError
from stimulus.buttons.control_channel import (
    ControlChannel,
    PressesHeard,
    Together,
    send_command,
)
from stimulus.buttons.operator_keys import OPERATOR_KEYS, Command


@pytest.fixture
def channel(tmp_path):
    opened = ControlChannel(tmp_path / "c.sock")
    yield opened
    opened.close()


def test_every_command_arrives_in_order_and_once(channel, tmp_path):
    words = list(get_args(Command))
    for word in words:
        assert send_command(tmp_path / "c.sock", word)
    assert channel.commands() == words
    assert channel.commands() == []


def test_every_command_has_a_key_too():
    assert set(OPERATOR_KEYS.values()) == set(get_args(Command))


def test_what_is_no_command_is_let_fall(channel, tmp_path):
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as sender:
        for word in (b"", b"STOP", b"stop\n", b"x" * 5000, b"\xff\x00"):
            sender.sendto(word, str(tmp_path / "c.sock"))
        sender.sendto(b"hold", str(tmp_path / "c.sock"))
    assert channel.commands() == ["hold"]


def test_a_flood_is_refused_at_the_senders_side_and_costs_no_frame(channel, tmp_path):
    sent = sum(send_command(tmp_path / "c.sock", "hold") for _ in range(20_000))
    start = time.perf_counter()
    assert len(channel.commands()) == sent
    assert time.perf_counter() - start < 1 / 120
    assert sent < 20_000


def test_asking_costs_little_of_a_frame(channel):
    start = time.perf_counter()
    for _ in range(1000):
        channel.commands()
    cost_s = (time.perf_counter() - start) / 1000
    print(f"asking once: {1e6 * cost_s:.1f} us")
    assert cost_s < 0.01 / 120


def test_only_its_owner_can_reach_it(channel, tmp_path):
    assert (tmp_path / "c.sock").stat().st_mode & 0o777 == 0o600


def test_nobody_hears_where_nobody_listens(channel, tmp_path):
    channel.close()
    channel.close()
    assert not send_command(tmp_path / "c.sock", "stop")
    assert not (tmp_path / "c.sock").exists()
    with pytest.raises(OrderError, match="closed"):
        channel.commands()


def test_a_socket_left_by_a_crash_is_taken_over(tmp_path):
    path = tmp_path / "c.sock"
    left = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    left.bind(str(path))
    left.close()
    fresh = ControlChannel(path)
    assert send_command(path, "resume")
    assert fresh.commands() == ["resume"]
    fresh.close()


def test_a_folder_far_down_is_no_obstacle(tmp_path):
    """sockaddr_un has room for 108 bytes (unix(7)); a folder's path may be far longer."""
    folder = tmp_path / ("deep" * 20) / ("deeper" * 20)
    folder.mkdir(parents=True)
    path = folder / "c.sock"
    channel, heard = ControlChannel(path), PressesHeard(path)
    assert send_command(path, "hold")
    assert channel.commands() == ["hold"]
    channel.pressed()
    assert heard.take() == 1
    assert path.stat().st_mode & 0o777 == 0o600
    channel.close()
    heard.close()
    assert list(folder.iterdir()) == []
    assert not send_command(path, "hold")


def test_a_path_no_socket_can_have_is_refused_in_words(tmp_path):
    with pytest.raises(InputError, match="a name of up to 78 bytes"):
        ControlChannel(tmp_path / ("x" * 120))
    with pytest.raises(InputError, match="--control"):
        ControlChannel(tmp_path / "nowhere" / "c.sock")


def test_presses_are_told_at_once_and_nobody_need_listen(channel, tmp_path):
    channel.pressed()  # nobody listens: no harm
    heard = PressesHeard(tmp_path / "c.sock")
    assert heard.take() == 0
    for _ in range(3):
        Together([channel]).pressed()
    assert heard.take() == 3
    for _ in range(5000):  # nobody takes them: the exam never waits
        channel.pressed()
    assert 0 < heard.take() < 5000
    heard.close()
    channel.pressed()


def test_two_sources_are_heard_as_one(tmp_path):
    one, other = (ControlChannel(tmp_path / name) for name in ("a", "b"))
    send_command(tmp_path / "b", "stop")
    send_command(tmp_path / "a", "hold")
    assert Together([one, other]).commands() == ["hold", "stop"]
    one.close()
    other.close()
