"""Checks that need no window: disk, clock, certificate, and what was measured by hand."""

from __future__ import annotations

from datetime import datetime, timezone
from pathlib import Path

from protocols.errors import InputError, RipplefieldError
from stimulus.machine import (
    DAY_BYTES,
    DRIFT_S,
    SLOWEST_WRITE_S,
    free_bytes,
    slowest_write_s,
    synchronised,
    wall_drift_s,
)
from stimulus.station.checks.outcome import Outcome, bad, good, not_tried
from stimulus.station.index import Index
from stimulus.station.settings import DISPLAYS, Settings, require_usable

DISTANCE_TOLERANCE = 0.025
"""Share by which the distance may be off: 2.5 % moves a place at 20 degrees by half a degree."""


def disk(data: Path) -> Outcome:
    """Writes and syncs files where records go, and looks how much room there is."""
    name, title = "disk", "Room for records"
    free = free_bytes(data)
    try:
        slowest_s = slowest_write_s(data)
    except OSError as error:
        return bad(name, title, f"Cannot be written on: {error.strerror}.",
                   "Free the disk, or start the station with another --data folder.")  # fmt: skip
    said = f"{free / 1e9:.1f} GB free; a record's line is safe after {1000 * slowest_s:.0f} ms."
    if free < DAY_BYTES:
        return bad(name, title, said, f"Make room: a day may need {DAY_BYTES / 1e9:.0f} GB.")
    if slowest_s > SLOWEST_WRITE_S:
        return bad(name, title, said, "This disk is slow: use one inside the machine.")
    return good(name, title, said)


def clock(index: Index) -> Outcome:
    """Compares the wall clock with the steady one, with the newest record, with the time service.

    Takes half a second.
    """
    name, title = "clock", "Clock"
    drift_s = wall_drift_s()
    now = datetime.now(timezone.utc)
    newest = max((s.ended_utc for s in index.all() if s.ended_utc), default="")
    said = f"{now:%d %B %Y, %H:%M:%S} UTC; {synchronised()}."
    if newest and datetime.fromisoformat(newest.replace("Z", "+00:00")) > now:
        return bad(name, title, f"{said} The newest record is from later: {newest}.",
                   "Set the machine's clock.")  # fmt: skip
    if abs(drift_s) > DRIFT_S:
        return bad(name, title, f"{said} It jumped by {drift_s:.3f} s while it was watched.",
                   "Wait until the time service has set it, then try again.")  # fmt: skip
    return good(name, title, said)


def certificate(data: Path, settings: Settings) -> Outcome:
    """Reads the certificate as an exam would; what that raises is told as a bad outcome."""
    from stimulus.certified import load_for_running

    name, title = "certificate", "Display certificate"
    try:
        require_usable(data, settings)
        if not settings.certificate:
            return bad(name, title, "None is chosen: results will say \"uncalibrated display\".",
                       "Calibrate the display, put the certificate into displays/, choose it "
                       "under This station.")  # fmt: skip
        found = load_for_running(data / DISPLAYS / settings.certificate)
    except RipplefieldError as error:
        return bad(name, title, str(error), _todo(error))
    left = datetime.fromisoformat(found.lapses_utc) - datetime.now(timezone.utc)
    return good(name, title, f"{settings.certificate}, valid for {left.days} more days.")


def _todo(error: RipplefieldError) -> str:
    return error.todo if isinstance(error, InputError) else "Mend it, then try again."


def distance(settings: Settings, wanted_cm: float, measured_cm: float | None) -> Outcome:
    """Compares what was measured with what the display is set to."""
    name, title = "distance", "Distance from eye to mark"
    if measured_cm is None:
        return not_tried(name, title, f"Measure from the chin rest's eye mark to the fixation "
                                      f"mark; it should be {wanted_cm:g} cm.")  # fmt: skip
    off = measured_cm / wanted_cm - 1
    said = f"{measured_cm:g} cm measured, {wanted_cm:g} cm wanted ({100 * off:+.1f} %)."
    if abs(off) > DISTANCE_TOLERANCE:
        return bad(name, title, said, f"Move the chin rest or the screen to {wanted_cm:g} cm.")
    return good(name, title, said)


def room_light(settings: Settings, measured_lux: float | None) -> Outcome:
    """Compares the light at the screen with the most this station allows."""
    name, title, most = "light", "Room light", settings.room_light_most_lux
    if measured_lux is None:
        return not_tried(name, title, "Hold a lux meter at the screen, facing the room, and enter "
                                      f"what it shows; at most {most:g} lx.")  # fmt: skip
    said = f"{measured_lux:g} lx at the screen, {most:g} lx allowed."
    if measured_lux > most:
        return bad(name, title, said, "Dim the lamps or draw the curtains, then measure again.")
    return good(name, title, said)
