"""A stage without light: a simulated participant on a virtual clock, faster than real time."""

from __future__ import annotations

from protocols.conduct import Settled, Shown
from protocols.exam import ExamState
from protocols.light import Light, presented_line
from protocols.messages import Advise, Begin, Message, Resume, Wait, WaivePractice
from protocols.observer import Observer, press_times_s
from protocols.plan import ExamPlan
from protocols.practice import NOBODY
from protocols.presentation import Presentation

VIRTUAL_REFRESH_HZ = 60.0
READY_S = 1.0


class VirtualStage:
    """A stage for `conduct`; `now_s` is its clock."""

    def __init__(
        self, plan: ExamPlan, observer: Observer, light: Light, start_s: float = 0.0
    ) -> None:
        self._plan = plan
        self._observer = observer
        self._light = light
        self._now_s = start_s
        self._onset_s = 0.0
        self._presses: tuple[float, ...] = ()

    def now_s(self) -> float:
        """Seconds on the virtual clock."""
        return self._now_s

    def show(self, presentation: Presentation) -> Shown:
        """Ask the observer at once and move the clock to the end of the answer window."""
        settings = self._plan.protocol.settings
        self._onset_s = self._now_s
        line = presented_line(self._plan, presentation, self._light, self._onset_s, self._frames())
        self._presses = press_times_s(
            self._observer,
            presentation,
            line.contrast_delivered,
            self._onset_s,
            settings.answering.accept_until_s,
        )
        self._now_s += window_s(self._plan, self._presses)
        return Shown(line)

    def settle(self, presentation: Presentation) -> Settled:
        """Let the quiet gap pass."""
        self._now_s += presentation.gap_s
        return Settled(self._presses)

    def wait(self, wait: Wait, state: ExamState) -> Message:
        """Simulated people are always ready and holds are short."""
        self._now_s += max(wait.seconds, READY_S)
        if wait.what == "practice":
            return WaivePractice(NOBODY)
        return Resume() if wait.what == "hold" else Begin()

    def advise(self, advice: Advise) -> None:
        """A simulated participant does not listen."""

    def watch(self, state: ExamState) -> None:
        """Nothing to show."""

    def _frames(self) -> tuple[int, int, int]:
        stimulus = self._plan.protocol.settings.stimulus
        wanted = round(stimulus.duration_s * self._light.refresh_hz)
        return wanted, wanted, 0


def window_s(plan: ExamPlan, presses_s: tuple[float, ...]) -> float:
    """How long the answer window stays open: until a counting press and the light are both over."""
    settings = plan.protocol.settings
    accept = settings.answering
    counting = [t for t in presses_s if accept.accept_from_s <= t <= accept.accept_until_s]
    if not counting:
        return accept.accept_until_s
    return max(counting[0], settings.stimulus.duration_s)
