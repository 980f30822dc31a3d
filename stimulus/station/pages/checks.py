"""Before doors open: everything is tried out, and red lines say what to do."""

from __future__ import annotations

from collections import Counter

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from protocols.errors import OrderError
from stimulus.station.app import Station
from stimulus.station.forms import number
from stimulus.station.pages.frame import Asked, Context, action, page, plain, station_of


def _context(request: Request, station: Station) -> Context:
    if not station.checks.entered.machine:
        station.checks.try_machine(station.settings, station.index)
    found = station.checks.outcomes(station.settings)
    counts = Counter(outcome.state for outcome in found)
    return {
        "outcomes": found,
        "counts": counts,
        "entered": station.checks.entered,
        "settings": station.settings,
        "trying": station.checks.screen.is_running(),
    }


def _try(asked: Asked) -> str:
    """Try out machine, window, mark and button."""
    station = asked.station
    if station.runs.is_running():
        raise OrderError("cannot try out the display while an exam is running")
    station.checks.try_machine(station.settings, station.index)
    station.checks.screen.start(station.settings)
    return "/checks"


def _enter(asked: Asked) -> str:
    """Take what was measured by hand; an empty field is not measured."""
    form = asked.form
    distance = number(form, "distance_cm", 5, 500, "Measure in centimetres.") \
        if form.get("distance_cm") else None  # fmt: skip
    lux = number(form, "room_lux", 0, 200000, "Read the lux meter.") \
        if form.get("room_lux") else None  # fmt: skip
    asked.station.checks.enter(distance, lux)
    return "/checks"


async def _state(request: Request) -> Response:
    """Whether the probe runs, and how much of it is done, for the page to load anew."""
    screen = station_of(request).checks.screen
    tried = sum(outcome.state != "not tried" for outcome in screen.outcomes())
    return JSONResponse({"trying": screen.is_running(), "tried": tried})


ROUTES = [
    page("/checks", "checks.html.j2", _context),
    plain("/checks/state", _state),
    action("/checks/try", "/checks", _try),
    action("/checks/enter", "/checks", _enter),
]
