"""After: an exam's result page, what to tell the participant, whether to repeat, corrections."""

from __future__ import annotations

from msgspec.structs import replace
from starlette.requests import Request

from protocols.errors import InputError
from stimulus.station.again import repeat_advice
from stimulus.station.app import Station
from stimulus.station.corrections import correct, corrections_of, eyes_to_choose
from stimulus.station.drawn import article
from stimulus.station.pages.frame import Asked, Context, action, page
from stimulus.station.queue import Entry, next_waiting
from stimulus.station.runs import require_exam


def _list(request: Request, station: Station) -> Context:
    found = station.index.all()
    return {"summaries": found[::-1], "advice": {s.exam: repeat_advice(s) for s in found}}


def _one(request: Request, station: Station) -> Context:
    exam = request.path_params["exam"]
    folder = require_exam(station.data, exam)
    run = station.runs.running()
    if run is not None and run.exam == exam:
        raise InputError("exam", exam, "an exam that is not running", "Look at the Live page.")
    summary, entry = station.index.of(exam), _entry_of(station, exam)
    language = entry.language if entry and entry.language in station.texts else "en"
    return {
        "exam": exam,
        "summary": summary,
        "entry": entry,
        "advice": repeat_advice(summary),
        "article": article(folder),
        "text": station.texts[language],
        "corrections": corrections_of(folder) if not summary.trouble else [],
        "following": next_waiting(station.queue_file.queue),
        "true_eyes": eyes_to_choose([eye.eye for eye in summary.eyes]),
    }


def _entry_of(station: Station, exam: str) -> Entry | None:
    return next((e for e in station.queue_file.queue.entries if exam in e.exams), None)


def _correct(asked: Asked) -> str:
    exam = asked.form.get("exam", "")
    folder = require_exam(asked.station.data, exam)
    what = asked.form.get("what", "")
    if what not in ("code", "eye"):
        raise InputError("what", what, "code or eye", "Choose what was wrong.")
    now = asked.form.get("code" if what == "code" else "eye", "")
    entry = _entry_of(asked.station, exam)
    line = correct(folder, "code" if what == "code" else "eye", now, asked.form.get("by", ""))
    if what == "code" and entry is not None:
        file = asked.station.queue_file
        file.change_entry(entry.id, lambda e: replace(e, code=line.now))
    asked.session.notice = f"On record: {line.what} was {line.was}, is {line.now} (by {line.by})."
    return f"/results/{exam}"


ROUTES = [
    page("/results", "results.html.j2", _list),
    page("/results/{exam}", "after.html.j2", _one),
    action("/results/correct", "/results", _correct),
]
