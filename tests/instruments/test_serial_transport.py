"""What a serial transport does with bytes, on real pseudo-terminals."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import termios
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from instrument_rigs import Line

from calibration.instruments import InstrumentLost, transport
from calibration.instruments.transport import NoReply, SerialSettings, SerialTransport
from protocols.errors import InputError, OrderError


@pytest.fixture
def line(tmp_path: Path) -> Iterator[Line]:
    made = Line(tmp_path / "port")
    yield made
    made.close()


@pytest.fixture
def port(line: Line) -> Iterator[SerialTransport]:
    made = SerialTransport(str(line.path))
    made.open()
    yield made
    made.close()


def message_of(action, *arguments) -> str:
    with pytest.raises(InputError) as caught:
        action(*arguments)
    return str(caught.value)


def test_bytes_there_and_back(line, port):
    port.write(b"\x00\xffhello\n")
    assert os.read(line.far, 100) == b"\x00\xffhello\n"
    os.write(line.far, b"\x01\r\n\x02\r\n")
    assert port.read_until(b"\r\n", 1.0) == b"\x01"
    assert port.read_until(b"\r\n", 0.0) == b"\x02"


def test_nothing_in_time(port, line):
    start_s = time.monotonic()
    with pytest.raises(NoReply, match=r"got nothing; allowed: a reply within 0\.3 s that"):
        port.read_until(b"\r\n", 0.3)
    assert 0.3 <= time.monotonic() - start_s < 1.5


def test_discard_forgets_what_came(line, port):
    os.write(line.far, b"old\n")
    time.sleep(0.05)
    port.discard()
    os.write(line.far, b"new\n")
    assert port.read_until(b"\n", 1.0) == b"new"


def test_discard_waits_for_quiet(line, port):
    late = threading.Timer(0.1, os.write, [line.far, b"late\n"])
    late.start()
    port.discard(quiet_s=0.5)
    os.write(line.far, b"new\n")
    assert port.read_until(b"\n", 1.0) == b"new"


def test_a_line_that_is_never_quiet(line, port, monkeypatch):
    monkeypatch.setattr(transport, "LONGEST_CHATTER_S", 0.3)
    stop = threading.Event()

    def chatter() -> None:
        while not stop.wait(0.01):
            os.write(line.far, b"x")

    speaker = threading.Thread(target=chatter)
    speaker.start()
    try:
        said = message_of(port.discard, 0.2)
    finally:
        stop.set()
        speaker.join()
    assert said == (
        f'serial:{line.path}: got "bytes without a pause for 0.3 s"; allowed: an instrument that '
        'speaks when asked. Write send = "" in the protocol file if it sends readings unasked.'
    )


def test_a_reply_without_an_end(line, port, monkeypatch):
    monkeypatch.setattr(transport, "LONGEST_REPLY", 100)
    os.write(line.far, b"U" * 101)
    said = message_of(port.read_until, b"\n", 1.0)
    assert said == (
        f'serial:{line.path}: got "101 bytes, {"U" * 60}..."; allowed: a reply of up to 100 bytes '
        "that ends with \\n. Check the speed and the line ending in the protocol file."
    )


def test_an_instrument_that_takes_nothing(line, port, monkeypatch):
    """The far end reads nothing, so the system's own buffer fills up."""
    port.close()
    monkeypatch.setattr(transport, "WRITE_TIMEOUT_S", 0.2)
    port.open()
    said = message_of(port.write, b"x" * 200_000)
    assert said == (
        f'serial:{line.path}: got "200000 bytes not taken within 0.2 s"; allowed: an instrument '
        "that takes what is sent. Check the flow control in the protocol file, and the cable."
    )


@pytest.mark.parametrize(
    "action",
    [lambda p: p.write(b"x"), lambda p: p.read_until(b"\n", 1.0), lambda p: p.discard(0.1)],
)
def test_unplugged(line, port, action):
    line.drop_far()
    sentence = f"The instrument on serial:{line.path} is gone."
    with pytest.raises(InstrumentLost, match=f"^{re.escape(sentence)}$") as caught:
        action(port)
    assert caught.value.measured == ()
    with pytest.raises(OrderError, match=r"is not open: open it first$"):
        action(port)


def test_open_twice_and_close_twice(port):
    with pytest.raises(OrderError, match=r"is open already; close it first$"):
        port.open()
    port.close()
    port.close()
    port.open()


def test_a_missing_port(tmp_path):
    said = message_of(SerialTransport(f"{tmp_path}/none").open)
    assert said == (
        f'photometer: got "serial:{tmp_path}/none"; allowed: a port that exists. Plug the '
        "instrument in and check its port's name."
    )


def test_a_busy_port(line, port):
    said = message_of(SerialTransport(str(line.path)).open)
    assert said == (
        f'photometer: got "serial:{line.path}"; allowed: a port nobody else uses. Close the other '
        "program that holds it."
    )


def test_something_that_is_no_port(tmp_path):
    (tmp_path / "file").touch()
    said = message_of(SerialTransport(f"{tmp_path}/file").open)
    assert said == (
        f'photometer: got "serial:{tmp_path}/file"; allowed: a serial port that takes 9600 baud, '
        "8 bits, parity none. Name the instrument's port, such as serial:/dev/ttyUSB0, or mend "
        "[line]."
    )


def as_nobody(code: str) -> str:
    """Run code in a process that is not root; what it printed."""
    drop = "import os; os.setgid(65534); os.setuid(65534)\n" if os.geteuid() == 0 else ""
    ran = subprocess.run(
        [sys.executable, "-c", code.replace("#DROP", drop)],
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[2],
    )
    assert ran.returncode == 0, ran.stderr
    return ran.stdout.strip()


FORBIDDEN = """
import serial
from calibration.instruments.transport import SerialTransport
from protocols.errors import InputError
#DROP
try:
    SerialTransport({port!r}).open()
except InputError as error:
    print(error)
"""


def test_a_port_of_somebody_else(line):
    """Tried as another user where the tests run as root, who may open everything."""
    name = os.ttyname(line.near)
    os.chmod(name, 0)
    said = as_nobody(FORBIDDEN.format(port=name))
    assert said == (
        f'photometer: got "serial:{name}"; allowed: a port you may open. Join the group that owns '
        "it (often dialout)."
    )


def test_settings_reach_the_port(line):
    port = SerialTransport(str(line.path), SerialSettings(baud=38400, stop_bits=2))
    port.open()
    _, _, control, _, _, speed, _ = termios.tcgetattr(line.near)
    port.close()
    assert speed == termios.B38400
    assert control & termios.CSTOPB
