"""A photodiode that sends what it sees down a line, unasked: one number a line, or time and number.

A line holds `value`, or `time_s,value` by the instrument's own clock. Without its clock the samples
are taken as evenly spaced, at the rate that a straight line through their times of arrival gives;
arrivals come in bursts, but over some seconds their slope is that of the instrument. What cannot
be trusted is refused: silence, lines that are no numbers, pauses in which samples may have been
lost, a rate that changes or is too slow, a line that goes away.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np

from calibration.certificate import Instrument
from calibration.instruments.interface import InstrumentLost, require_started
from calibration.instruments.transport import NoReply, Transport
from calibration.steps import LEAST_RATE_HZ
from calibration.traces import LEAST_SAMPLES, Trace, refuse_clipped, sampled_trace
from protocols.errors import InputError, OrderError
from protocols.field import Floats

BAUD = 115_200
FIRST_LINE_S = 4.0
"""How long the first line may take: some boards start anew when their port is opened."""

LISTEN_S = 0.5
LONGEST_PAUSE_S = 0.25
"""A system's own buffer holds about a third of a second at `BAUD`; a longer pause loses samples."""

RATE_AGREES = 0.03
KEPT_BYTES = 40
NUMBERS = "one number a line, or time_s,value"
_SPEED = "Check what it sends, and its speed: serial:PORT:BAUD."
KeepGoing = Callable[[], bool]
T = TypeVar("T")


@dataclass
class Heard:
    """Lines as they came: columns of each, and when it arrived, seconds."""

    rows: list[tuple[float, ...]] = field(default_factory=list)
    at_s: list[float] = field(default_factory=list)

    @property
    def rate_hz(self) -> float:
        """Samples a second, by a straight line through the arrivals."""
        return 1 / float(np.polyfit(np.arange(len(self.at_s)), self.at_s, 1)[0])


class LinePhotodiode:
    """A photodiode at the end of `transport`. Order: `start`, `record_while` any times, `close`.

    `full_scale` is the lowest and the highest value it can send, where that is known.
    """

    def __init__(
        self,
        transport: Transport,
        full_scale: tuple[float, float] | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.name = f"photodiode {transport.name}"
        self._transport, self._full_scale, self._clock = transport, full_scale, clock
        self._started = False

    @property
    def identity(self) -> Instrument:
        """What the certificate says of it."""
        return Instrument(
            kind="photodiode",
            name=f"on {self._transport.name}",
            serial="",
            relative_uncertainty=0.0,
            simulated=False,
        )

    def start(self) -> None:
        """Open the line and listen a moment, so that what is wrong is known before steps are shown.

        Raises InputError, InstrumentLost, or OrderError if started already.
        """
        if self._started:
            raise OrderError(f"{self.name} is started already; close it first")
        self._transport.open()
        self._started = True
        try:
            self._line(FIRST_LINE_S)  # it may have begun before the line was opened
            until_s = self._clock() + LISTEN_S
            heard = self._heard_while(lambda: self._clock() < until_s)
            _refuse_slow(heard.rate_hz, self.name)
        except BaseException:
            self.close()
            raise

    def record_while(self, show: Callable[[KeepGoing], T]) -> tuple[Trace, T]:
        """Record while `show` runs in this thread; the trace, and what `show` returned.

        `show` is given a function that says whether to keep going: no longer once the recording
        failed. Raises InputError for a recording that cannot be used, InstrumentLost.
        """
        require_started(self._started, self.name)
        self._transport.discard()
        self._line(LONGEST_PAUSE_S)
        recorder = _Recorder(self._heard_while)
        try:
            result = show(recorder.runs)
        finally:
            recorder.stop()
        return self._trace(recorder.heard()), result

    def close(self) -> None:
        """Free the line; twice is fine."""
        self._started = False
        self._transport.close()

    def _heard_while(self, going: KeepGoing) -> Heard:
        heard = Heard()
        while going():
            heard.rows.append(self._row(heard, self._line(LONGEST_PAUSE_S)))
            heard.at_s.append(self._clock())
        self._refuse_few(heard)
        return heard

    def _line(self, timeout_s: float) -> str:
        try:
            return self._transport.read_until(b"\n", timeout_s).decode("latin-1").strip()
        except InstrumentLost as lost:
            raise InstrumentLost(
                f"The photodiode on {self._transport.name} is gone. Plug it in and run the same "
                "command again: the steps are shown anew."
            ) from lost
        except NoReply as error:
            raise InputError(
                self.name,
                error.given,
                f"a line within {timeout_s:g} s, without a pause",
                f"Check that it is on and sends, and its cable. {_SPEED}",
            ) from error
        except InputError as error:
            raise InputError(self.name, error.given, NUMBERS, _SPEED) from error

    def _row(self, heard: Heard, line: str) -> tuple[float, ...]:
        """The numbers of a line, as many as in those before."""
        row = _numbers(line)
        columns = len(heard.rows[0]) if heard.rows else len(row)
        if not row or len(row) != columns:
            given = line.encode("unicode_escape").decode("ascii")[:KEPT_BYTES]
            raise InputError(f"{self.name}, line {len(heard.rows) + 1}", given, NUMBERS, _SPEED)
        return row

    def _refuse_few(self, heard: Heard) -> None:
        if len(heard.rows) < LEAST_SAMPLES:
            seconds = heard.at_s[-1] - heard.at_s[0] if len(heard.rows) > 1 else 0.0
            raise InputError(
                f"{self.name}, number of lines",
                f"{len(heard.rows)} in {seconds:.1f} s",
                f"{LEAST_RATE_HZ:g} or more a second",
                "Let it send faster: a higher speed, fewer digits.",
            )

    def _trace(self, heard: Heard) -> Trace:
        table = np.array(heard.rows)
        refuse_clipped(table[:, -1], self._full_scale, self.name)
        time_s = table[:, 0] if table.shape[1] > 1 else self._even_times(np.array(heard.at_s))
        trace = sampled_trace(time_s, table[:, -1], self.name)
        _refuse_slow(trace.rate_hz, self.name)
        return trace

    def _even_times(self, at_s: Floats) -> Floats:
        """Times of evenly spaced samples; raises InputError for pauses and for a changing rate."""
        longest_s = float(np.max(np.diff(at_s)))
        if longest_s > LONGEST_PAUSE_S:
            raise InputError(
                f"{self.name}, longest pause between lines in s",
                round(longest_s, 3),
                f"up to {LONGEST_PAUSE_S:g}: in a longer one samples may be lost",
                "Close other programs, and record again; or let it send time_s,value.",
            )
        halves = [Heard(at_s=list(half)).rate_hz for half in np.array_split(at_s, 2)]
        if abs(halves[1] / halves[0] - 1) > RATE_AGREES:
            raise InputError(
                f"{self.name}, samples a second",
                f"{halves[0]:.0f}, then {halves[1]:.0f}",
                f"the same within {RATE_AGREES:.0%}",
                "Let it sample at a constant rate, or let it send time_s,value.",
            )
        return np.arange(len(at_s)) / Heard(at_s=list(at_s)).rate_hz


class _Recorder:
    """Listens in a thread of its own until told to stop, or until it fails."""

    def __init__(self, listen: Callable[[KeepGoing], Heard]) -> None:
        self._stopping = threading.Event()
        self._found: Heard | Exception | None = None
        self._thread = threading.Thread(target=self._run, args=(listen,), daemon=True)
        self._thread.start()

    def runs(self) -> bool:
        """Whether it still listens."""
        return self._thread.is_alive()

    def stop(self) -> None:
        """End listening and wait for it."""
        self._stopping.set()
        self._thread.join()

    def heard(self) -> Heard:
        """What came; raises what ended it early."""
        assert self._found is not None
        if isinstance(self._found, Exception):
            raise self._found
        return self._found

    def _run(self, listen: Callable[[KeepGoing], Heard]) -> None:
        try:
            self._found = listen(lambda: not self._stopping.is_set())
        except (InputError, InstrumentLost) as error:
            self._found = error


def _numbers(line: str) -> tuple[float, ...]:
    """One or two finite numbers; empty for anything else."""
    parts = line.split(",")
    try:
        row = tuple(float(part) for part in parts)
    except ValueError:
        return ()
    return row if len(row) in (1, 2) and bool(np.all(np.isfinite(row))) else ()


def _refuse_slow(rate_hz: float, name: str) -> None:
    if rate_hz < LEAST_RATE_HZ:
        raise InputError(
            f"{name}, samples a second",
            round(rate_hz),
            f"{LEAST_RATE_HZ:g} or more for rise and fall",
            "Let it send faster: a higher speed, fewer digits.",
        )
