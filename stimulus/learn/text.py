"""A case in the terminal: the same questions, acts and marks as on the pages."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from analysis.cases.marking import Answer, Score, mark_all
from analysis.cases.questions import NEXT, Choice, Question
from analysis.grade import grade_folder
from analysis.report.page import write_report
from protocols.cases.play import WHAT, require_act
from protocols.errors import InputError, RipplefieldError
from stimulus.learn.sessions import Session
from stimulus.learn.view import view_of
from stimulus.learn.words import DISPLAY_NOTE, result_lines

Ask = Callable[[str], str]
Say = Callable[[str], None]
HELP = f"""\
check THING    look at one thing of the room: {", ".join(WHAT["check"])}
mend THING     put it right
run [N]        go on for N presentations, or to the end of the eye
say WORD       {", ".join(WHAT["say"])}
               (look at the mark, press only when you see it, stay with it, be quick)
rest           pause for a minute
stop           end this exam;  again: begin a new one
next STEP      end the session: {", ".join(key for key, _ in NEXT)}"""


def read_result(session: Session, ask: Ask, say: Say) -> Score:
    """Show a finished result, ask all questions, mark them; raises InputError."""
    folders = session.result_folders()
    for folder in folders:
        result = grade_folder(folder)
        say(f"\nTested {result.exam.opened_utc[:10]}, {result.exam.age_years} years.")
        for line in result_lines(result):
            say(line)
    page = write_report(folders, session.folder / "result.html")
    say(f"\nThe same with pictures: {page}")
    say(DISPLAY_NOTE)
    say("\nNotes from the room:")
    for thing, note in session.room.notes.items():
        say(f"    {thing}: {note}")
    return session.answer(ask_all(session.room.questions, ask, say))


def ask_all(questions: Sequence[Question], ask: Ask, say: Say) -> dict[str, Answer]:
    """Ask each question until it has an answer that counts."""
    return {question.key: _asked(question, ask, say) for question in questions}


def _asked(question: Question, ask: Ask, say: Say) -> Answer:
    say(f"\n{question.asks}")
    if isinstance(question, Choice):
        for number, (_, words) in enumerate(question.options, start=1):
            say(f"  {number:2}  {words}")
    else:
        say("  numbers with commas between, none, or cannot")
    while True:
        try:
            return _understood(question, ask("answer"))
        except InputError as error:
            say(f"{error}")


def _understood(question: Question, given: str) -> Answer:
    """An option by number or key, or place numbers; raises InputError."""
    answer: str = given.strip()
    if isinstance(question, Choice) and answer.isdecimal():
        if not 1 <= int(answer) <= len(question.options):
            allowed = f"1 to {len(question.options)}"
            raise InputError(question.key, answer, allowed, "Give the number of one answer.")
        answer = question.options[int(answer) - 1][0]
    mark_all((question,), {question.key: answer})
    return answer


def run_exam_of_case(session: Session, ask: Ask, say: Say) -> Score:
    """Let the student run the exam act by act, until they name the next step."""
    say(HELP)
    while True:
        word, _, rest = ask("act").strip().partition(" ")
        try:
            if word == "next":
                return session.decide(rest.strip())
            if word == "help":
                say(HELP)
                continue
            _act(session, word, rest.strip(), say)
        except RipplefieldError as error:
            say(str(error))


def _act(session: Session, do: str, rest: str, say: Say) -> None:
    before = len(session.played.last.entries)
    attempts = len(session.played.attempts)
    act = require_act(do, "", rest) if do == "run" else require_act(do, rest)
    session.act(act)
    mark = session.played.marks[-1]
    if mark.found:
        say(f"  {mark.found}")
    anew = len(session.played.attempts) > attempts
    for line in _news(session, 0 if anew else before):
        say(f"  {line}")


def _news(session: Session, since: int) -> list[str]:
    """What happened since a line of the record, then where the exam stands."""
    from protocols.events import Advised

    view = view_of(session)
    told = [
        entry.event.text for entry in session.played.last.entries[since:]
        if isinstance(entry.event, Advised)
    ]  # fmt: skip
    eyes = ", ".join(f"{eye.eye} {eye.done} of {eye.total} places" for eye in view.eyes)
    strip = "; ".join(f"{one.title}: {one.words}" for one in view.strip)
    last = f"Last: {view.last.words}" if view.last else "Nothing shown yet."
    return [*told, f"{view.sentence} {eyes}.", last, strip]
