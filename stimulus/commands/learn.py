"""`ripplefield learn`: teaching cases."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from protocols import RESEARCH_ONLY
from stimulus.commands.base import Command
from stimulus.commands.parameters import Number, OneOf, Size, Words

if TYPE_CHECKING:
    from analysis.cases.marking import Score
    from protocols.cases.file import Case
    from stimulus.learn.sessions import Session
    from stimulus.learn.taking_part import Person

ROLES = ("operator", "reader", "participant")
WINDOW = ("age", "distance", "screen_width", "safety_confirmed_by")
"""What only a participant needs."""


@click.command(
    cls=Command, epilog="Example: ripplefield learn case-03 --text --as reader --out lesson-1"
)
@click.argument("cases", nargs=-1, type=Words("a bundled name or the path of a .toml file"),
                metavar="[CASE]...")  # fmt: skip
@click.option(
    "--as",
    "role",
    type=OneOf(ROLES),
    help="operator runs the exam, reader reads its result, participant takes part.",
)
@click.option("--text", is_flag=True, help="In the terminal; without, pages in the browser.")
@click.option("--list", "listing", is_flag=True, help="List the cases, easiest first.")
@click.option(
    "--check",
    type=Words("a session's record"),
    metavar="RECORD.json",
    help="Play a student's record again and mark it anew.",
)
@click.option("--json", "as_json", is_flag=True, help="Print list or marks as JSON.")
@click.option(
    "--out",
    type=Words("a folder"),
    default="ripplefield-learn",
    show_default=True,
    metavar="DIR",
    help="Folder for exams and session records; made if it is not there.",
)
@click.option(
    "--student",
    type=Words("a code such as S-04"),
    metavar="CODE",
    help="A code for the record, never a name: S-04.",
)
@click.option(
    "--seed",
    type=Number(0, 2**32 - 1, "Give a whole number.", whole=True),
    help="Other answers of the same person; a class shares case and seed.",
)
@click.option(
    "--port",
    type=Number(0, 65535, "Choose one that is free; 0 lets the system choose.", whole=True),
    default="0",
    show_default=True,
    help="Port of the pages; 0 for any that is free.",
)
@click.option(
    "--age",
    type=Number(20, 85, "Give the age in whole years.", whole=True, unit="years"),
    help="Participant: whole years.",
)
@click.option(
    "--windowed", type=Size(), default="1280x720", show_default=True, metavar="WxH",
    help="Participant: size of the window.",
)  # fmt: skip
@click.option(
    "--distance",
    type=Number(10, 300, "Measure from the eye to the fixation mark.", unit="cm"),
    help="Participant: eye to mark, cm.",
)
@click.option(
    "--screen-width",
    type=Number(5, 500, "Measure the lit width that the window covers.", unit="cm"),
    help="Participant: lit width, cm.",
)
@click.option(
    "--button",
    type=Words("keyboard, serial:PORT or simulated:OBSERVER.toml"),
    default="keyboard",
    show_default=True,
    help="Participant: keyboard, serial:PORT or simulated:OBSERVER.toml.",
)
@click.option(
    "--safety-confirmed-by",
    type=Words("the initials of who asked, 2 to 4 letters"),
    metavar="INITIALS",
    help="Participant: who asked the photosensitivity question and heard no.",
)
def command(cases: tuple[str, ...], **given: Any) -> int:
    """Learn on invented people: run an exam, read a result, or take part.

    CASE is a bundled name or a file; without one, all bundled cases. Pages open in a browser on
    this machine unless --text is given.
    """
    from protocols.cases.file import load_cases

    _require_used(given)
    if given["check"] is not None:
        return _check(cases, given)
    found = load_cases(cases)
    if given["listing"]:
        return _list(found, given["as_json"])
    role = given["role"] or "reader"
    if role == "participant" or given["text"]:
        return _one(found, cases, role, given)
    return _pages(found, given)


def _require_used(given: dict[str, Any]) -> None:
    """Raise InputError for an option that would do nothing."""
    from protocols.errors import InputError

    person, text = given["role"] == "participant", given["text"]
    if given["role"] and not (person or text):
        todo = "Add --text, or leave --as out: the pages offer both."
        raise InputError("--as", given["role"], "participant, or with --text", todo)
    if given["as_json"] and not (person or text or given["listing"] or given["check"]):
        allowed = "--list, --text, --check or --as participant beside it"
        raise InputError("--json", "pages", allowed, "Add one of them.")
    for key in WINDOW:
        if given[key] is not None and not person:
            name = f"--{key.replace('_', '-')}"
            raise InputError(name, given[key], "with --as participant only", f"Leave {name} out.")


def _list(found: list[Case], as_json: bool) -> int:
    from stimulus.learn.words import case_facts, case_line

    if as_json:
        _print_json([case_facts(case) for case in found])
        return 0
    for case in found:
        click.echo(case_line(case))
    click.echo(RESEARCH_ONLY)
    return 0


def _print_json(value: object) -> None:
    import json

    click.echo(json.dumps(value, indent=2, ensure_ascii=False))


def _check(cases: tuple[str, ...], given: dict[str, Any]) -> int:
    """Exit code 1 where the record's points are not those that its acts or answers earn."""
    from pathlib import Path

    import msgspec

    from analysis.cases.record import read_record
    from protocols.cases.file import load_case
    from stimulus.learn.sessions import check_record

    path = Path(given["check"])
    name = cases[0] if cases else read_record(path).case
    record, score = check_record(path, load_case(name))
    same = score == record.score
    if given["as_json"]:
        _print_json({
            "record": path.name, "case": record.case, "role": record.role,
            "student": record.student, "as_recorded": same,
            "score": msgspec.to_builtins(score), "notice": RESEARCH_ONLY,
        })  # fmt: skip
    else:
        _say_score(score, record.about)
        click.echo("The record's points are these." if same else "THE RECORD SAYS OTHERWISE.")
    return 0 if same else 1


def _say_score(score: Score, about: str) -> None:
    from stimulus.learn.words import score_lines

    for line in score_lines(score, about):
        click.echo(line)


def _one(found: list[Case], cases: tuple[str, ...], role: str, given: dict[str, Any]) -> int:
    """One case in the terminal: the dialogue goes to the error stream, the marks to the output."""
    from protocols.errors import InputError
    from stimulus.learn.taking_part import require_ready, take_part
    from stimulus.learn.text import read_result, run_exam_of_case

    if len(cases) != 1:
        named = ", ".join(cases)
        raise InputError("case", named, "one case", "Name one. See: ripplefield learn --list")
    person = _person(given) if role == "participant" else None
    session = _session(found[0], role, given)
    if person is not None:
        require_ready(session, person)
    say = _aloud
    say(f"{found[0].name}: {found[0].file.about}\n{RESEARCH_ONLY}")
    if person is not None:
        score = take_part(session, person, _ask, say)
    elif role == "operator":
        score = run_exam_of_case(session, _ask, say)
    else:
        score = read_result(session, _ask, say)
    if given["as_json"]:
        click.echo(session.record_path.read_text(encoding="utf-8"), nl=False)
    else:
        _say_score(score, session.about)
        click.echo(f"record for the teacher: {session.record_path}")
    return 0


def _aloud(words: str) -> None:
    click.echo(words, err=True)


def _ask(what: str) -> str:
    answer: str = click.prompt(what, default="", show_default=False, err=True)
    return answer


def _session(case: Case, role: str, given: dict[str, Any]) -> Session:
    from stimulus.learn.sessions import new_session

    seed = None if given["seed"] is None else int(given["seed"])
    return new_session(case, role, given["out"], given["student"], seed)


def _person(given: dict[str, Any]) -> Person:
    """Who takes part, checked before anything is made."""
    from protocols.codes import require_code
    from stimulus.commands.run import confirmed
    from stimulus.learn.taking_part import Person

    simulated = given["button"].startswith("simulated:")
    for key in WINDOW[:3]:
        _require(given, key)
    return Person(
        age_years=int(given["age"]),
        size_px=given["windowed"],
        width_cm=float(given["screen_width"]),
        distance_cm=float(given["distance"]),
        button=given["button"],
        confirmed_by=confirmed(given["safety_confirmed_by"], simulated),
        code=require_code(given["student"] or "S-0", "--student"),
    )


def _require(given: dict[str, Any], key: str) -> None:
    from protocols.errors import InputError

    if given[key] is None:
        name = f"--{key.replace('_', '-')}"
        raise InputError(name, "", "a number, for a participant", f"Add {name}.")


def _pages(found: list[Case], given: dict[str, Any]) -> int:
    from stimulus.learn.site import Classroom, build_app
    from stimulus.station.serve import Door, serve_app

    seed = None if given["seed"] is None else int(given["seed"])
    room = Classroom.open(found, given["out"], given["student"], seed)
    serve_app(lambda access: build_app(room, access), Door(port=int(given["port"])), _aloud)
    return 0
