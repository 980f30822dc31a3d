"""The disk that records go to."""

from __future__ import annotations

from pathlib import Path

from stimulus.doctor.finding import Finding, good
from stimulus.machine import DAY_BYTES, SLOWEST_WRITE_S, free_bytes, slowest_write_s


def disk(folder: Path) -> Finding:
    """Writes and syncs files where records go, and looks how much room there is."""
    name = "Disk"
    try:
        slowest_s, free = slowest_write_s(folder), free_bytes(folder)
    except OSError as error:
        means = "No record can be kept: exams refuse to begin."
        return Finding(name, "missing", f"{folder} cannot be written on: {error.strerror}", means,
                       f"sudo chown $USER {folder}    (or name another folder: --out DIR)"
                       )  # fmt: skip
    found = f"{free / 1e9:.1f} GB free; a record's line is safe after {1000 * slowest_s:.1f} ms"
    if free < DAY_BYTES:
        means = f"A long day may need {DAY_BYTES / 1e9:.0f} GB."
        return Finding(name, "slow", found, means, f"Make room: du -xh {folder} | sort -h | tail")
    if slowest_s > SLOWEST_WRITE_S:
        means = "The pause between presentations grows."
        return Finding(name, "slow", found, means, "Use a disk inside the machine: --out DIR")
    return good(name, found)
