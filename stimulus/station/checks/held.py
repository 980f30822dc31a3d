"""The checks of a data folder with their last findings, for the page and for paper."""

from __future__ import annotations

import threading
from pathlib import Path

import msgspec
from msgspec.structs import replace

from protocols.errors import RipplefieldError
from protocols.files import UNREADABLE_JSON
from protocols.journal import utc_now
from protocols.write import write_whole
from stimulus.station.checks import machine
from stimulus.station.checks.outcome import Outcome
from stimulus.station.checks.screen import Screen
from stimulus.station.index import Index
from stimulus.station.runs import RUNS
from stimulus.station.settings import DISPLAYS, Settings

FILE = "checks.json"


class Entered(msgspec.Struct, frozen=True):
    """What was measured by hand, and when, and what the machine's own checks found."""

    distance_cm: float | None = None
    room_lux: float | None = None
    measured_utc: str = ""
    tried_utc: str = ""
    machine: list[Outcome] = []


class HeldChecks:
    """All checks of a station."""

    def __init__(self, data: Path) -> None:
        self._data = data
        self.screen = Screen(data / RUNS)
        self._lock = threading.Lock()
        self.entered = _read(data / FILE)

    def enter(self, distance_cm: float | None, room_lux: float | None) -> None:
        """Keep what was measured by hand."""
        self._keep(
            replace(
                self.entered,
                distance_cm=distance_cm,
                room_lux=room_lux,
                measured_utc=utc_now(),
            )
        )

    def try_machine(self, settings: Settings, index: Index) -> None:
        """Try out disk, clock and certificate."""
        found = [
            machine.certificate(self._data, settings),
            machine.disk(self._data),
            machine.clock(index),
        ]
        self._keep(replace(self.entered, machine=found, tried_utc=utc_now()))

    def outcomes(self, settings: Settings) -> list[Outcome]:
        """Every check with what is known of it now."""
        wanted_cm = self._wanted_cm(settings)
        return [
            *self.entered.machine,
            *self.screen.outcomes(),
            machine.distance(settings, wanted_cm, self.entered.distance_cm),
            machine.room_light(settings, self.entered.room_lux),
        ]

    def _wanted_cm(self, settings: Settings) -> float:
        """The certificate's distance, or the one that was set."""
        from stimulus.certified import load_for_running, screen_of

        if settings.certificate:
            try:
                found = load_for_running(self._data / DISPLAYS / settings.certificate)
                return screen_of(found).distance_cm
            except RipplefieldError:
                pass
        return settings.distance_cm

    def _keep(self, entered: Entered) -> None:
        with self._lock:
            write_whole(self._data / FILE, msgspec.json.encode(entered))
            self.entered = entered


def _read(path: Path) -> Entered:
    try:
        return msgspec.json.decode(path.read_bytes(), type=Entered)
    except (OSError, *UNREADABLE_JSON):
        return Entered()
