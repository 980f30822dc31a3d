"""The door: refuses what does not come from the station's own pages, before any page sees it.

Host against rebinding of names, origin against other sites' forms, a cookie against other
programs' browsers, a limit of size and time against floods. What it lets out carries a content
policy that loads nothing from outside (W3C Content Security Policy Level 3).
"""

from __future__ import annotations

import asyncio
from collections.abc import Collection
from dataclasses import dataclass

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from stimulus.station.access import Access

LARGEST_BODY = 512 * 1024
BODY_PATIENCE_S = 10.0
OPEN_PATHS = ("/open", "/static/", "/press/door")
PHONE_PATHS = ("/static/", "/press")
"""All that a phone's session opens."""
SAFE_METHODS = ("GET", "HEAD")

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; "
    "img-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
DRAWN_POLICY = f"{POLICY}; style-src-attr 'unsafe-inline'"
"""For result pages only: their pictures carry the style of each line as an attribute."""
DRAWN_PATHS = "/results/"
HEADERS = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
    "cache-control": "no-store",
}


@dataclass(frozen=True)
class Guard:
    """ASGI middleware. `hosts` are the Host headers the station answers to."""

    app: ASGIApp
    access: Access
    hosts: Collection[str]
    scheme: str = "http"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse, or pass on with the session in `scope["session"]` and the body read."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
        elif scope["type"] == "http":
            await self._http(scope, receive, _with_headers(send, scope["path"]))
        else:
            await send({"type": "websocket.close", "code": 1008})

    async def _http(self, scope: Scope, receive: Receive, send: Send) -> None:
        headers = Headers(scope=scope)
        refusal = self._refusal(scope, headers)
        if refusal is not None:
            await refusal(scope, receive, send)
            return
        if scope["method"] in SAFE_METHODS:
            await self.app(scope, receive, send)
            return
        body = await _read_body(headers, receive)
        if isinstance(body, Response):
            body.headers["connection"] = "close"
            await body(scope, receive, send)
            return
        await self.app(scope, _replay(body, receive), send)

    def _refusal(self, scope: Scope, headers: Headers) -> Response | None:
        if headers.get("host", "").lower() not in self.hosts:
            return _refused("The station does not answer to this host name.", 421)
        if not self._own_origin(scope["method"], headers):
            return _refused("The station takes requests from its own pages only.", 403)
        scope["session"] = self.access.session(headers.get("cookie", ""))
        path: str = scope["path"]
        session = scope["session"]
        if session is not None and session.phone and not path.startswith(PHONE_PATHS):
            return _refused("This phone is a button: it opens its own page only.", 403)
        if scope["session"] is None and not path.startswith(OPEN_PATHS):
            if headers.get("sec-fetch-mode") == "navigate" and scope["method"] == "GET":
                return RedirectResponse("/open", 303)
            return _refused("Open the link that the station printed when it was started.", 403)
        return None

    def _own_origin(self, method: str, headers: Headers) -> bool:
        """Same origin, or a first visit by link; a browser that says nothing may only look."""
        origin, site = headers.get("origin"), headers.get("sec-fetch-site")
        if origin is not None and origin != f"{self.scheme}://{headers['host'].lower()}":
            return False
        if method not in SAFE_METHODS:
            return origin is not None or site == "same-origin"
        if headers.get("sec-fetch-mode", "navigate") == "navigate":
            return headers.get("sec-fetch-dest", "document") == "document"
        return site in (None, "same-origin", "none")


async def _read_body(headers: Headers, receive: Receive) -> bytes | Response:
    told = headers.get("content-length", "0")
    if not told.isdigit() or int(told) > LARGEST_BODY:
        return _refused(f"Too large: at most {LARGEST_BODY // 1024} KiB.", 413)
    try:
        return await asyncio.wait_for(_collected(receive), BODY_PATIENCE_S)
    except asyncio.TimeoutError:
        return _refused(f"Too slow: a request may take {BODY_PATIENCE_S:g} s.", 408)
    except OverflowError:
        return _refused(f"Too large: at most {LARGEST_BODY // 1024} KiB.", 413)


async def _collected(receive: Receive) -> bytes:
    parts, size, more = [], 0, True
    while more:
        message = await receive()
        if message["type"] == "http.disconnect":
            break
        parts.append(message.get("body", b""))
        size += len(parts[-1])
        if size > LARGEST_BODY:
            raise OverflowError
        more = message.get("more_body", False)
    return b"".join(parts)


def _replay(body: bytes, receive: Receive) -> Receive:
    waiting: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

    async def _receive() -> Message:
        return waiting.pop() if waiting else await receive()

    return _receive


def _with_headers(send: Send, path: str) -> Send:
    policy = DRAWN_POLICY if path.startswith(DRAWN_PATHS) else POLICY

    async def _send(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            headers["content-security-policy"] = policy
        await send(message)

    return _send


def _refused(words: str, status: int) -> Response:
    return PlainTextResponse(f"{words}\n", status)
