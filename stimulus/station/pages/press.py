"""The phone's page: one large area to press, measured for as long as it is open.

It is opened by a code from the page This station and the pass phrase, and its session opens nothing
else. Without a pass phrase at the door there is no such page.
"""

from __future__ import annotations

import asyncio

from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from protocols.errors import InputError
from stimulus.station.forms import number, read_form
from stimulus.station.pages.door import WRONG_PAUSE_S, with_cookie
from stimulus.station.pages.frame import Context, answer, page, plain, station_of

TODO = "Load the page again."
NOT_AT_THIS_DOOR = "Phones are only taken at a door with TLS and a pass phrase: see --listen."


def _context(request: Request, station: object) -> Context:
    station_of(request).phone.forget()
    return {}


async def _door(request: Request) -> Response:
    """Asks for code and pass phrase."""
    if request.scope["session"] is not None:
        return RedirectResponse("/press", 303)
    allowed = station_of(request).access.pass_phrase is not None
    return answer(request, "press_door.html.j2", {"allowed": allowed, "wrong": False})


async def _admit(request: Request) -> Response:
    form = await read_form(request)
    access = station_of(request).access
    value = access.open_phone(form.get("code", ""), form.get("phrase", ""))
    if value is None:
        await asyncio.sleep(WRONG_PAUSE_S)
        allowed = access.pass_phrase is not None
        context = {"allowed": allowed, "wrong": True}
        return answer(request, "press_door.html.j2", context, 403)
    return with_cookie(RedirectResponse("/press", 303), request, access, value)


async def _echo(request: Request) -> Response:
    """One round trip; closes the one before."""
    phone = station_of(request).phone
    try:
        form = await read_form(request)
        sent_ms, before = number(form, "sent", 0, 1e12, TODO), None
        if form.get("trip"):
            before = form["trip"], number(form, "back", 0, 1e12, TODO) / 1000
    except InputError as error:
        return JSONResponse({"error": str(error)}, 422)
    name = phone.echo(sent_ms / 1000, before)
    found = phone.measured
    return JSONResponse({"trip": name, "refusal": phone.refusal, "words": found.words})


async def _press(request: Request) -> Response:
    """A press, by the phone's clock."""
    phone = station_of(request).phone
    try:
        form = await read_form(request)
        at_ms, sent_ms = (number(form, name, 0, 1e12, TODO) for name in ("at", "sent"))
    except InputError as error:
        return JSONResponse({"error": str(error)}, 422)
    return JSONResponse({"refusal": phone.press(at_ms / 1000, sent_ms / 1000)})


ROUTES = [
    page("/press", "press.html.j2", _context),
    plain("/press/door", _door),
    plain("/press/door", _admit, "POST"),
    Route("/press/echo", _echo, methods=["POST"]),
    Route("/press/now", _press, methods=["POST"]),
]
