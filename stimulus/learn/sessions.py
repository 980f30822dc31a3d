"""What one student has done with one case in one role, and the record of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import msgspec

from analysis.cases.marking import Answer, Score, mark_all
from analysis.cases.operating import judge_operator
from analysis.cases.record import (
    INVENTED,
    OWN,
    ROLES,
    Role,
    SessionRecord,
    read_record,
    write_record,
)
from protocols import RESEARCH_ONLY
from protocols.cases.file import Case
from protocols.cases.play import Act, Played
from protocols.codes import require_code
from protocols.errors import InputError
from protocols.folder import require_place
from protocols.journal import utc_now
from stimulus.learn.room import Room, open_room
from stimulus.opening import versions


@dataclass
class Session:
    """One student's work on a case; `score` is there once it is done.

    `draft` is a form as it was sent last, so that a page can show it again.
    """

    room: Room
    role: Role
    folder: Path
    student: str = ""
    acts: tuple[Act, ...] = ()
    answers: dict[str, Answer] = field(default_factory=dict)
    draft: dict[str, str] = field(default_factory=dict)
    score: Score | None = None
    _played: tuple[tuple[Act, ...], Played] | None = None

    @property
    def played(self) -> Played:
        """The operator's session so far."""
        if self._played is None or self._played[0] != self.acts:
            self._played = (self.acts, self.room.play(self.acts))
        return self._played[1]

    @property
    def about(self) -> str:
        """Who was examined, in words."""
        return OWN if self.role == "participant" else INVENTED

    @property
    def record_path(self) -> Path:
        """Where the record goes."""
        return self.folder / f"{self.role}.json"

    def act(self, act: Act) -> None:
        """Do one thing more; raises InputError once the session is over or full."""
        self._require_open()
        played = self.room.play((*self.acts, act))
        self.acts = (*self.acts, act)
        self._played = (self.acts, played)

    def decide(self, step: str) -> Score:
        """End an operator's session with the next step; raises InputError."""
        self._require_open()
        score = judge_operator(self.room.truth, self.played, step)
        self.answers = {"next": step}
        return self._end(score)

    def answer(self, answers: Mapping[str, Answer]) -> Score:
        """End a reader's session with all answers; raises InputError."""
        self._require_open()
        score = mark_all(self.room.questions, answers)
        self.answers = dict(answers)
        return self._end(score)

    def keep(self, answers: Mapping[str, Answer], score: Score) -> Score:
        """End a participant's session with answers that were marked against their own exam."""
        self._require_open()
        self.answers = dict(answers)
        return self._end(score)

    def result_folders(self) -> list[Path]:
        """Folders of the exams a reader reads, written once for each text of the case and seed."""
        exact = f"exams-{self.room.case.sha256[:8]}-{self.room.seed}"
        return self.room.write_result(self.folder / exact)

    def _require_open(self) -> None:
        if self.score is not None:
            raise InputError(
                "session", "one that is over", "one that is still open", "Begin the case anew."
            )

    def _end(self, score: Score) -> Score:
        write_record(self.record_path, make_record(self, score))
        self.score = score
        return score


def make_record(session: Session, score: Score) -> SessionRecord:
    """The record of a session that has just ended."""
    case = session.room.case
    person = session.role == "participant"
    return SessionRecord(
        format=1,
        notice=RESEARCH_ONLY,
        about=session.about,
        case=case.name,
        case_sha256=case.sha256,
        seed=session.room.seed,
        role=session.role,
        student=session.student,
        ended_utc=utc_now(),
        score=score,
        acts=list(session.acts),
        answers=session.answers,
        truth=None if person else msgspec.to_builtins(case.file),
        versions=versions(),
    )


def check_record(path: Path, case: Case) -> tuple[SessionRecord, Score]:
    """Read a record, play it again and mark it anew; raises InputError where it cannot be.

    The marks of a participant's record cannot be made anew: its exam is in another folder.
    """
    record = read_record(path)
    if record.case_sha256 != case.sha256:
        raise InputError(
            "record", f"case {record.case}, SHA-256 {record.case_sha256[:12]}...",
            f"{case.name}, SHA-256 {case.sha256[:12]}...", "Name the case file it was made with.",
        )  # fmt: skip
    room = open_room(case, record.seed)
    if record.role == "operator":
        step = str(record.answers.get("next", ""))
        return record, judge_operator(room.truth, room.play(tuple(record.acts)), step)
    if record.role == "reader":
        return record, mark_all(room.questions, record.answers)
    raise InputError(
        "record", "a participant's", "an operator's or a reader's", "Look at its exam instead."
    )


def new_session(
    case: Case, role: str, out: str, student: str | None = None, seed: int | None = None
) -> Session:
    """A session with its folder `out`/case; the student is a code. Raises InputError."""
    known = next(kind for kind in ROLES if kind == role)
    code = "" if student is None else require_code(student, "--student")
    return Session(open_room(case, seed), known, require_folder(out) / case.name, code)


def require_folder(out: str) -> Path:
    """The folder for exams and records, not made yet; raises InputError if it cannot be."""
    return require_place(Path(out))
