"""The station as one application: what it holds, and the pages it serves."""

from __future__ import annotations

from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from starlette.applications import Starlette

from protocols.errors import InputError
from stimulus.station.access import Access
from stimulus.station.checks.held import HeldChecks
from stimulus.station.index import Index
from stimulus.station.phone import SOCKET, PhoneLink
from stimulus.station.queue_file import QueueFile
from stimulus.station.runs import RUNS, Runs
from stimulus.station.say_texts import Text, load_texts
from stimulus.station.settings import (
    DISPLAYS,
    OBSERVERS,
    PROTOCOLS,
    Settings,
    read_settings,
    write_settings,
)
from stimulus.station.watch import Watch

FOLDERS = (DISPLAYS, PROTOCOLS, OBSERVERS, "say")


@dataclass
class Station:
    """A data folder at work. Raises InputError for a folder that cannot be used."""

    data: Path
    access: Access
    settings: Settings = field(init=False)
    queue_file: QueueFile = field(init=False)
    runs: Runs = field(init=False)
    watch: Watch = field(init=False)
    index: Index = field(init=False)
    checks: HeldChecks = field(init=False)
    phone: PhoneLink = field(init=False)

    def __post_init__(self) -> None:
        self.data = self.data.absolute()
        _make_folders(self.data)
        self.settings = read_settings(self.data)
        self.runs = Runs(self.data)
        self.queue_file = QueueFile(self.data, lambda: self.settings.station)
        self.watch = Watch(self.runs)
        self.index = Index(self.data)
        self.checks = HeldChecks(self.data)
        self.phone = PhoneLink(self.data / RUNS / SOCKET)

    @cached_property
    def texts(self) -> Mapping[str, Text]:
        """What is read aloud, by language."""
        return load_texts(self.data)

    def keep_settings(self, settings: Settings) -> None:
        """Use settings from now on; raises InputError for what cannot be."""
        write_settings(self.data, settings)
        self.settings = settings


def build_app(station: Station) -> Starlette:
    """The pages; the door before them is `guard.Guard`."""
    from stimulus.station.pages import all_routes

    @asynccontextmanager
    async def _lifespan(app: Starlette) -> AsyncIterator[None]:
        yield
        station.watch.close()
        station.checks.screen.stop()

    app = Starlette(routes=all_routes(), lifespan=_lifespan)
    app.state.station = station
    return app


def _make_folders(data: Path) -> None:
    try:
        for folder in ("", *FOLDERS):
            (data / folder).mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            "--data", str(data), "a folder that can be written to",
            f"The system says: {error.strerror}.",
        ) from None  # fmt: skip
