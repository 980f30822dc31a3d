"""The pages: the list of cases, the exam to run, the result to read, the marks."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, TypeVar

import msgspec
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Route

from analysis.cases.marking import Answer
from analysis.cases.questions import CANNOT, CANNOT_BE_TOLD, NEXT, Choice, Places
from analysis.cases.record import INVENTED
from analysis.grade import grade_exam
from analysis.load import load_exam
from analysis.report.page import exam_articles
from analysis.report.templating import templates
from protocols import RESEARCH_ONLY
from protocols.cases.habits import WORDS
from protocols.cases.play import SAID, require_act
from protocols.cases.setups import THINGS
from protocols.errors import InputError, RipplefieldError
from stimulus.learn.sessions import Session
from stimulus.learn.site import Classroom
from stimulus.learn.view import truth_view, view_of
from stimulus.learn.words import DISPLAY_NOTE, LEVELS, RULES, points_text, total_text, truth_rows
from stimulus.station.access import Session as Visitor
from stimulus.station.forms import read_form
from stimulus.station.pages import door
from stimulus.station.pages.frame import Tab, plain

Context = Mapping[str, Any]
Done = TypeVar("Done")
TABS = (Tab("/", "Cases"),)
LOOKS = ("learn.css", "learn.js")
STATIC = Path(__file__).parent / "static"
THING_WORDS = {
    "distance": "Distance",
    "cover": "Cover of the other eye",
    "room": "Light in the room",
    "screen": "Screen",
    "head": "Head",
}
SAY_WORDS = {word: WORDS[word] for word in SAID}


def _room(request: Request) -> Classroom:
    room: Classroom = request.app.state.station
    return room


def _answer(request: Request, template: str, context: Context, status: int = 200) -> HTMLResponse:
    """A rendered page with what the visitor had to be told, once."""
    visitor: Visitor = request.scope["session"]
    notice, warning = visitor.notice, visitor.warning
    visitor.notice = visitor.warning = ""
    found = templates("stimulus.learn", "stimulus.station").get_template(template)
    text = found.render(
        tabs=TABS, here=request.url.path, running=None, notice=notice, warning=warning,
        research_only=RESEARCH_ONLY, invented=INVENTED, points_text=points_text, **context,
    )  # fmt: skip
    return HTMLResponse(text, status)


def _page(path: str, template: str, make: Callable[[Request, Classroom], Context]) -> Route:
    async def _show(request: Request) -> Response:
        room = _room(request)
        try:
            found = await run_in_threadpool(_locked, room, make, request, room)
        except RipplefieldError as error:
            return _answer(request, "no-case.html.j2", {"error": str(error)}, 404)
        return _answer(request, template, found)

    return Route(path, _show, methods=["GET"])


def _locked(room: Classroom, work: Callable[..., Done], *given: object) -> Done:
    """Sessions are worked on one at a time."""
    with room.busy:
        return work(*given)


Act = Callable[[Session, dict[str, str], Classroom], str]


def _action(path: str, role: str, act: Act) -> Route:
    """A form's target: `act` gives the page to go to; an error is said on the session's page."""

    async def _do(request: Request) -> Response:
        visitor: Visitor = request.scope["session"]
        room, back = _room(request), "/"
        try:
            form = await read_form(request)
            session = room.session(request.path_params["case"], role)
            back = _path_of(session)
            done = await run_in_threadpool(_locked, room, act, session, form, room)
        except RipplefieldError as error:
            visitor.warning = str(error)
            return RedirectResponse(back, 303)
        return RedirectResponse(done, 303)

    return Route(path, _do, methods=["POST"])


def _path_of(session: Session) -> str:
    kind = "operate" if session.role == "operator" else "results"
    return f"/{kind}/{session.room.case.name}"


def _score_path(session: Session) -> str:
    return f"/score/{session.room.case.name}/{session.role}"


def _list(request: Request, room: Classroom) -> Context:
    levels = [
        (level, LEVELS[level - 1], [c.file for c in room.cases.values() if c.file.level == level])
        for level in range(1, len(LEVELS) + 1)
    ]
    done = {key: session.score for key, session in room.sessions.items() if session.score}
    return {
        "levels": [one for one in levels if one[2]],
        "done": done,
        "begun": set(room.sessions),
        "rules": RULES,
        "student": room.student,
        "out": Path(room.out).name,
    }


def _session(request: Request, room: Classroom, role: str) -> Session:
    return room.session(request.path_params["case"], role)


def _facts(session: Session) -> dict[str, Any]:
    return {"case": session.room.case.file, "role": session.role, "session": session}


def _operate(request: Request, room: Classroom) -> Context:
    session = _session(request, room, "operator")
    played = session.played
    view = view_of(session)
    checked = {m.act.what: m.found for m in played.marks if m.act.do == "check"}
    mended = {mark.act.what for mark in played.marks if mark.act.do == "mend"}
    return {
        **_facts(session),
        "view": view,
        "first": _json(view),
        "things": THINGS,
        "thing_words": THING_WORDS,
        "checked": checked,
        "mended": mended,
        "say_words": SAY_WORDS,
        "over": played.last.over,
        "exams": len(played.attempts),
        "minutes": played.elapsed_s / 60,
        "steps": NEXT,
    }


def _json(view: msgspec.Struct) -> str:
    return msgspec.json.encode(view).decode()


def _do_act(session: Session, form: dict[str, str], room: Classroom) -> str:
    act = require_act(form.get("do", ""), form.get("what", ""), form.get("count", ""))
    session.act(act)
    return _path_of(session)


def _decide(session: Session, form: dict[str, str], room: Classroom) -> str:
    session.decide(form.get("step", ""))
    return _score_path(session)


def _read(request: Request, room: Classroom) -> Context:
    session = _session(request, room, "reader")
    folders = session.result_folders()
    return {
        **_facts(session),
        "article": _article(tuple(folders)),
        "display_note": DISPLAY_NOTE,
        "visits": len(folders),
        "notes": session.room.notes,
        "thing_words": THING_WORDS,
        "questions": session.room.questions,
        "cannot": CANNOT_BE_TOLD,
        "is_choice": lambda question: isinstance(question, Choice),
    }


@lru_cache(maxsize=16)
def _article(folders: tuple[Path, ...]) -> str:
    """The exams' pages; records of cases never change."""
    return exam_articles(folders)


def _mark(session: Session, form: dict[str, str], room: Classroom) -> str:
    session.draft = form
    answers: dict[str, Answer] = {}
    for question in session.room.questions:
        if isinstance(question, Choice):
            answers[question.key] = form.get(question.key, "")
        else:
            answers[question.key] = _marked_places(question, form)
    session.answer(answers)
    return _score_path(session)


def _marked_places(question: Places, form: dict[str, str]) -> Answer:
    """Ticked places; raises InputError where they are ticked and said to be untold."""
    found = [n for n in range(question.places) if form.get(f"{question.key}-{n}")]
    if not form.get(f"{question.key}-{CANNOT}"):
        return found
    if found:
        raise InputError(
            question.key, "places, and that it cannot be told", "one of the two",
            "Untick the places or the last box.",
        )  # fmt: skip
    return CANNOT


def _score(request: Request, room: Classroom) -> Context:
    session = _session(request, room, request.path_params["role"])
    if session.score is None:
        raise InputError(
            "marks", session.room.case.name, "a session that has ended", "Finish it first."
        )
    result = None
    if session.role == "reader":
        folder = session.result_folders()[-1]
        result = grade_exam(load_exam(folder), session.room.reference)
    eyes = session.room.truth.eyes
    return {
        **_facts(session),
        "score": session.score,
        "total": total_text(session.score),
        "truths": [
            (eye, truth_rows(session.room, eye, result), _json(truth_view(session.room, eye)))
            for eye in eyes
        ],
        "worse": session.room.truth.worse,
        "with_found": result is not None,
        "record": session.record_path.relative_to(Path(room.out).parent),
        "again": _path_of(session),
        "others": list(room.cases),
    }


def _anew(role: str) -> Act:
    def _begin(session: Session, form: dict[str, str], room: Classroom) -> str:
        room.anew(session.room.case.name, role)
        return _path_of(session)

    return _begin


async def _static(request: Request) -> Response:
    found = _files().get(request.path_params["name"])
    if found is None:
        return await door.static(request)
    return Response(found[0], media_type=found[1])


@cache
def _files() -> dict[str, tuple[str, str]]:
    return {
        name: ((STATIC / name).read_text("utf-8"), door.KINDS[Path(name).suffix]) for name in LOOKS
    }


ROUTES = [
    plain("/open", door.open_link),
    plain("/open", door.open_with_phrase, "POST"),
    Route("/static/{name}", _static, methods=["GET"]),
    _page("/", "cases.html.j2", _list),
    _page("/operate/{case}", "operate.html.j2", _operate),
    _action("/operate/{case}/act", "operator", _do_act),
    _action("/operate/{case}/decide", "operator", _decide),
    _action("/operate/{case}/anew", "operator", _anew("operator")),
    _page("/results/{case}", "read.html.j2", _read),
    _action("/results/{case}/mark", "reader", _mark),
    _action("/results/{case}/anew", "reader", _anew("reader")),
    _page("/score/{case}/{role}", "score.html.j2", _score),
]
