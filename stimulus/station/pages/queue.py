"""Queue: who is next, in what state; added one by one or from CSV; started from here."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

from msgspec.structs import replace
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from protocols.codes import require_initials
from protocols.errors import InputError, OrderError
from stimulus.station import queue as queues
from stimulus.station.app import Station
from stimulus.station.forms import choice, number
from stimulus.station.pages.frame import (
    REFUSED,
    Asked,
    Context,
    action,
    answer,
    page,
    plain,
    station_of,
    words_of,
)
from stimulus.station.pages.settings import require_phone
from stimulus.station.queue import EYES, FLICKER, Entry, Queue
from stimulus.station.queue_csv import COLUMNS, EXAMPLE, CsvErrors, read_csv, safe_csv
from stimulus.station.runs import new_exam_name, require_exam
from stimulus.station.say_texts import FOLDER
from stimulus.station.settings import PHONE, protocol_word, run_words

NO_FORM = {"code": "", "age": "", "glasses": "no", "eyes": "both", "flicker": "not asked",
           "language": "en"}  # fmt: skip


@dataclass(frozen=True)
class Row:
    """An entry as the page shows it."""

    entry: Entry
    state: str
    exam: str

    @property
    def may_start(self) -> bool:
        """Whether an exam may be started now."""
        return self.state == "waiting"


def rows(station: Station) -> list[Row]:
    """All entries with their states, in the queue's order."""
    return [_row(station, entry) for entry in station.queue_file.queue.entries]


def _row(station: Station, entry: Entry) -> Row:
    exam = entry.exams[-1] if entry.exams else ""
    if entry.state == "no-show":
        return Row(entry, "no-show", exam)
    if entry.state == "tested":
        return Row(entry, _exam_state(station, exam), exam)
    if entry.flicker in ("yes", "unsure"):
        return Row(entry, "does not take part", exam)
    return Row(entry, "waiting" if entry.may_take_part else "question open", exam)


def _exam_state(station: Station, exam: str) -> str:
    run = station.runs.running()
    if run is not None and run.exam == exam:
        return "running"
    if station.runs.did_not_start(exam):
        return "did not start"
    return station.index.of(exam).state


def _context(request: Request, station: Station) -> Context:
    found = rows(station)
    ahead = [row for row in found if row.state in ("waiting", "question open")]
    return {
        "next": next((row for row in found if row.may_start), None),
        "ahead": ahead,
        "others": [row for row in found if row not in ahead],
        "counts": Counter(row.state for row in found),
        "languages": station.texts,
        "eyes": EYES,
        "flicker": FLICKER,
        "columns": COLUMNS,
        "example": EXAMPLE,
        "form": NO_FORM,
        "errors": (),
        "error": "",
        "csv": "",
        "last_words": {row.exam: station.runs.last_words(row.exam) for row in found
                       if row.state == "did not start"},
    }  # fmt: skip


def _add(asked: Asked) -> str | Response:
    form, station = asked.form, asked.station
    entry = queues.new_entry(
        form.get("code", ""),
        _age(form),
        choice(form, "glasses", ("yes", "no"), "Choose one.") == "yes",
        EYES[EYES.index(choice(form, "eyes", EYES, "Choose one."))],
        FLICKER[FLICKER.index(choice(form, "flicker", FLICKER, "Ask."))],
        choice(form, "language", tuple(station.texts), "Choose one."),
    )
    station.queue_file.change(lambda queue: queues.added(queue, [entry]))
    asked.session.notice = f"{entry.code} is in the queue."
    return "/queue"


def _age(form: dict[str, str]) -> int:
    todo = "Give the age in whole years."
    years = number(form, "age", 5, 110, todo)
    if years != int(years):
        raise InputError("age", form["age"], "whole years from 5 to 110", todo)
    return int(years)


async def _post_add(request: Request) -> Response:
    """As an action, but a refused entry comes back as it was typed."""
    from starlette.concurrency import run_in_threadpool
    from starlette.responses import RedirectResponse

    from stimulus.station.forms import read_form

    station, session = station_of(request), request.scope["session"]
    form: dict[str, str] = {}
    try:
        form = await read_form(request)
        done = await run_in_threadpool(_add, Asked(station, session, form))
    except REFUSED as error:
        context = await run_in_threadpool(_context, request, station)
        shown = {**NO_FORM, **{k: v[:60] for k, v in form.items() if k in NO_FORM}}
        context = {**context, "form": shown, "error": words_of(error)}
        return answer(request, "queue.html.j2", context, 422)
    return RedirectResponse(str(done), 303)


async def _post_csv(request: Request) -> Response:
    """Take a whole CSV, or show it again with every error by line and column."""
    from starlette.concurrency import run_in_threadpool
    from starlette.responses import RedirectResponse

    from stimulus.station.forms import read_form

    station, session = station_of(request), request.scope["session"]
    form: dict[str, str] = {}
    try:
        form = await read_form(request)
        count = await run_in_threadpool(_take_csv, station, form.get("csv", ""))
    except REFUSED as error:
        context = await run_in_threadpool(_context, request, station)
        errors = error.errors if isinstance(error, CsvErrors) else (words_of(error),)
        context = {**context, "errors": errors, "csv": form.get("csv", "")}
        return answer(request, "queue.html.j2", context, 422)
    session.notice = f"{count} added to the queue."
    return RedirectResponse("/queue", 303)


def _take_csv(station: Station, text: str) -> int:
    new: list[Entry] = []

    def _added(queue: Queue) -> Queue:
        new.extend(read_csv(text, list(station.texts), queue))
        return queues.added(queue, new)

    station.queue_file.change(_added)
    return len(new)


def _change(asked: Asked) -> str:
    """Move, mark, ask again, take out: one button each."""
    form, file = asked.form, asked.station.queue_file
    entry_id, what = form.get("entry", ""), form.get("do", "")
    changes: dict[str, Callable[[], object]] = {
        "up": lambda: file.change(lambda q: queues.moved(q, entry_id, -1)),
        "down": lambda: file.change(lambda q: queues.moved(q, entry_id, 1)),
        "first": lambda: file.change(lambda q: queues.moved(q, entry_id, -queues.MOST_ENTRIES)),
        "remove": lambda: file.change(lambda q: queues.removed(q, entry_id)),
        "no-show": lambda: file.change_entry(entry_id, _no_show),
        "back": lambda: file.change_entry(entry_id, lambda e: replace(e, state="waiting")),
        "repeat": lambda: file.change_entry(entry_id, lambda e: _again(e, form.get("why", ""))),
        "answer": lambda: file.change_entry(entry_id, lambda e: replace(
            e, flicker=choice(form, "flicker", FLICKER, "Ask the question."))),
    }  # fmt: skip
    if what not in changes:
        raise InputError("do", what, ", ".join(changes), "Use the buttons of the page.")
    changes[what]()
    return f"/queue#e-{entry_id}"


def _no_show(entry: Entry) -> Entry:
    if entry.state != "waiting":
        raise OrderError(f"cannot mark {entry.code}: only those who wait can be missing")
    return replace(entry, state="no-show")


def _again(entry: Entry, why: str) -> Entry:
    reasons = ("advice", "asked", "interrupted", "")
    if why not in reasons:
        raise InputError("why", why, ", ".join(reasons), "Choose one.")
    return replace(entry, state="waiting", why_again=why)


def _start(asked: Asked) -> str:
    """Start the exam of an entry that may take part."""
    station, form = asked.station, asked.form
    entry = queues.find(station.queue_file.queue, form.get("entry", ""))
    row = _row(station, entry)
    if not row.may_start:
        raise OrderError(f"cannot start {entry.code}: {row.state}")
    if station.settings.button == PHONE:
        require_phone(station)
    exam = new_exam_name(station.data, entry.code)
    if station.checks.screen.is_running():
        raise OrderError("cannot start an exam while the display is being tried out")
    words = [
        protocol_word(station.settings),
        *("--participant", entry.code, "--age", str(entry.age_years), "--eye", entry.eyes),
        *("--safety-confirmed-by", require_initials(form.get("initials", ""))),
        *("--out", f"exams/{exam}", "--start", station.settings.start),
        *run_words(station.settings),
        *("--language", language_word(station, entry)),
        *(["--skip-practice"] if form.get("waive") == "yes" else []),
    ]
    station.runs.start(exam, entry.id, words)
    station.queue_file.change_entry(
        entry.id, lambda e: replace(e, state="tested", exams=[*e.exams, exam], why_again="")
    )
    return "/live"


def language_word(station: Station, entry: Entry) -> str:
    """The entry's language as `ripplefield run` takes it, from the data folder.

    A language whose own file lacks words for the window is shown in English.
    """
    language = entry.language
    text = station.texts.get(language)
    if text is None or text.window is None:
        return "en"
    own = station.data / FOLDER / f"{language}.toml"
    return f"{FOLDER}/{language}.toml" if own.is_file() else language


def _go_on(asked: Asked) -> str:
    """Take up an exam that was stopped or cut off."""
    station, exam = asked.station, asked.form.get("exam", "")
    require_exam(station.data, exam)
    entry = next((e for e in station.queue_file.queue.entries if exam in e.exams), None)
    words = ["--resume", f"exams/{exam}", "--start", station.settings.start]
    words += [] if entry is None else ["--language", language_word(station, entry)]
    entry_id = "" if entry is None else entry.id
    station.runs.start(exam, entry_id, [*words, *run_words(station.settings)[:2]])
    return "/live"


async def _csv(request: Request) -> Response:
    station = station_of(request)
    table = (
        (r.entry.code, r.entry.age_years, "yes" if r.entry.glasses else "no", r.entry.eyes,
         r.entry.flicker, r.entry.language)
        for r in rows(station)
    )  # fmt: skip
    headers = {"content-disposition": 'attachment; filename="queue.csv"'}
    return HTMLResponse(safe_csv(COLUMNS, table), headers=headers, media_type="text/csv")


ROUTES = [
    page("/queue", "queue.html.j2", _context),
    plain("/queue/add", _post_add, "POST"),
    plain("/queue/csv", _post_csv, "POST"),
    action("/queue/change", "/queue", _change),
    action("/queue/start", "/queue", _start),
    action("/queue/go-on", "/queue", _go_on),
    plain("/queue.csv", _csv),
]
