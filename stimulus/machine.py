"""What this machine does when it is tried: writes, clocks, room. Standard library only.

The station's checks and `ripplefield doctor` put the same trials into words for two readers.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
import time
from pathlib import Path

DAY_BYTES = 2_000_000_000
"""Room for a long day: 1,000 exams of up to 1 MB, doubled (measured: a two-eye exam is 0.3 MB)."""
SLOWEST_WRITE_S = 0.25
PROBES = 5
DRIFT_S = 0.02
"""More than this between wall clock and steady clock in half a second is a jump."""


def free_bytes(folder: Path) -> int:
    """Room on the disk of a folder, bytes."""
    return shutil.disk_usage(folder).free


def slowest_write_s(folder: Path) -> float:
    """Seconds until a record's line is safe on disk, the slowest of a few tries.

    Raises OSError where nothing can be written.
    """
    return max(_written_s(folder) for _ in range(PROBES))


def wall_drift_s() -> float:
    """How far the wall clock went from the steady one while both were watched for half a second."""
    wall, steady = time.time(), time.monotonic()
    time.sleep(0.5)
    return (time.time() - wall) - (time.monotonic() - steady)


def synchronised() -> str:
    """Whether a time service keeps the wall clock, in words."""
    try:
        ran = subprocess.run(
            ["timedatectl", "show", "--property=NTPSynchronized", "--value"],
            capture_output=True, text=True, timeout=3,
        )  # fmt: skip
    except (OSError, subprocess.TimeoutExpired):
        return "whether a time service keeps it is not known"
    kept = ran.stdout.strip()
    words = {"yes": "kept by a time service", "no": "not kept by a time service"}
    return words.get(kept, "whether a time service keeps it is not known")


def _written_s(folder: Path) -> float:
    with tempfile.TemporaryFile(dir=folder) as file:
        start_s = time.perf_counter()
        file.write(b"x" * 1024)
        file.flush()
        os.fsync(file.fileno())
        return time.perf_counter() - start_s
