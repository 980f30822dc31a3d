"""Watching a display warm up: a reading every half minute since it was switched on.

Every reading is on disk before the next is waited for. A watch that was interrupted goes on with
the same file as long as the clock that never steps back has run through: it and the wall clock
have to agree on how long it was. Half a minute, where the rule needs one a minute, leaves room for
a pause of five minutes.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from math import ceil
from pathlib import Path
from typing import Literal

import msgspec

from calibration.certificate import Identity, Instrument
from calibration.instruments.interface import InstrumentLost, Photometer
from calibration.instruments.reading_log import NOTICE, write_line
from calibration.warmup import WarmUp, warm_up
from protocols.errors import InputError
from protocols.files import decode_json
from stimulus.calibrating.bench import Progress
from stimulus.clock import clock

EVERY_S = 30.0
REPEATS = 3
CLOCKS_AGREE_S = 5.0
WHAT = "uniformity, warming up"
ANEW = "Let the display cool down, remove the file, and begin anew."


@dataclass(frozen=True)
class Times:
    """Clocks of a watch, seconds: one that never steps back, the wall's, and how to wait."""

    now_s: Callable[[], float] = clock
    wall_s: Callable[[], float] = time.time
    wait: Callable[[float], object] = time.sleep


class Begun(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """First line: which display, which meter, and when the display was switched on."""

    format: Literal[1] = 1
    notice: str = NOTICE
    display: Identity
    instrument: Instrument
    clock_s: float
    wall_s: float


class Seen(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Every other line: luminance so long after switching on."""

    after_s: float
    cd_m2: float


@dataclass
class Watch:
    """A watch over one display with a started photometer; `path` keeps what was seen."""

    path: Path
    display: Identity
    meter: Photometer
    times: Times = Times()
    seen: list[Seen] = field(default_factory=list, init=False)

    @property
    def begun(self) -> bool:
        """Whether there is something to go on with."""
        return self.path.exists() and b"\n" in self.path.read_bytes()

    def through(self, minutes: float, progress: Progress) -> WarmUp:
        """Read until so many minutes after switching on; the display shows mean grey meanwhile.

        Raises InputError for a file of something else and as `calibration.warmup.warm_up` does,
        InstrumentLost when the meter goes; what was seen stays in the file.
        """
        began = self._begin()
        with self._kept_said(), open(self.path, "ab", buffering=0) as file:
            for after_s in self._moments(began, minutes * 60):
                progress(WHAT, round(after_s / 60), round(minutes))
                one = self._look(began)
                write_line(file, one, self.path)
                self.seen.append(one)
            return warm_up([s.after_s for s in self.seen], [s.cd_m2 for s in self.seen])

    def _begin(self) -> Begun:
        """Take up what the file holds, or begin it now."""
        fresh = Begun(
            display=self.display,
            instrument=self.meter.identity,
            clock_s=self.times.now_s(),
            wall_s=self.times.wall_s(),
        )
        if self.begun:
            return self._go_on(fresh)
        with open(self.path, "wb", buffering=0) as file:
            write_line(file, fresh, self.path)
        return fresh

    def _go_on(self, now: Begun) -> Begun:
        content = self.path.read_bytes()
        whole = content[: content.rfind(b"\n") + 1]
        first, *rest = whole.splitlines()
        found = decode_json(Begun, first, f"{self.path}, line 1")
        _refuse_other(found, now, self.path)
        self.seen = [
            decode_json(Seen, line, f"{self.path}, line {number}")
            for number, line in enumerate(rest, start=2)
        ]
        os.truncate(self.path, len(whole))
        return found

    def _moments(self, began: Begun, last_s: float) -> Iterator[float]:
        """Wait for each moment to read at, seconds after switching on, and yield it."""
        due = 0 if not self.seen else ceil(self._after_s(began) / EVERY_S)
        while due * EVERY_S <= last_s:
            self.times.wait(max(0.0, due * EVERY_S - self._after_s(began)))
            yield due * EVERY_S
            due = max(due + 1, ceil(self._after_s(began) / EVERY_S))

    def _look(self, began: Begun) -> Seen:
        before_s = self._after_s(began)
        cd_m2 = self.meter.read_cd_m2(REPEATS).cd_m2
        return Seen(after_s=(before_s + self._after_s(began)) / 2, cd_m2=cd_m2)

    def _after_s(self, began: Begun) -> float:
        return self.times.now_s() - began.clock_s

    @contextmanager
    def _kept_said(self) -> Iterator[None]:
        """Say what is kept, and what to do, in an error that ends the watch."""
        try:
            yield
        except InstrumentLost as lost:
            raise InstrumentLost(f"{lost.sentence} {self._kept} Plug it in first.") from lost
        except InputError as error:
            todo = f"{error.todo} {self._kept}"
            raise InputError(error.parameter, error.given, error.allowed, todo) from error

    @property
    def _kept(self) -> str:
        return (
            f"{len(self.seen)} readings are kept in {self.path}: leave the display on, and the "
            "same command goes on, or one with more minutes."
        )


def _refuse_other(found: Begun, now: Begun, path: Path) -> None:
    if (found.display, found.instrument) != (now.display, now.instrument):
        raise InputError(
            str(path),
            "a warm-up of another display or by another meter",
            "the warm-up that is watched",
            "Go on with the same command, or remove the file to begin anew.",
        )
    apart_s = (now.wall_s - found.wall_s) - (now.clock_s - found.clock_s)
    if abs(apart_s) > CLOCKS_AGREE_S:
        raise InputError(
            f"{path}, clocks since it was begun",
            f"{abs(apart_s):.0f} s apart",
            f"up to {CLOCKS_AGREE_S:g} s: no restart, no sleep, no clock set in between",
            ANEW,
        )
