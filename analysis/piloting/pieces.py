"""Exams as pieces of work: one variant on one block of people with one habit, all repeats."""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np

from analysis.batch import BatchGrader, trials_of
from analysis.indices.likelihood import likelihoods
from analysis.indices.ratio import log_ratios
from analysis.indices.simulated import reference_levels_db, watchers_of
from analysis.piloting.crowd import Crowd, Habit, at_places
from analysis.piloting.levels import levels_of
from analysis.reference import load_reference
from protocols.field import Floats
from protocols.grating import frame_hold, frame_plan
from protocols.library import Protocol
from protocols.population.draw import BLOCK, Population
from protocols.procedures.interface import Bools, Ints
from protocols.procedures.rows import rows_of
from protocols.procedures.settings import RisingSettings
from protocols.simulate.chunks import exam_seeds
from protocols.simulate.machine import rig_for, run_exams
from protocols.virtual import VIRTUAL_REFRESH_HZ


@dataclass(frozen=True)
class Piece:
    """What another process or machine needs to examine some people; `count` of the block."""

    protocol: Protocol
    crowd: Crowd
    block: int
    count: int
    habit: Habit
    repeats: int


@dataclass(frozen=True)
class Examined:
    """Exams of people: (people, repeats) or (people, repeats, places).

    Presentations and seconds of an eye, whether the stop rule ended it, the whole-field test's log
    ratio; estimates (not a number where unfinished), interval ends, grades (-1 for none), dB.
    """

    presentations: Ints
    seconds: Floats
    stopped: Bools
    ratio: Floats
    estimate_db: Floats
    low_db: Floats
    high_db: Floats
    grade: Ints

    def __len__(self) -> int:
        return len(self.seconds)


def delivery_of(protocol: Protocol) -> float:
    """Delivered over nominal contrast on an ideal 60 Hz display."""
    stimulus = protocol.settings.stimulus
    timing = frame_plan(
        stimulus.duration_s, stimulus.ramp_s, stimulus.flicker_hz, VIRTUAL_REFRESH_HZ
    )
    return frame_hold(timing.flicker_hz, VIRTUAL_REFRESH_HZ)


def floor_of(protocol: Protocol) -> float:
    """Delivered contrast dB of full contrast on that display."""
    return float(-20 * np.log10(delivery_of(protocol))) + 0.0


def run_piece(work: Piece) -> bytes:
    """Examine a piece's people; the same piece gives the same bytes."""
    crowd = work.crowd
    everyone = work.habit.on(rows_of(crowd.block(work.block), slice(work.count)))
    people = at_places(everyone, crowd.columns(work.protocol.pattern))
    sittings = [_examined(work, people, repeat) for repeat in range(work.repeats)]
    names = list(Examined.__dataclass_fields__)
    return packed(
        {name: np.stack([sitting[name] for sitting in sittings], axis=1) for name in names}
    )


def _examined(work: Piece, people: Population, repeat: int) -> dict[str, np.ndarray]:
    protocol, reference = work.protocol, load_reference()
    places, delivery = protocol.pattern.places, delivery_of(work.protocol)
    means, limits = reference_levels_db(people, places, reference)
    rising = isinstance(protocol.settings.procedure, RisingSettings)
    grader = BatchGrader(reference.file.spread_db, delivery, rising)
    outcome = run_exams(
        rig_for(protocol, delivery), limits - grader.floor_db, watchers_of(people),
        _seeds(work, repeat),
    )  # fmt: skip
    trials = trials_of(outcome.history, len(places), grader.floor_db)
    told = likelihoods(trials.level_db, trials.seen, means.ravel())
    ratio = log_ratios(told.reshape(*means.shape, -1), places, reference.file.spread_db)
    levels = levels_of(outcome, grader, limits, means)
    return {
        "presentations": outcome.presentations.astype(np.int32),
        "seconds": outcome.seconds,
        "stopped": outcome.stopped,
        "ratio": ratio,
        "estimate_db": levels.estimate_db.astype(np.float32),
        "low_db": levels.low_db.astype(np.float32),
        "high_db": levels.high_db.astype(np.float32),
        "grade": levels.grade.astype(np.int8),
    }


def _seeds(work: Piece, repeat: int) -> Ints:
    """Seeds of the exams: of the person and the repeat, the same under every protocol."""
    numbers = work.block * BLOCK + np.arange(work.count)
    codes = [f"person {number}" for number in numbers]
    eyes = np.full(work.count, "right")
    return exam_seeds(work.crowd.seed, codes, eyes, np.full(work.count, repeat))


def packed(arrays: dict[str, np.ndarray]) -> bytes:
    """Arrays of any shape as bytes."""
    buffer = io.BytesIO()
    np.savez_compressed(buffer, **arrays)  # type: ignore[arg-type]
    return buffer.getvalue()


def unpacked(content: bytes) -> Examined:
    """A piece's exams."""
    with np.load(io.BytesIO(content), allow_pickle=False) as arrays:
        return Examined(**{name: arrays[name] for name in Examined.__dataclass_fields__})
