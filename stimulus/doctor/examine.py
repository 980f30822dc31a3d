"""All trials in order; one that fails itself is a finding too, and the rest go on."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

from stimulus.doctor import devices, display, extras, software, storage, timing
from stimulus.doctor.finding import Finding

Trial = Callable[[], "Finding | list[Finding]"]


def examine(folder: Path) -> Iterator[Finding]:
    """Findings as they come; `folder` is where records would go. Takes about half a minute."""
    trials: dict[str, Trial] = {
        "Python": software.python,
        "Packages": software.packages,
        "System libraries": software.libraries,
        "Screen": display.display,
        "Window": display.window,
        "Priority": timing.priority,
        "Clock": timing.clock,
        "Disk": lambda: storage.disk(folder),
        "Serial ports": devices.ports,
        "Processor": timing.processor,
        "Extras": extras.extras,
    }
    for name, trial in trials.items():
        yield from _tried(name, trial)


def _tried(name: str, trial: Trial) -> list[Finding]:
    try:
        found = trial()
    except Exception as error:  # noqa: BLE001  whatever is wrong with the machine is said
        said = " ".join(f"{type(error).__name__}: {error}".split())
        means = "It is not known whether exams can run."
        mend = "pip install -c constraints.txt .    (then try again)"
        return [Finding(name, "missing", f"could not be tried: {said}", means, mend)]
    return found if isinstance(found, list) else [found]
