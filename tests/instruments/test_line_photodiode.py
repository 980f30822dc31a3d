"""A photodiode on a line, over a real pseudo-terminal: what it records, and every refusal."""

from __future__ import annotations

import os
import re
import threading
import time
from collections.abc import Callable, Iterator

import numpy as np
import pytest
from instrument_rigs import Line

from calibration.instruments.interface import InstrumentLost
from calibration.instruments.line_photodiode import LinePhotodiode
from calibration.instruments.transport import SerialSettings, SerialTransport
from protocols.errors import InputError, OrderError

SECONDS = 1.2
Words = Callable[[int], bytes]


class Sender:
    """Sends line after line at a rate, as evenly as the system lets it; bursts when it was late."""

    def __init__(self, line: Line, words: Words, rate_hz: float, stop_s: float | None = None):
        self._line, self._words, self._rate = line, words, rate_hz
        self._stop_s, self._over = stop_s, threading.Event()
        self._thread = threading.Thread(target=self._live, daemon=True)
        self._thread.start()

    def end(self) -> None:
        self._over.set()
        self._thread.join()

    def _live(self) -> None:
        began_s, sent = time.monotonic(), 0
        while not self._over.is_set():
            since_s = time.monotonic() - began_s
            if self._stop_s is not None and since_s > self._stop_s:
                return
            due = int(since_s * self._rate)
            if due > sent:
                os.write(self._line.far, b"".join(self._words(n) for n in range(sent, due)))
                sent = due
            time.sleep(0.001)


@pytest.fixture
def line(tmp_path) -> Iterator[Line]:
    made = Line(tmp_path / "diode")
    yield made
    if made.far >= 0:
        made.drop_far()
    os.close(made.near)


def diode_on(line: Line, full_scale: tuple[float, float] | None = None) -> LinePhotodiode:
    transport = SerialTransport(str(line.path), SerialSettings(baud=115_200))
    return LinePhotodiode(transport, full_scale)


def wave(n: int, rate_hz: float) -> float:
    return 500 + 300 * float(np.sin(2 * np.pi * 10 * n / rate_hz))


def values(rate_hz: float) -> Words:
    return lambda n: f"{wave(n, rate_hz):.3f}\n".encode()


def wait(going: Callable[[], bool]) -> float:
    until_s = time.monotonic() + SECONDS
    while time.monotonic() < until_s and going():
        time.sleep(0.01)
    return until_s - time.monotonic()


def recorded(line: Line, words: Words, rate_hz: float, **more):
    sender = Sender(line, words, rate_hz, more.pop("stop_s", None))
    diode = diode_on(line, **more)
    try:
        diode.start()
        return diode.record_while(wait)[0]
    finally:
        sender.end()
        diode.close()


def told(line: Line, words: Words, rate_hz: float, **more) -> str:
    with pytest.raises((InputError, InstrumentLost)) as caught:
        recorded(line, words, rate_hz, **more)
    return str(caught.value).replace(f"photodiode serial:{line.path}", "D")


@pytest.mark.parametrize("rate_hz", [1500.0, 4000.0])
def test_the_rate_is_that_of_the_sender_by_the_computers_clock(line, rate_hz):
    trace = recorded(line, values(rate_hz), rate_hz)
    print(f"{trace.rate_hz:.1f} of {rate_hz:g} samples a second")
    assert trace.rate_hz == pytest.approx(rate_hz, rel=0.02)
    assert trace.seconds == pytest.approx(SECONDS, abs=0.1)
    spectrum = np.abs(np.fft.rfft(trace.value - np.mean(trace.value), 1 << 16))
    peak_hz = float(np.argmax(spectrum)) * trace.rate_hz / (1 << 16)
    assert peak_hz == pytest.approx(10, rel=0.05)
    assert (np.max(trace.value), np.min(trace.value)) == pytest.approx((800, 200), abs=1)


def test_its_own_clock_goes_before_the_computers(line):
    """It says that it samples at 5000 a second while lines come at half of that."""
    trace = recorded(line, lambda n: f"{n / 5000:.6f},{wave(n, 5000):.3f}\r\n".encode(), 2500.0)
    assert trace.rate_hz == pytest.approx(5000, rel=1e-4)


def test_silence(line):
    diode = diode_on(line)
    with pytest.raises(InputError) as caught:
        diode.start()
    assert str(caught.value) == (
        f"photodiode serial:{line.path}: got nothing; allowed: a line within 4 s, without a pause. "
        "Check that it is on and sends, and its cable. Check what it sends, and its speed: "
        "serial:PORT:BAUD."
    )
    with pytest.raises(OrderError):
        diode.record_while(wait)


@pytest.mark.parametrize(
    "wrong", [b"12.5 lux\n", b"\xfe\x80\n", b"1,2,3\n", b"nan\n", b"0.1,500\n"]
)
def test_garbage(line, wrong):
    said = told(line, lambda n: wrong if n == 1500 else f"{wave(n, 2000):.2f}\n".encode(), 2000.0)
    shown = wrong[:-1].decode("latin-1").encode("unicode_escape").decode()
    assert re.fullmatch(
        rf'D, line \d+: got "{re.escape(shown)}"; allowed: one number a line, or time_s,value. '
        "Check what it sends, and its speed: serial:PORT:BAUD.",
        said,
    ), said


def test_never_a_line(line):
    said = told(line, lambda n: b"\x00\xf8", 4000.0)
    assert said.startswith("D: got")
    assert said.endswith(
        "allowed: one number a line, or time_s,value. Check what it sends, and its speed: "
        "serial:PORT:BAUD."
    )


def test_it_falls_silent_in_the_middle(line):
    assert told(line, values(2000), 2000.0, stop_s=1.2) == (
        "D: got nothing; allowed: a line within 0.25 s, without a pause. Check that it is on and "
        "sends, and its cable. Check what it sends, and its speed: serial:PORT:BAUD."
    )


def test_too_slow_for_a_panel(line):
    said = told(line, values(700), 700.0)
    number = re.fullmatch(
        r"D, samples a second: got (\d+); allowed: 1000 or more for rise and fall. Let it send "
        "faster: a higher speed, fewer digits.",
        said,
    )
    assert number, said
    assert int(number[1]) == pytest.approx(700, rel=0.05)


def test_much_too_slow(line):
    said = told(line, values(60), 60.0)
    assert re.fullmatch(
        r'D, number of lines: got "\d+ in 0.\d s"; allowed: 1000 or more a second. Let it send '
        "faster: a higher speed, fewer digits.",
        said,
    ), said


def test_a_rate_that_changes(line):
    """Lines come at 2000 a second, then at half of that, half-way through the recording."""
    began_s = time.monotonic()

    def slower(n: int) -> bytes:
        late = time.monotonic() - began_s > 0.55 + SECONDS / 2
        return b"" if late and n % 2 else f"{wave(n, 2000):.2f}\n".encode()

    said = told(line, slower, 2000.0)
    assert re.fullmatch(
        r'D, samples a second: got "\d+, then \d+"; allowed: the same within 3%. Let it sample at '
        "a constant rate, or let it send time_s,value.",
        said,
    ), said


def test_samples_lost_by_its_own_clock(line):
    def gap(n: int) -> bytes:
        return f"{(n + 40 * (n > 2500)) / 2000:.6f},{wave(n, 2000):.2f}\n".encode()

    said = told(line, gap, 2000.0)
    assert re.fullmatch(
        r'D, time_s, row \d+: got "[\d.]+ steps from its even place"; allowed: up to 0.25. Record '
        "at a constant rate, or resample the trace.",
        said,
    ), said


def test_clipped_at_the_end_of_a_stated_scale(line):
    def clipped(n: int) -> bytes:
        return f"{min(wave(n, 2000), 700):.0f}\n".encode()

    said = told(line, clipped, 2000.0, full_scale=(0.0, 700.0))
    assert re.fullmatch(
        r'D: got "\d+ of \d+ samples at the end of the range 0 to 700"; allowed: a trace that is '
        "not clipped. Turn the gain or the light down and record again.",
        said,
    ), said
    assert "the highest value, 8 times or more in a row" in told(line, clipped, 2000.0)


def test_a_level_held_is_not_taken_for_clipped_within_a_stated_scale(line):
    trace = recorded(
        line, lambda n: b"700\n" if n // 400 % 2 else b"20\n", 2000.0, full_scale=(0.0, 1023.0)
    )
    assert set(trace.value) == {20.0, 700.0}


def test_unplugged_while_recording(line):
    sender = Sender(line, values(2000), 2000.0)
    diode = diode_on(line)
    diode.start()

    def pull(going: Callable[[], bool]) -> float:
        time.sleep(0.3)
        sender.end()
        line.drop_far()
        return wait(going)

    began_s = time.monotonic()
    with pytest.raises(InstrumentLost) as lost:
        diode.record_while(pull)
    assert str(lost.value) == (
        f"The photodiode on serial:{line.path} is gone. Plug it in and run the same command again: "
        "the steps are shown anew."
    )
    assert time.monotonic() - began_s < 1.0, "what is shown is told to end"
    diode.close()


def test_twice_started(line):
    sender = Sender(line, values(2000), 2000.0)
    diode = diode_on(line)
    diode.start()
    with pytest.raises(OrderError, match="is started already; close it first"):
        diode.start()
    diode.close()
    diode.close()
    sender.end()
