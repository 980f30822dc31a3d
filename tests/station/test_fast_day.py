"""A short stretch of the simulated day of `tests/bench/station_day.py`: all pages, all exams told.

Times and megabytes are the bench's to judge; here they are printed, and memory must not run away.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "bench"))
from station_day import PATHS, live_through

MOST_GROWTH_MB = 60.0
"""Over two exams after the first: drawing pictures takes room once, not for each exam."""


def test_a_stretch_of_a_day_with_500_in_the_queue(tmp_path):
    day = live_through(tmp_path / "d", hours=8.0, people=500, most=3)
    assert day.exams == 3
    assert day.clock_s > 3 * 60
    assert {len(day.times_s[path]) for path in PATHS if path != "/queue"} == {3}
    assert len(day.times_s["result, drawn"]) == len(day.times_s["result, kept"]) == 3
    assert max(day.times_s["result, kept"]) < max(day.times_s["result, drawn"])
    print({path: round(1000 * min(times)) for path, times in day.times_s.items()})
    print([round(mb) for mb in day.resident_mb])
    assert day.resident_mb[-1] - day.resident_mb[0] < MOST_GROWTH_MB
