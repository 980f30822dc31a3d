"""Who may look: a link that opens once, then a cookie; over the network also a pass phrase."""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie

COOKIE = "ripplefield_station"
SESSIONS_KEPT = 20
TRIES = 10
"""Wrong pass phrases in all until the door stays shut and the station must be started again."""


@dataclass
class Session:
    """One browser; `notice` is what its next page says first. A phone's opens its page alone."""

    notice: str = ""
    warning: str = ""
    phone: bool = False


@dataclass
class Access:
    """Tokens and sessions. `on_link` is told each new one-time token."""

    port: int
    pass_phrase: str | None = None
    on_link: Callable[[str], None] = lambda token: None
    token: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    phone_code: str = field(default_factory=lambda: _new_code())
    wrong_tries: int = 0
    _sessions: dict[str, Session] = field(default_factory=dict)

    @property
    def cookie_name(self) -> str:
        """The cookie of this port: cookies do not tell ports apart."""
        return f"{COOKIE}_{self.port}"

    def open_with(self, token: str, pass_phrase: str = "") -> str | None:
        """A new session's cookie value for the right token, which is spent by it; else None."""
        if not hmac.compare_digest(token.encode(), self.token.encode()):
            return None
        if not self._is_phrase(pass_phrase):
            return None
        self.token = secrets.token_urlsafe(32)
        self.on_link(self.token)
        return self._begin()

    def open_phone(self, code: str, pass_phrase: str) -> str | None:
        """A new session for a phone's page alone, for the code, which is spent by it, and phrase.

        None at a door without a pass phrase, and once too many wrong codes or phrases were given.
        """
        right = hmac.compare_digest(code.strip().encode(), self.phone_code.encode())
        self.wrong_tries += not right
        known = self.pass_phrase is not None and self._is_phrase(pass_phrase)
        if not (right and known and self.wrong_tries < TRIES):
            return None
        self.phone_code = _new_code()
        return self._begin(Session(phone=True))

    def session(self, cookie_header: str) -> Session | None:
        """The session that a request's cookies name, or None."""
        try:
            morsel = SimpleCookie(cookie_header).get(self.cookie_name)
        except CookieError:
            return None
        return None if morsel is None else self._sessions.get(morsel.value)

    def _is_phrase(self, given: str) -> bool:
        if self.pass_phrase is None:
            return True
        right = hmac.compare_digest(given.encode(), self.pass_phrase.encode())
        self.wrong_tries += not right
        return right and self.wrong_tries < TRIES

    def _begin(self, session: Session | None = None) -> str:
        value = secrets.token_urlsafe(32)
        self._sessions[value] = session or Session()
        while len(self._sessions) > SESSIONS_KEPT:
            del self._sessions[next(iter(self._sessions))]
        return value


def _new_code() -> str:
    return f"{secrets.randbelow(10**8):08d}"
