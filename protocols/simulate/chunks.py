"""Exams as pieces of work: a piece is a range of exams, run and written out by itself."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol as Interface

import numpy as np
from numpy.typing import NDArray

from protocols.draws import Stream, uniform
from protocols.field import Floats
from protocols.library import Protocol
from protocols.procedures.interface import Ints
from protocols.procedures.rows import rows_of
from protocols.simulate.machine import rig_for, run_exams
from protocols.simulate.observers import Observers
from protocols.simulate.outcome import Outcome
from protocols.simulate.results import Format, encode
from protocols.simulate.watchers import Watchers

EXAMS = 1000
"""Exams in a piece: enough to be fast, few enough to fit in memory many times."""


class Grader(Interface):
    """Grades of exams, (exams, places), -1 for none; limits and means in delivered dB."""

    def __call__(self, outcome: Outcome, limits_db: Floats, means_db: Floats) -> Ints:
        """Grades of an outcome."""


@dataclass(frozen=True)
class Study:
    """All exams of a run. Limits and means of the reference, (observers' eyes, places), and

    what a display delivers of nominal contrast. Each eye is an exam by itself.
    """

    protocol: Protocol
    observers: Observers
    limits_db: Floats
    means_db: Floats
    delivery: float
    seed: int
    repeats: int
    grader: Grader

    @property
    def exams(self) -> int:
        """How many there are."""
        return len(self.observers) * self.repeats

    @property
    def loss_db(self) -> float:
        """How far delivered dB lie above nominal dB."""
        return float(-20 * np.log10(self.delivery)) + 0.0


@dataclass(frozen=True)
class Labels:
    """Which exams a piece holds: observers' codes, eyes, repeats from 1, each (exams,)."""

    codes: NDArray[np.str_]
    eyes: NDArray[np.str_]
    repeats: Ints


@dataclass(frozen=True)
class Piece:
    """A range of exams with all they need, fit to be sent to another process or machine."""

    number: int
    protocol: Protocol
    labels: Labels
    watchers: Watchers
    limits_db: Floats
    means_db: Floats
    delivery: float
    seeds: Ints
    grader: Grader
    format: Format


def pieces(study: Study, size: int = EXAMS) -> range:
    """Numbers of all pieces."""
    return range(-(-study.exams // size))


def piece(study: Study, number: int, form: Format, size: int = EXAMS) -> Piece:
    """One piece of a study."""
    exam = np.arange(number * size, min((number + 1) * size, study.exams))
    entry, repeat = exam // study.repeats, exam % study.repeats
    codes, eyes = study.observers.codes[entry], study.observers.eyes[entry]
    return Piece(
        number=number,
        protocol=study.protocol,
        labels=Labels(codes, eyes, repeat + 1),
        watchers=rows_of(study.observers.watchers, entry),
        limits_db=study.limits_db[entry],
        means_db=study.means_db[entry],
        delivery=study.delivery,
        seeds=exam_seeds(study.seed, codes, eyes, repeat),
        grader=study.grader,
        format=form,
    )


def exam_seeds(
    seed: int, codes: Sequence[str] | NDArray[np.str_], eyes: NDArray[np.str_], repeat: Ints
) -> Ints:
    """Seed of each exam, a function of (seed, observer, eye, repeat) and of nothing else."""
    address = [_address(code, eye) for code, eye in zip(codes, eyes, strict=True)]
    sitting = uniform(seed, np.array(address, np.uint64), Stream.EXAM_SEED) * 2.0**53
    again = uniform(sitting.astype(np.uint64), repeat, Stream.EXAM_SEED) * 2.0**53
    return again.astype(np.int64)


def _address(code: str, eye: str) -> int:
    return int.from_bytes(hashlib.sha256(f"{code}\n{eye}".encode()).digest()[:8], "big")


def run_piece(work: Piece) -> bytes:
    """Run a piece's exams; returns its part of the results file."""
    loss_db = float(-20 * np.log10(work.delivery)) + 0.0
    rig = rig_for(work.protocol, work.delivery)
    outcome = run_exams(rig, work.limits_db - loss_db, work.watchers, work.seeds)
    grades = work.grader(outcome, work.limits_db, work.means_db)
    return encode(work, outcome, grades, loss_db)
