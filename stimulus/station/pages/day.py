"""End of the day: sums, pictures, the table, CSV, and a backup that is read back."""

from __future__ import annotations

import re
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from analysis.figures.ramp import depth_colour
from analysis.figures.words import GRADE_WORDS
from protocols import RESEARCH_ONLY
from protocols.errors import InputError
from stimulus.station.again import repeat_advice
from stimulus.station.app import Station
from stimulus.station.backup import back_up
from stimulus.station.day import Day, day_csv, day_of, days_of, today
from stimulus.station.live import hex_of
from stimulus.station.pages.frame import Asked, Context, action, page, plain, station_of
from stimulus.station.ribbon import ribbon

GRADE_DEPTHS_DB = (0.0, 2.0, 6.0, 10.0, 12.0)


def _day(request: Request, station: Station) -> Day:
    summaries = station.index.all()
    dates = days_of(summaries)
    date = request.query_params.get("date", dates[0] if dates else today())
    if date != "all" and not re.fullmatch(r"\d{4}-\d\d-\d\d", date):
        raise InputError("date", date[:20], "a date such as 2030-01-15, or all", "Choose one.")
    return day_of(summaries, date)


def _context(request: Request, station: Station) -> Context:
    day = _day(request, station)
    return {
        "day": day,
        "dates": days_of(station.index.all()),
        "ribbon": ribbon(day.sessions) if day.date != "all" else None,
        "advice": {s.exam: repeat_advice(s) for s in day.sessions},
        "grade_words": GRADE_WORDS,
        "grade_colours": [hex_of(depth_colour(depth)) for depth in GRADE_DEPTHS_DB],
        "most_people": max((*day.people_by_worst_grade, day.people_ungraded, 1)),
        "waiting": sum(e.state == "waiting" for e in station.queue_file.queue.entries),
        "no_shows": sum(e.state == "no-show" for e in station.queue_file.queue.entries),
    }


async def _csv(request: Request) -> Response:
    station = station_of(request)
    day = await run_in_threadpool(_day, request, station)
    text = day_csv(day, RESEARCH_ONLY).encode(errors="replace")
    headers = {"content-disposition": f'attachment; filename="ripplefield-{day.date}.csv"'}
    return Response(text, headers=headers, media_type="text/csv; charset=utf-8")


def _backup(asked: Asked) -> str:
    run = asked.station.runs.running()
    target = Path(asked.form.get("folder", ""))
    done = back_up(asked.station.data, target, None if run is None else run.exam)
    if done.wrong or done.links:
        asked.session.warning = done.sentence
    else:
        asked.session.notice = done.sentence
    return "/day"


ROUTES = [
    page("/day", "day.html.j2", _context),
    plain("/day.csv", _csv),
    action("/day/backup", "/day", _backup),
]
