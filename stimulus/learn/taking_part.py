"""The student as the participant: the real window, then questions on their own result."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.cases.marking import Score, mark_all
from analysis.cases.own import own_questions
from analysis.grade import grade_folder
from calibration.geometry import screen_of_width
from protocols.errors import RipplefieldError
from protocols.messages import Done
from stimulus.learn.sessions import Session
from stimulus.learn.text import Ask, Say, ask_all
from stimulus.opening import Sitting

if TYPE_CHECKING:
    from stimulus.runner import Setup


@dataclass(frozen=True)
class Person:
    """Who sits down, before which window: sizes in pixels and centimetres."""

    age_years: int
    size_px: tuple[int, int]
    width_cm: float
    distance_cm: float
    button: str
    confirmed_by: str
    code: str


def require_ready(session: Session, person: Person) -> None:
    """Raise InputError for what no window need be opened for; nothing is made."""
    from stimulus import runner

    sitting, setup = _sitting(session, person), _setup(person)
    runner.require_ready(_exam_folder(session), session.room.protocol, sitting, setup)


def take_part(session: Session, person: Person, ask: Ask, say: Say) -> Score:
    """Run the case's protocol on a person in a window without a certificate, then ask.

    The eye is the first the case tests. Raises RipplefieldError if the exam does not finish.
    """
    from stimulus.runner import run_exam

    room, sitting, folder = session.room, _sitting(session, person), _exam_folder(session)
    state = run_exam(folder, room.protocol, room.reference, sitting, _setup(person))
    if state.phase != "finished":
        reason = state.action.reason if isinstance(state.action, Done) else state.phase
        raise RipplefieldError(f"the exam did not finish: {reason}; its record is in {folder}")
    result = grade_folder(folder)
    questions = own_questions(result.eyes[sitting.eyes[0]])
    answers = ask_all(questions, ask, say)
    say(result.eyes[sitting.eyes[0]].sentence)
    return session.keep(answers, mark_all(questions, answers))


def _sitting(session: Session, person: Person) -> Sitting:
    room = session.room
    return replace(
        room.sitting(room.seed),
        participant=person.code,
        age_years=person.age_years,
        eyes=room.truth.eyes[:1],
        simulated=person.button.startswith("simulated:"),
        confirmed_by=person.confirmed_by,
    )


def _setup(person: Person) -> Setup:
    from stimulus.runner import Setup

    screen = screen_of_width(*person.size_px, person.width_cm, person.distance_cm)
    return Setup(screen, False, person.button)


def _exam_folder(session: Session) -> Path:
    return session.folder / "own-exam"
