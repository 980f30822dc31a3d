"""What all pages share: the frame round them, and how a form's answer goes back to a page."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping
from typing import Any, NamedTuple

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from analysis.report.templating import templates
from protocols import RESEARCH_ONLY
from protocols.errors import RipplefieldError
from stimulus.station.access import Session
from stimulus.station.app import Station
from stimulus.station.forms import read_form

Context = Mapping[str, Any]
REFUSED = (RipplefieldError, OSError)
"""What a page says in words: a wrong entry, a full or unreadable disk."""


class Tab(NamedTuple):
    """A page in the list at the top."""

    path: str
    title: str


TABS = (
    Tab("/checks", "Before doors open"),
    Tab("/queue", "Queue"),
    Tab("/say", "Say this"),
    Tab("/live", "Live"),
    Tab("/results", "Results"),
    Tab("/day", "End of the day"),
    Tab("/settings", "This station"),
)


class Asked(NamedTuple):
    """A form that was sent: the station, the browser's session, the fields."""

    station: Station
    session: Session
    form: dict[str, str]


def station_of(request: Request) -> Station:
    """The station a request is for."""
    station: Station = request.app.state.station
    return station


def words_of(error: Exception) -> str:
    """What was refused, in words.

    >>> words_of(OSError(28, "No space left on device", "queue.json"))
    'The system says: No space left on device (queue.json).'
    """
    if isinstance(error, OSError):
        return f"The system says: {error.strerror} ({error.filename})."
    return str(error)


def page(path: str, template: str, context: Callable[[Request, Station], Context]) -> Route:
    """A page: its context is made apart from the loop, so that a slow one stops no other."""

    async def _answer(request: Request) -> Response:
        try:
            found = await run_in_threadpool(context, request, station_of(request))
        except REFUSED as error:
            return answer(request, "sorry.html.j2", {"error": words_of(error)}, 404)
        return answer(request, template, found)

    return Route(path, _answer, methods=["GET"])


def action(path: str, back: str, act: Callable[[Asked], str | Response]) -> Route:
    """A form's target: `act` gives the page to go to next; its error is said on page `back`."""

    async def _answer(request: Request) -> Response:
        session: Session = request.scope["session"]
        try:
            form = await read_form(request)
            asked = Asked(station_of(request), session, form)
            done = await run_in_threadpool(act, asked)
        except REFUSED as error:
            session.warning = words_of(error)
            return RedirectResponse(back, 303)
        return RedirectResponse(done, 303) if isinstance(done, str) else done

    return Route(path, _answer, methods=["POST"])


def plain(
    path: str, answer_to: Callable[[Request], Awaitable[Response]], method: str = "GET"
) -> Route:
    """A route that answers by itself; what it refuses is said as plain text."""

    async def _answer(request: Request) -> Response:
        try:
            return await answer_to(request)
        except REFUSED as error:
            return PlainTextResponse(f"{words_of(error)}\n", 422)

    return Route(path, _answer, methods=[method])


def answer(request: Request, template: str, context: Context, status: int = 200) -> HTMLResponse:
    """A rendered page with what the session had to say, once."""
    session: Session | None = request.scope.get("session")
    notice, warning = ("", "") if session is None else (session.notice, session.warning)
    if session is not None:
        session.notice = session.warning = ""
    text = templates("stimulus.station").get_template(template).render(
        tabs=TABS if session is not None else (),
        here="/" + request.url.path.strip("/").split("/")[0],
        notice=notice,
        warning=warning,
        research_only=RESEARCH_ONLY,
        running=_running(request) if session is not None else None,
        **context,
    )
    return HTMLResponse(text.encode(errors="replace"), status)  # a file's name may be no text


def _running(request: Request) -> str | None:
    run = station_of(request).runs.running()
    return None if run is None else run.exam
