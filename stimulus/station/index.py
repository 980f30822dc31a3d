"""What is known of every exam of the day: read once, and again only when its journal changed."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from pathlib import Path

import msgspec

from analysis.grade import grade_exam
from analysis.load import ExamRecord, load_exam
from analysis.reference import load_reference
from analysis.result import EyeResult, Result
from protocols.errors import RipplefieldError
from protocols.files import UNREADABLE_JSON
from protocols.journal import JOURNAL
from stimulus.station.runs import EXAMS

GRADES = range(5)
Stamp = tuple[int, int]


@dataclass(frozen=True)
class EyeSummary:
    """One eye of an exam."""

    eye: str
    status: str
    sentence: str
    presentations: int
    by_grade: tuple[int, ...]
    places: int
    gaze: tuple[int, int]
    presses: tuple[int, int]
    attention: tuple[int, int]


@dataclass(frozen=True)
class Summary:
    """One exam. `standing` is the verdict on the sitting; `trouble` why nothing can be said."""

    exam: str
    code: str = ""
    age_years: int = 0
    initials: str = ""
    opened_utc: str = ""
    ended_utc: str = ""
    seconds: float = 0.0
    finished: bool = False
    reason: str = ""
    standing: str = ""
    simulated: bool = False
    frames_shown: int = 0
    frames_late: int = 0
    spoiled: int = 0
    presentations: int = 0
    eyes: tuple[EyeSummary, ...] = ()
    corrections: tuple[str, ...] = ()
    eye_corrected: bool = False
    advice: tuple[str, ...] = ()
    trouble: str = ""

    @property
    def flagged(self) -> int:
        """Places that lie below the limit, over all eyes."""
        return sum(sum(eye.by_grade[1:]) for eye in self.eyes)

    @property
    def worst_grade(self) -> int | None:
        """The highest grade of any place; None where no place was graded."""
        found = [grade for eye in self.eyes for grade in GRADES if eye.by_grade[grade]]
        return max(found, default=None)

    @property
    def state(self) -> str:
        """finished, stopped, or what is wrong."""
        if self.trouble:
            return "not readable"
        return "finished" if self.finished else "stopped"


@dataclass
class Index:
    """Summaries of the exams of a data folder."""

    data: Path
    _known: dict[str, tuple[Stamp, Summary]] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def names(self) -> list[str]:
        """Exams that have a journal, by name."""
        folder = self.data / EXAMS
        return sorted(path.parent.name for path in folder.glob(f"*/{JOURNAL}"))

    def all(self) -> list[Summary]:
        """All exams in the order they were begun."""
        return sorted((self.of(name) for name in self.names()), key=lambda s: s.opened_utc)

    def of(self, exam: str) -> Summary:
        """The summary of one exam."""
        folder = self.data / EXAMS / exam
        try:
            found = (folder / JOURNAL).stat()
        except OSError:
            return Summary(exam, trouble="There is no record.")
        stamp = (found.st_size, found.st_mtime_ns)
        with self._lock:
            known = self._known.get(exam)
            if known is None or known[0] != stamp:
                known = self._known[exam] = (stamp, summarise(folder))
        return known[1]


def summarise(folder: Path) -> Summary:
    """Read one exam; what cannot be read becomes the summary's `trouble`."""
    try:
        record = load_exam(folder)
        return _summary(folder.name, record, _result(folder, record))
    except RipplefieldError as error:
        return Summary(folder.name, trouble=str(error))
    except OSError as error:
        return Summary(folder.name, trouble=f"The system says: {error.strerror}.")


def _result(folder: Path, record: ExamRecord) -> Result:
    """The result on disk if it belongs to the journal as it is now, else a new one."""
    try:
        kept = msgspec.json.decode((folder / "result.json").read_bytes(), type=Result)
        if kept.journal_sha256 == record.journal_sha256:
            return kept
    except (OSError, *UNREADABLE_JSON):
        pass
    return grade_exam(record, load_reference(folder / "reference.toml"))


def _summary(exam: str, record: ExamRecord, result: Result) -> Summary:
    facts, timing = result.exam, result.timing
    return Summary(
        exam=exam,
        code=facts.participant,
        age_years=facts.age_years,
        initials=result.safety.confirmed_by,
        opened_utc=facts.opened_utc,
        ended_utc=facts.ended_utc,
        seconds=facts.seconds,
        finished=facts.finished,
        reason=facts.reason,
        standing=_standing(_kinds(record)),
        simulated=facts.simulated,
        frames_shown=timing.frames_shown,
        frames_late=timing.frames_late,
        spoiled=timing.spoiled,
        presentations=timing.presentations,
        eyes=tuple(_eye(eye, found) for eye, found in result.eyes.items()),
        corrections=tuple(
            f"{c.what}: was {c.was}, is {c.now} (by {c.by})" for c in record.corrections
        ),
        eye_corrected=record.eye_corrected,
        advice=tuple(advice.kind for advice in record.advice),
    )


def _kinds(record: ExamRecord) -> set[str]:
    """What the operator was told; of the gaze nothing is known where the eye was corrected."""
    kinds: set[str] = {advice.kind for advice in record.advice}
    return kinds - {"look_at_mark", "unusable_gaze"} if record.eye_corrected else kinds


def _standing(kinds: set[str]) -> str:
    if any(kind.startswith("unusable") for kind in kinds):
        return "not usable"
    if kinds & {"look_at_mark", "press_only_when_seen", "stay_attentive", "practice_not_passed"}:
        return "with care"
    return "good"


def _eye(eye: str, found: EyeResult) -> EyeSummary:
    rates = found.reliability
    return EyeSummary(
        eye=eye,
        status=found.status,
        sentence=found.sentence,
        presentations=found.presentations,
        by_grade=tuple(found.summary.by_grade),
        places=found.summary.places,
        gaze=(rates.fixation.wrong, rates.fixation.shown),
        presses=(rates.false_positive.wrong, rates.false_positive.shown),
        attention=(rates.false_negative.wrong, rates.false_negative.shown),
    )
