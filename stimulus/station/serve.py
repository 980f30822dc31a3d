"""Opening the door: this machine only, unless an address, TLS files and a pass phrase are given."""

from __future__ import annotations

import contextlib
import ipaddress
import socket
import ssl
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import uvicorn
from starlette.types import ASGIApp

from protocols.errors import InputError
from stimulus.station.access import Access
from stimulus.station.app import Station, build_app
from stimulus.station.guard import Guard
from stimulus.station.slow import PatientProtocol

LOOPBACK = "127.0.0.1"
SHORTEST_PHRASE = 12
MOST_CONNECTIONS = 4000


@dataclass(frozen=True)
class Door:
    """Where the station listens. TLS files and pass phrase belong to an address of the network."""

    host: str = LOOPBACK
    port: int = 0
    certificate: Path | None = None
    key: Path | None = None
    pass_phrase: str | None = None

    def __post_init__(self) -> None:
        loopback = _require_address(self.host).is_loopback
        if not loopback:
            self._require_guarded()
        for name, path in (("--tls-cert", self.certificate), ("--tls-key", self.key)):
            if path is not None and not path.is_file():
                raise InputError(name, str(path), "a PEM file that exists", "Check the path.")
        self._require_long_phrase()
        if (self.certificate is None) != (self.key is None):
            raise InputError("--tls-cert", "one of two", "--tls-cert and --tls-key", "Add both.")

    @property
    def scheme(self) -> str:
        """http, or https with TLS files."""
        return "http" if self.certificate is None else "https"

    def _require_guarded(self) -> None:
        if self.certificate is None or self.key is None:
            raise InputError(
                "--listen", self.host, "this machine only (127.0.0.1), or TLS as well",
                "Add --tls-cert FILE and --tls-key FILE.",
            )  # fmt: skip
        if self.pass_phrase is None:
            raise _phrase_wanted("nothing")
        self._require_long_phrase()

    def _require_long_phrase(self) -> None:
        if self.pass_phrase is not None and len(self.pass_phrase) < SHORTEST_PHRASE:
            raise _phrase_wanted(f"{len(self.pass_phrase)} signs")


def _phrase_wanted(given: str) -> InputError:
    return InputError(
        "--pass-phrase-file",
        given,
        f"a file with at least {SHORTEST_PHRASE} signs in its first line",
        "Choose a few words that belong to no one.",
    )


def require_tls(door: Door) -> None:
    """Raise InputError unless certificate and key are PEM files that belong together."""
    if door.certificate is None or door.key is None:
        return
    try:
        ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(
            door.certificate, door.key
        )
    except OSError as error:  # an ssl.SSLError is one too
        raise InputError(
            "--tls-cert and --tls-key",
            f"{door.certificate} and {door.key}",
            "a certificate and its private key, each in a PEM file",
            f"The system says: {error.strerror or error}.",
        ) from None


def _require_address(host: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address:
    try:
        return ipaddress.ip_address(host)
    except ValueError:
        raise InputError(
            "--listen", host, "an address in numbers, such as 192.168.1.20", "Look it up first."
        ) from None


def serve(data: Path, door: Door, say: Callable[[str], None]) -> None:
    """Serve the station until interrupted."""
    serve_app(lambda access: build_app(Station(data, access)), door, say)


def serve_app(
    make: Callable[[Access], ASGIApp], door: Door, say: Callable[[str], None]
) -> None:
    """Serve pages behind the guard until interrupted.

    Tells `say` the link, and a new one each time it is used up.
    """
    _allow_many_files()
    listener = _listen(door)
    port = listener.getsockname()[1]
    shown_host = f"[{door.host}]" if ":" in door.host else door.host
    base = f"{door.scheme}://{shown_host}:{port}"
    access = Access(
        port, door.pass_phrase, lambda token: say(f"for another browser: {base}/open?token={token}")
    )
    app = Guard(make(access), access, _hosts(door.host, port), door.scheme)
    say(f"open: {base}/open?token={access.token}")
    uvicorn.Server(_config(app, door)).run(sockets=[listener])


def _allow_many_files() -> None:
    """As many open connections as the system grants: idle ones then shut nobody out."""
    import resource

    _, most = resource.getrlimit(resource.RLIMIT_NOFILE)
    with contextlib.suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_NOFILE, (most, most))


def _hosts(host: str, port: int) -> frozenset[str]:
    names = {f"[{host}]" if ":" in host else host}
    if ipaddress.ip_address(host).is_loopback:
        names |= {LOOPBACK, "localhost", "[::1]"}
    return frozenset(f"{name}:{port}" for name in names)


def _config(app: Guard, door: Door) -> uvicorn.Config:
    return uvicorn.Config(
        app,
        http=PatientProtocol,
        ws="none",
        lifespan="on",
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        limit_concurrency=MOST_CONNECTIONS,
        timeout_keep_alive=20,
        timeout_graceful_shutdown=2,
        h11_max_incomplete_event_size=16 * 1024,
        ssl_certfile=None if door.certificate is None else str(door.certificate),
        ssl_keyfile=None if door.key is None else str(door.key),
    )


def _listen(door: Door) -> socket.socket:
    family = socket.AF_INET6 if ":" in door.host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)  # else no TCP_NODELAY
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((door.host, door.port))
        listener.listen(1024)
    except OSError as error:
        listener.close()
        raise InputError(
            "--port", f"{door.host}:{door.port}", "an address and port that are free here",
            f"The system says: {error.strerror}.",
        ) from None  # fmt: skip
    listener.setblocking(False)
    return listener
