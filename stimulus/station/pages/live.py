"""Live: the running exam, told line by line, with what can be asked of it."""

from __future__ import annotations

import msgspec
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response, StreamingResponse

from protocols.errors import InputError, OrderError
from stimulus.buttons.operator_keys import Command
from stimulus.station.app import Station
from stimulus.station.pages.frame import Asked, Context, action, page, plain, station_of
from stimulus.station.watch import MOST_WATCHERS

ASKS: dict[str, Command] = {
    "hold": "hold",
    "go-on": "resume",
    "explain": "explain",
    "skip-eye": "skip_eye",
    "stop": "stop",
    "practise-again": "repeat_practice",
    "waive-practice": "waive_practice",
}
SURE = {"stop", "skip-eye", "waive-practice"}
"""What ends something is asked once more."""
SURE_WORDS = {
    "stop": ("Stop the exam? What was recorded is kept, and it can go on later.", "Stop the exam"),
    "skip-eye": (
        "Skip what is left of this eye? It cannot be taken up again.", "Skip this eye"
    ),
    "waive-practice": (
        "Go on without a passed practice? The record says that you waived it.",
        "Waive the practice",
    ),
}


def _context(request: Request, station: Station) -> Context:
    station.watch.poll()
    view, run = station.watch.view, station.runs.last
    exam = run.exam if run else ""
    failed = bool(run) and station.runs.did_not_start(exam)
    entries = station.queue_file.queue.entries
    entry = next((e for e in entries if run and e.id == run.entry_id), None)
    text = station.texts[entry.language] if entry and entry.language in station.texts else None
    return {
        "exam": exam,
        "entry": entry,
        "first": msgspec.json.encode(view).decode(),
        "view": view,
        "failed": station.runs.last_words(exam) if failed else "",
        "advice_said": text,
        "ask": SURE_WORDS.get(request.query_params.get("ask", "")),
        "asked": request.query_params.get("ask", ""),
        "sure_words": SURE_WORDS,
    }


async def _events(request: Request) -> Response:
    station = station_of(request)
    if station.watch.watchers >= MOST_WATCHERS:
        return PlainTextResponse("Too many live pages are open; close some.\n", 503)
    return StreamingResponse(
        station.watch.events(), media_type="text/event-stream", headers={"x-accel-buffering": "no"}
    )


async def _state(request: Request) -> Response:
    """Whether an exam is running, for pages that wait for its end."""
    run = station_of(request).runs.running()
    return JSONResponse({"running": None if run is None else run.exam})


def _ask(asked: Asked) -> str | Response:
    """Pass a command to the exam; what ends something needs `sure` as well."""
    what = asked.form.get("do", "")
    if what not in ASKS:
        raise InputError("do", what, ", ".join(ASKS), "Use the buttons of the page.")
    if what in SURE and asked.form.get("sure") != "yes":
        return f"/live?ask={what}"
    asked.station.watch.poll()
    view = asked.station.watch.view
    if view is None or not view.running:
        raise OrderError("no exam is running")
    asked.station.runs.ask(ASKS[what])
    return PlainTextResponse("asked\n") if asked.form.get("by") == "script" else "/live"


ROUTES = [
    page("/live", "live.html.j2", _context),
    plain("/live/events", _events),
    plain("/live/state", _state),
    action("/live/ask", "/live", _ask),
]
