"""The healthy sample: levels of people by place, both eyes written as right ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from analysis.load import ExamRecord
from analysis.result import EyeResult, Result
from protocols.errors import InputError
from protocols.field import EYES, Floats, Place
from protocols.procedures.interface import Bools, Ints
from protocols.procedures.settings import RisingSettings


@dataclass(frozen=True)
class Sample:
    """People as rows: codes, ages in years (people,), levels in delivered contrast dB.

    Levels have shape (people, eyes, places), the eyes in the order right, left, the places those
    of the right eye (left eyes mirrored); not a number where an eye was not measured. `doubtful`
    counts wrong catch trials of each person.
    """

    codes: tuple[str, ...]
    age_years: Floats
    level_db: Floats
    places: tuple[Place, ...]
    doubtful: tuple[int, ...] = ()

    def __len__(self) -> int:
        return len(self.codes)

    @property
    def known(self) -> Bools:
        """Which levels there are, (people, eyes, places)."""
        return np.isfinite(self.level_db)

    @property
    def eyes(self) -> int:
        """Eyes measured."""
        return int(self.known.any(axis=2).sum())

    @property
    def eccentricity_deg(self) -> Floats:
        """Distance of each place from the mark, (places,)."""
        return np.array([place.eccentricity_deg for place in self.places])

    def without(self, person: int) -> Sample:
        """The sample without one person."""
        return self._of(np.flatnonzero(np.arange(len(self)) != person))

    def alone(self, person: int) -> Sample:
        """That person by themselves."""
        return self._of(np.array([person]))

    def _of(self, rows: Ints) -> Sample:
        codes = tuple(self.codes[row] for row in rows.tolist())
        return Sample(codes, self.age_years[rows], self.level_db[rows], self.places)


@dataclass(frozen=True)
class Facts:
    """What all exams of a sample share, and what was left out of it."""

    protocol: str
    protocol_sha256: str
    procedure: str
    pattern: str
    exams: int
    uncalibrated: int
    simulated: bool
    left_out: tuple[str, ...]


@dataclass(frozen=True)
class Exam:
    """One graded exam as a sample needs it."""

    folder: Path
    record: ExamRecord
    result: Result


def gather(exams: Sequence[Exam]) -> tuple[Sample, Facts]:
    """The sample of graded exams: of each person and eye the first complete exam.

    Raises InputError for no exam, for exams that differ in protocol, for a procedure that measures
    no thresholds, and for simulated exams among real ones.
    """
    if not exams:
        raise InputError("DIR", "no exam", "folders of healthy exams", "Name their folder.")
    ordered = sorted(exams, key=lambda exam: (exam.result.exam.opened_utc, str(exam.folder)))
    for exam in ordered:
        _require_fit(exam, ordered[0])
    chosen, left_out = _chosen(ordered)
    return _sample(chosen, ordered[0]), _facts(ordered, left_out)


def _require_fit(exam: Exam, first: Exam) -> None:
    if isinstance(exam.record.protocol.settings.procedure, RisingSettings):
        raise InputError(
            str(exam.folder), f"{exam.result.exam.protocol}, which measures no thresholds",
            "exams under a threshold protocol, such as bayes-19 or staircase-19",
            "Examine healthy people under such a protocol.",
        )  # fmt: skip
    if exam.record.protocol.sha256 != first.record.protocol.sha256:
        raise InputError(
            str(exam.folder), f"protocol {exam.result.exam.protocol}, not the same file",
            f"exams under one protocol, {first.result.exam.protocol} of {first.folder}",
            "Build one reference a protocol.",
        )  # fmt: skip
    if exam.result.exam.simulated != first.result.exam.simulated:
        raise InputError(
            str(exam.folder), "simulated exams and exams of people together", "one kind only",
            "Keep simulated exams in a folder of their own.",
        )  # fmt: skip


Chosen = dict[tuple[str, int], tuple[Exam, EyeResult]]


def _chosen(exams: Sequence[Exam]) -> tuple[Chosen, list[str]]:
    """Each person's eye with its first complete exam, and in words what was not used."""
    chosen: Chosen = {}
    left_out = []
    for exam in exams:
        for side, eye in enumerate(EYES):
            found = exam.result.eyes.get(eye)
            if found is None:
                continue
            code = exam.result.exam.participant
            if found.status != "complete":
                left_out.append(f"{code}, {eye} eye: {found.status} in {exam.folder.name}")
            elif (code, side) in chosen:
                left_out.append(f"{code}, {eye} eye: a later exam in {exam.folder.name}")
            else:
                chosen[code, side] = (exam, found)
    return chosen, left_out


def _sample(chosen: Chosen, first: Exam) -> Sample:
    codes = tuple(sorted({code for code, _ in chosen}))
    row = {code: number for number, code in enumerate(codes)}
    places = first.record.protocol.pattern.places
    levels = np.full((len(codes), 2, len(places)), np.nan)
    ages, doubtful = np.zeros(len(codes)), [0] * len(codes)
    for (code, side), (exam, eye) in chosen.items():
        levels[row[code], side] = [place.estimate_db for place in eye.places]
        ages[row[code]] = exam.result.exam.age_years
        doubtful[row[code]] += _wrong(eye)
    return Sample(codes, ages, levels, places, tuple(doubtful))


def _wrong(eye: EyeResult) -> int:
    found = eye.reliability
    return found.fixation.wrong + found.false_positive.wrong + found.false_negative.wrong


def _facts(exams: Sequence[Exam], left_out: Sequence[str]) -> Facts:
    first = exams[0].result.exam
    return Facts(
        protocol=first.protocol,
        protocol_sha256=first.protocol_sha256,
        procedure=first.procedure,
        pattern=exams[0].record.protocol.pattern.name,
        exams=len(exams),
        uncalibrated=sum(not exam.result.display.calibrated for exam in exams),
        simulated=first.simulated,
        left_out=tuple(left_out),
    )
