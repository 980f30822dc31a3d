"""Comparing exams of one person: the two eyes, and each eye over visits.

Refuses exams of different participants, patterns or protocols: their levels mean different things.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np

from analysis.agreement import LEAST_PAIRS, Agreement, Learning, bland_altman, learning
from analysis.change import LEAST_SPAN_YEARS, LEAST_VISITS, Change, change_over
from analysis.compare_levels import Difference, EyeLevels, eye_levels, posterior_difference
from analysis.flips import FlipTest, sign_flip
from analysis.grade import grade_exam
from analysis.load import ExamRecord, load_exam
from analysis.next_step import is_unusable
from analysis.reference import Reference, load_reference
from analysis.result import Result
from analysis.symmetry import Asymmetry, asymmetry, mean_interval
from protocols.errors import InputError
from protocols.field import EYES, Eye, Floats
from protocols.files import sha256_hex
from protocols.procedures.settings import RisingSettings

DAYS_A_YEAR = 365.25


@dataclass(frozen=True)
class Visit:
    """One exam with its result and its time in years after the first one."""

    folder: str
    record: ExamRecord
    result: Result
    opened: datetime
    years: float
    eyes: dict[Eye, EyeLevels]


@dataclass(frozen=True)
class PlaceStep:
    """One place from the first to the last visit, dB."""

    number: int
    first_db: float
    last_db: float
    step: Difference


@dataclass(frozen=True)
class EyeVisits:
    """One eye over visits; `numbers` are the places finished at every visit.

    `steps` and `test` compare the first with the last visit; `change` needs three visits, and
    `change_without_first` is given where practice seems to have helped and four are at hand.
    """

    eye: Eye
    folders: tuple[str, ...]
    years: tuple[float, ...]
    mean_db: tuple[float, ...]
    numbers: tuple[int, ...]
    steps: tuple[PlaceStep, ...]
    step_mean_db: float
    step_interval_db: tuple[float, float]
    test: FlipTest
    agreement: Agreement | None
    pairs_db: tuple[tuple[float, float], ...]
    learning: Learning | None
    change: Change | None
    change_without_first: Change | None


@dataclass(frozen=True)
class Comparison:
    """All that these exams let one compare."""

    participant: str
    protocol: str
    pattern: str
    simulated: bool
    synthetic: bool
    reference_notice: str
    notes: tuple[str, ...]
    visits: tuple[Visit, ...]
    asymmetry: Asymmetry | None
    asymmetry_of: tuple[str, ...]
    eyes: tuple[EyeVisits, ...]


def compare(folders: Sequence[Path], reference: Reference | None = None) -> Comparison:
    """Compare exams of one person; all are judged against the reference of the last exam.

    Raises InputError where they cannot be compared, or hold nothing to compare.
    """
    records = [(str(folder), load_exam(folder)) for folder in folders]
    require_comparable(records)
    records.sort(key=lambda one: (one[1].entries[0].utc, one[0]))
    chosen = reference or load_reference(Path(records[-1][0]) / "reference.toml")
    visits = _visits(records, chosen)
    over = tuple(found for eye in EYES if (found := _eye_visits(visits, eye)) is not None)
    sides, of = _latest_eyes(visits)
    both = asymmetry(sides["right"], sides["left"]) if len(sides) == 2 else None
    if both is None and not over:
        raise _nothing(records)
    latest = visits[-1]
    return Comparison(
        participant=latest.result.exam.participant,
        protocol=latest.result.exam.protocol,
        pattern=latest.record.protocol.pattern.name,
        simulated=any(visit.result.exam.simulated for visit in visits),
        synthetic=chosen.file.synthetic,
        reference_notice=chosen.file.notice,
        notes=_notes(visits),
        visits=visits,
        asymmetry=both,
        asymmetry_of=of if both is not None else (),
        eyes=over,
    )


def require_comparable(records: Sequence[tuple[str, ExamRecord]]) -> None:
    """Raise InputError for exams of different people, patterns or protocols, or one exam twice."""
    name, first = records[0]
    for other, exam in records[1:]:
        _refuse(
            other, "participant", exam.opened.participant, first.opened.participant,
            f"exams of one participant, {first.opened.participant} as in {name}",
            "Compare exams of one person.",
        )  # fmt: skip
        _refuse(
            other, "pattern", _places_text(exam), _places_text(first),
            f"{_places_text(first)} as in {name}", "Compare exams of the same places.",
        )  # fmt: skip
        _refuse(
            other, "protocol", _protocol_text(exam), _protocol_text(first),
            f"{_protocol_text(first)} as in {name}",
            "Compare exams under one protocol; levels of others do not mean the same.",
        )  # fmt: skip
    hashes = [exam.journal_sha256 for _, exam in records]
    twice = [name for (name, _), h in zip(records, hashes, strict=True) if hashes.count(h) > 1]
    if twice:
        raise InputError("DIR", f"{twice[1]}, the same exam as {twice[0]}", "each exam once",
                         "Leave one of them out.")  # fmt: skip


def _refuse(name: str, what: str, given: str, wanted: str, allowed: str, todo: str) -> None:
    if given != wanted:
        raise InputError(f"{what} of {name}", given, allowed, todo)


def _places_text(exam: ExamRecord) -> str:
    pattern = exam.protocol.pattern
    where = repr([(round(p.x_deg, 3), round(p.y_deg, 3)) for p in pattern.places])
    mark = sha256_hex(where.encode())[:6]
    return f"{pattern.name} of {len(pattern.places)} places, fingerprint {mark}"


def _protocol_text(exam: ExamRecord) -> str:
    return f"{exam.opened.protocol}, SHA-256 {exam.opened.protocol_sha256[:12]}..."


def _visits(records: Sequence[tuple[str, ExamRecord]], reference: Reference) -> tuple[Visit, ...]:
    opened = [_moment(record.entries[0].utc) for _, record in records]
    return tuple(
        _visit(name, record, when, (when - opened[0]).total_seconds(), reference)
        for (name, record), when in zip(records, opened, strict=True)
    )


def _visit(
    name: str, record: ExamRecord, when: datetime, after_s: float, reference: Reference
) -> Visit:
    result = grade_exam(record, reference)
    eyes = {
        eye: eye_levels(record, eye, found, reference)
        for eye in EYES
        if (found := result.eyes.get(eye)) and any(p.estimate_db is not None for p in found.places)
    }
    years = round(after_s / 86400 / DAYS_A_YEAR, 6)
    return Visit(Path(name).name, record, result, when, years, eyes)


def _moment(utc: str) -> datetime:
    return datetime.fromisoformat(utc.replace("Z", "+00:00"))


def _latest_eyes(visits: Sequence[Visit]) -> tuple[dict[Eye, EyeLevels], tuple[str, ...]]:
    """Each eye as last tested, and the exams that were (one, or one for each eye)."""
    found: dict[Eye, EyeLevels] = {}
    names: dict[Eye, str] = {}
    for visit in visits:
        found |= visit.eyes
        names |= dict.fromkeys(visit.eyes, visit.folder)
    return found, tuple(dict.fromkeys(names[eye] for eye in EYES if eye in names))


def _eye_visits(visits: Sequence[Visit], eye: Eye) -> EyeVisits | None:
    tested = [visit for visit in visits if eye in visit.eyes]
    if len(tested) < 2:
        return None
    levels = np.stack([visit.eyes[eye].level_db for visit in tested])
    numbers = np.flatnonzero(np.isfinite(levels).all(axis=0))
    if len(numbers) < 2:
        return None
    years = np.array([visit.years for visit in tested])
    common = levels[:, numbers]
    steps = _steps(tested[0].eyes[eye], tested[-1].eyes[eye], numbers.tolist())
    differences = common[-1] - common[0]
    mean, interval = mean_interval(differences)
    learnt = learning(common[0], common[1])
    return EyeVisits(
        eye=eye,
        folders=tuple(visit.folder for visit in tested),
        years=tuple(years.tolist()),
        mean_db=tuple(round(float(v), 4) for v in common.mean(axis=1)),
        numbers=tuple(numbers.tolist()),
        steps=steps,
        step_mean_db=mean,
        step_interval_db=interval,
        test=sign_flip(differences),
        agreement=_agreement(common),
        pairs_db=tuple((float(a), float(b)) for a, b in zip(common[0], common[1], strict=True)),
        learning=learnt,
        change=_change(years, common, numbers.tolist(), LEAST_VISITS),
        change_without_first=_change(years[1:], common[1:], numbers.tolist(), LEAST_VISITS)
        if learnt is not None and learnt.flagged
        else None,
    )


def _steps(first: EyeLevels, last: EyeLevels, numbers: list[int]) -> tuple[PlaceStep, ...]:
    return tuple(
        PlaceStep(
            n,
            float(first.level_db[n]),
            float(last.level_db[n]),
            posterior_difference(
                first.posteriors[n],
                last.posteriors[n],
                float(last.level_db[n] - first.level_db[n]),
            ),
        )
        for n in numbers
    )


def _agreement(common: Floats) -> Agreement | None:
    return None if common.shape[1] < LEAST_PAIRS else bland_altman(common[1], common[0])


def _change(years: Floats, common: Floats, numbers: list[int], least: int) -> Change | None:
    if len(years) < least or np.ptp(years) < LEAST_SPAN_YEARS:
        return None
    return change_over(years, common, numbers)


def _nothing(records: Sequence[tuple[str, ExamRecord]]) -> InputError:
    eyes = sorted({eye for _, exam in records for eye in exam.opened.eyes})
    return InputError(
        "DIR",
        f"{', '.join(name for name, _ in records)} with the {' and '.join(eyes)} eye",
        "both eyes, or one eye at two visits or more, with two places finished in each",
        "Name another exam of this person.",
    )


def _notes(visits: Sequence[Visit]) -> tuple[str, ...]:
    """What makes levels less comparable than they look."""
    notes = []
    if isinstance(visits[0].record.protocol.settings.procedure, RisingSettings):
        notes.append(
            "This protocol stops at the first level seen: most levels are bounds, so small "
            "differences cannot show."
        )
    if not all(visit.result.display.calibrated for visit in visits):
        notes.append("Uncalibrated display in at least one exam.")
    floors = [visit.result.display.full_contrast_delivered_db for visit in visits]
    if max(floors) - min(floors) > 0.1:
        notes.append("The displays differ in the contrast they can deliver.")
    if len({visit.record.opened.reference.sha256 for visit in visits}) > 1:
        notes.append("The exams were run with different references.")
    notes += [
        f"The {eye} eye's answers in {visit.folder} were found not usable: do not rely on what is "
        "compared with them."
        for visit in visits
        for eye in visit.eyes
        if is_unusable(visit.result.eyes[eye].trust)
    ]
    return tuple(notes)
