"""`ripplefield WORDS...` on a machine whose wall clock is set back an hour in mid-exam.

Only the wall clock that the journal reads is another one: a program must not set the real one.
"""

from __future__ import annotations

import sys
from datetime import datetime, timedelta, timezone

import protocols.journal
from stimulus.cli import main

STEP_AFTER_READINGS = 12


class SteppedClock(datetime):
    """Goes back an hour at the twelfth reading."""

    readings = 0

    @classmethod
    def now(cls, tz: timezone | None = None) -> datetime:  # type: ignore[override]
        SteppedClock.readings += 1
        back = timedelta(hours=SteppedClock.readings >= STEP_AFTER_READINGS)
        return datetime.now(tz) - back


protocols.journal.datetime = SteppedClock  # type: ignore[misc]
main(sys.argv[1:])
