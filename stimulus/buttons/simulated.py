"""A simulated participant as a button: told what was shown, it presses in real time."""

from __future__ import annotations

import time
from pathlib import Path

from protocols.errors import OrderError
from protocols.library import bundled_observer, bundled_observers
from protocols.observer import Observer, load_observer, press_times_s
from protocols.presentation import Presentation
from stimulus.clock import clock

BEGIN_AFTER_S = 0.5


def is_bundled(detail: str) -> bool:
    """Whether a bundled observer is meant: its name, and no file of that name is here."""
    return detail in bundled_observers() and not Path(detail).is_file()


class SimulatedButton:
    """Presses of an observer file, or of a bundled observer by name."""

    def __init__(self, detail: str) -> None:
        bundled = is_bundled(detail)
        path = bundled_observer(detail) if bundled else Path(detail)
        self.model = load_observer(path)
        self.name = f"simulated:{detail if bundled else path.name}"
        self.resolution_s = time.get_clock_info("perf_counter").resolution
        self._observer = Observer(self.model, 0)
        self._due_s: list[float] = []
        self._listening = False

    def sit_down(self, seed: int) -> None:
        """Take the seed of this sitting."""
        self._observer = Observer(self.model, seed)

    def start(self) -> None:
        """Begin to listen; raises OrderError if it does already."""
        if self._listening:
            raise OrderError("the simulated participant is listening already; close it first")
        self._due_s, self._listening = [], True

    def saw(
        self,
        shown: Presentation,
        delivered: float,
        onset_s: float,
        elapsed_s: float,
        window_s: float,
    ) -> None:
        """What was shown and when, on the shared clock; its presses fall due from now on."""
        times = press_times_s(self._observer, shown, delivered, elapsed_s, window_s)
        self.press_at([onset_s + t for t in times])

    def press_at(self, times_s: list[float]) -> None:
        """Let presses fall due at these times on the shared clock."""
        self._due_s = sorted([*self._due_s, *times_s])

    def forget(self) -> None:
        """Think better of the presses that have not fallen due."""
        self._due_s = []

    def presses(self) -> list[float]:
        """Presses that have fallen due since the last call, ascending."""
        if not self._listening:
            raise OrderError("the simulated participant is not listening; start it first")
        now = clock()
        due = [t for t in self._due_s if t <= now]
        self._due_s = self._due_s[len(due) :]
        return due

    def recover(self) -> bool:
        """It is never lost."""
        return self._listening

    def close(self) -> None:
        """Stop listening; twice is fine."""
        self._listening = False
