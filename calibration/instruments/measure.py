"""Run a measuring plan: show each target, let the light settle, read, write it down, go on.

Everything read is in the log before the next target is shown, so a measurement that ends early,
for whatever reason, goes on where it stopped when it is run again with the same log.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

import msgspec

from calibration.certificate import Identity, ReadingLine
from calibration.instruments.interface import Channel, InstrumentLost, Photometer, Target
from calibration.instruments.photometer import REPEATS_RANGE
from calibration.instruments.reading_log import Header, LogLine, ReadingLog, open_log, utc_now
from protocols.errors import InputError, require_within
from protocols.files import sha256_hex

Show = Callable[[tuple[int, int, int]], object]
Progress = Callable[[int, int, Target], object]
SETTLE_RANGE_S = (0.0, 600.0)
TARGETS_RANGE = (1, 10_000)


@dataclass(frozen=True)
class MeasuringPlan:
    """Targets in the order they are shown, on which display, repeats a reading, settling.

    `settle_s` is what the display needs after a change of light; the instrument's own need is
    waited for too if it is longer. Raises InputError when out of range.
    """

    display: Identity
    targets: tuple[Target, ...]
    repeats: int = 1
    settle_s: float = 0.5

    def __post_init__(self) -> None:
        count = len(self.targets)
        require_within("targets", count, *TARGETS_RANGE, "Name the colours to measure.")
        require_within("repeats", self.repeats, *REPEATS_RANGE, "Give a number of readings.")
        require_within("settle_s", self.settle_s, *SETTLE_RANGE_S, "Give seconds to wait.")

    @property
    def sha256(self) -> str:
        """SHA-256 of what is measured, and how."""
        targets = [(target.channel, target.code) for target in self.targets]
        return sha256_hex(msgspec.json.encode([targets, self.repeats, self.settle_s]))


def ladder(channels: tuple[Channel, ...], codes: tuple[int, ...]) -> tuple[Target, ...]:
    """Every code of every channel, in that order.

    >>> [str(target) for target in ladder(("red", "white"), (0, 255))]
    ['red at code 0', 'red at code 255', 'white at code 0', 'white at code 255']
    """
    return tuple(Target(channel, code) for channel in channels for code in codes)


def measure(
    plan: MeasuringPlan,
    show: Show,
    photometer: Photometer,
    log_path: Path,
    progress: Progress | None = None,
    wait: Callable[[float], object] = time.sleep,
) -> list[ReadingLine]:
    """Readings of a plan by a started photometer, in the plan's order; cd/m2.

    What the log at `log_path` holds already is not measured again. `show` puts codes of red, green
    and blue on the screen; `progress` is told done, of how many, and the target. Raises InputError
    for a reading that cannot be used or a log of something else, InstrumentLost (with what was
    measured) when the instrument goes away; the log stays good for going on.
    """
    header = Header(
        plan_sha256=plan.sha256,
        readings=len(plan.targets),
        display=plan.display,
        instrument=photometer.identity,
    )
    with closing(open_log(log_path, header)) as log, _kept_said(log, plan):
        for n, target in _missing(plan, log):
            if progress:
                progress(len(log.lines), len(plan.targets), target)
            log.append(_read(n, target, plan, show, photometer, wait))
        return [log.lines[n].reading for n in range(len(plan.targets))]


def _missing(plan: MeasuringPlan, log: ReadingLog) -> Iterator[tuple[int, Target]]:
    return ((n, target) for n, target in enumerate(plan.targets) if n not in log.lines)


def _read(
    n: int,
    target: Target,
    plan: MeasuringPlan,
    show: Show,
    photometer: Photometer,
    wait: Callable[[float], object],
) -> LogLine:
    show(target.codes)
    photometer.look_at(target)
    wait(max(plan.settle_s, photometer.settle_s))
    reading = photometer.read_cd_m2(plan.repeats)
    return LogLine(
        n=n,
        channel=target.channel,
        code=target.code,
        cd_m2=reading.cd_m2,
        repeats_cd_m2=list(reading.repeats_cd_m2),
        utc=utc_now(),
    )


@contextmanager
def _kept_said(log: ReadingLog, plan: MeasuringPlan) -> Iterator[None]:
    """Say what is kept, and what to do, in an error that ends a measurement."""
    try:
        yield
    except InstrumentLost as lost:
        measured = tuple(log.lines[n].reading for n in sorted(log.lines))
        sentence = f"{lost.sentence} {_kept(log, plan)} Plug it in again first."
        raise InstrumentLost(sentence, measured) from lost
    except InputError as error:
        todo = f"{error.todo} {_kept(log, plan)}"
        raise InputError(error.parameter, error.given, error.allowed, todo) from error


def _kept(log: ReadingLog, plan: MeasuringPlan) -> str:
    return (
        f"{len(log.lines)} of {len(plan.targets)} readings are kept in {log.path}: the same "
        "command measures the rest."
    )
