"""A case ready to be worked on: its protocol, reference, display, hidden truth and sitting."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from functools import cached_property
from pathlib import Path

from analysis.cases.questions import Question, questions_of
from analysis.cases.truth import Truth, truth_of
from analysis.reference import Reference, load_reference
from protocols.cases.fields import hidden_fields
from protocols.cases.file import Case
from protocols.cases.habits import Careful
from protocols.cases.play import Act, Attempt, Played, play
from protocols.cases.setups import THINGS, NoFault, room_note
from protocols.cases.sitter import Sitter
from protocols.folder import open_folder
from protocols.journal import JOURNAL, utc_text
from protocols.library import Protocol, load_protocol
from protocols.light import Light
from protocols.plan import ExamPlan, eyes_in_order
from protocols.practice import NOBODY
from stimulus.opening import Sitting, caution_line, make_plan, opened_line
from stimulus.virtual_exam import VIRTUAL_BUTTON, virtual_display

BEGAN = datetime(2030, 5, 6, 9, 0, tzinfo=timezone.utc)
"""When a case pretends to have been tested."""
DAYS_A_YEAR = 365.25
EARLIER_SEED = 7919
"""Added to a sitting's seed for its earlier visit."""


@dataclass(frozen=True, eq=False)
class Room:
    """A case with the seed of this sitting: a class that shares both shares all answers."""

    case: Case
    protocol: Protocol
    reference: Reference
    seed: int

    @cached_property
    def light(self) -> Light:
        """What the case's display makes of a nominal contrast, as far as the program knows."""
        display = virtual_display(self.protocol)
        return Light(display.refresh_hz, display.delivery)

    @cached_property
    def truth(self) -> Truth:
        """What there is to be found."""
        return truth_of(self.case.file, self.protocol, self.reference, self.light.delivery)

    @property
    def questions(self) -> tuple[Question, ...]:
        """What a reader is asked."""
        return questions_of(self.truth)

    @property
    def notes(self) -> dict[str, str]:
        """What somebody who looked round the room wrote down."""
        return {thing: room_note(self.case.file.set_up, thing) for thing in THINGS}

    def sitter(self) -> Sitter:
        """The person as they sit down."""
        file = self.case.file
        return Sitter(self.truth.fields, self.seed, file.observer, file.set_up)

    def play(self, acts: tuple[Act, ...]) -> Played:
        """The session after these acts."""
        return play(self.sitter(), self.plan, self.light, acts)

    def finished(self) -> Played:
        """The exam of somebody who just let it run."""
        return self.play(tuple(Act("run") for _ in self.truth.eyes))

    def sitting(self, seed: int) -> Sitting:
        """Who sits down, as the record says it."""
        file = self.case.file
        return Sitting(
            participant=code_of(file.name),
            age_years=file.age_years,
            eyes=eyes_in_order(self.protocol, file.eyes),
            seed=seed,
            skip_practice=False,
            start="press",
            simulated=True,
            command=f"ripplefield learn {file.name}",
            confirmed_by=NOBODY,
        )

    def plan(self, seed: int) -> ExamPlan:
        """The plan of an exam from its seed."""
        sitting = self.sitting(seed)
        return make_plan(self.protocol, self.reference, sitting, self.light.delivery)

    def write_exam(self, folder: Path, attempt: Attempt, years_before: float = 0.0) -> Path:
        """Write an exam's record as any other, once; returns its folder."""
        if not (folder / JOURNAL).exists():
            _write(self, folder, attempt, BEGAN - timedelta(days=DAYS_A_YEAR * years_before))
        return folder

    def write_result(self, folder: Path) -> list[Path]:
        """Write what a reader reads: the exam, after that of an earlier visit if there was one."""
        now = self.write_exam(folder / "visit-2", self.finished().last)
        earlier = self.case.file.earlier
        if earlier is None:
            return [now]
        before = self.write_exam(folder / "visit-1", self._earlier().last, earlier.years)
        return [before, now]

    def _earlier(self) -> Played:
        file = self.case.file
        assert file.earlier is not None
        fields = hidden_fields(file, self.protocol, file.earlier.shallower_db)
        person = Sitter(fields, self.seed + EARLIER_SEED, Careful(), NoFault())
        runs = [Act("run") for _ in self.truth.eyes]
        return play(person, self.plan, self.light, runs)


def code_of(name: str) -> str:
    """The participant's code of a case's records."""
    return name.upper()


def open_room(case: Case, seed: int | None = None) -> Room:
    """A case ready to be worked on; `seed` takes the place of the case's own for the sitting.

    Raises InputError for a protocol, an age or a loss that cannot be used.
    """
    protocol, reference = load_protocol(case.protocol), load_reference()
    room = Room(case, protocol, reference, case.file.seed if seed is None else seed)
    room.plan(room.seed)
    truth_of(case.file, protocol, reference, room.light.delivery)
    return room


def _write(room: Room, folder: Path, attempt: Attempt, began: datetime) -> None:
    sitting = room.sitting(attempt.plan.seed)
    display = virtual_display(room.protocol)
    now = [0.0]
    first = (
        opened_line(attempt.plan, room.reference, sitting, room.light.delivery, VIRTUAL_BUTTON),
        display,
        caution_line(attempt.plan, sitting, display, room.light),
    )
    journal = open_folder(
        folder, room.protocol, room.reference.text, first,
        lambda: now[0], lambda: utc_text(began + timedelta(seconds=now[0])),
    )  # fmt: skip
    for entry in attempt.entries:
        now[0] = entry.t_s
        journal.append(entry.event)
    journal.sync()
    journal.close()
