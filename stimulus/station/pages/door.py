"""The door: the one-time link, the pass phrase, and the few files the pages need."""

from __future__ import annotations

import asyncio
from functools import cache
from pathlib import Path

from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response

from analysis.report import scheme
from stimulus.station.access import Access
from stimulus.station.forms import read_form
from stimulus.station.pages.frame import answer, plain, station_of

STATIC = Path(__file__).parents[1] / "static"
KINDS = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}
WRONG_PAUSE_S = 0.5


async def open_link(request: Request) -> Response:
    """The link: opens at once, or asks for the pass phrase first."""
    access, token = station_of(request).access, request.query_params.get("token", "")
    if request.scope["session"] is not None:
        return RedirectResponse("/", 303)
    if not token:
        return answer(request, "door.html.j2", {"token": "", "wrong": False}, 403)
    if access.pass_phrase is not None:
        return answer(request, "door.html.j2", {"token": token, "wrong": False})
    return await _admit(request, access, token, "")


async def open_with_phrase(request: Request) -> Response:
    """The link with the pass phrase."""
    if request.scope["session"] is not None:
        return RedirectResponse("/", 303)
    form = await read_form(request)
    access = station_of(request).access
    return await _admit(request, access, form.get("token", ""), form.get("phrase", ""))


async def _admit(request: Request, access: Access, token: str, phrase: str) -> Response:
    value = access.open_with(token, phrase)
    if value is None:
        await asyncio.sleep(WRONG_PAUSE_S)
        shown = token if access.pass_phrase is not None else ""
        return answer(request, "door.html.j2", {"token": shown, "wrong": True}, 403)
    return with_cookie(RedirectResponse("/", 303), request, access, value)


def with_cookie(response: Response, request: Request, access: Access, value: str) -> Response:
    """The response with a session's cookie."""
    response.set_cookie(
        access.cookie_name,
        value,
        path="/",
        httponly=True,
        samesite="strict",
        secure=request.url.scheme == "https",
    )
    return response


async def _home(request: Request) -> Response:
    running = station_of(request).runs.is_running()
    return RedirectResponse("/live" if running else "/queue", 303)


async def static(request: Request) -> Response:
    """One of the few files the pages need."""
    found = static_files().get(request.path_params["name"])
    if found is None:
        return PlainTextResponse("There is no such file.\n", 404)
    text, kind = found
    return Response(text, media_type=kind)


@cache
def static_files() -> dict[str, tuple[str, str]]:
    """The few files by name; no other name leads anywhere."""
    files = {
        path.name: (path.read_text("utf-8"), KINDS[path.suffix])
        for path in STATIC.iterdir()
        if path.suffix in KINDS
    }
    result = (Path(scheme.__file__).parent / "templates" / "page.css").read_text("utf-8")
    return {**files, "result.css": (result, "text/css"), "scheme.css": (_scheme(), "text/css")}


def _scheme() -> str:
    light, dark = (scheme.declarations(dark=dark) for dark in (False, True))
    return (
        f":root {{ color-scheme: light dark; {light} }}\n"
        f"@media screen and (prefers-color-scheme: dark) {{ :root {{ {dark} }} }}\n"
    )


ROUTES = [
    plain("/", _home),
    plain("/open", open_link),
    plain("/open", open_with_phrase, "POST"),
    plain("/static/{name}", static),
]
