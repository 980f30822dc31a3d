"""Say this: what to read aloud, in the participant's language, before each eye."""

from __future__ import annotations

from starlette.requests import Request

from protocols.errors import InputError
from stimulus.station.app import Station
from stimulus.station.pages.frame import Context, page
from stimulus.station.queue import Entry, next_waiting
from stimulus.station.say_texts import Text, steps_for


def _context(request: Request, station: Station) -> Context:
    entry = _entry(station, request.query_params.get("entry", ""))
    asked = request.query_params.get("language") or (entry.language if entry else "en")
    text = _text(station, asked)
    glasses = entry.glasses if entry else None
    eyes = ("right", "left") if entry is None or entry.eyes == "both" else (entry.eyes,)
    return {
        "entry": entry,
        "text": text,
        "texts": station.texts,
        "blocks": [(eye, steps_for(text, eye, glasses, practice=n == 0))
                   for n, eye in enumerate(eyes)],
        "english": station.texts["en"],
    }  # fmt: skip


def _entry(station: Station, entry_id: str) -> Entry | None:
    """The entry asked for, else the one under test, else the next."""
    queue, run = station.queue_file.queue, station.runs.running()
    wanted = entry_id or (run.entry_id if run else "")
    found = next((entry for entry in queue.entries if entry.id == wanted), None)
    return found or next_waiting(queue)


def _text(station: Station, language: str) -> Text:
    if language not in station.texts:
        raise InputError(
            "language", language[:20], ", ".join(station.texts), "Add its file to say/."
        )
    return station.texts[language]


ROUTES = [page("/say", "say.html.j2", _context)]
