"""Conducting an exam: what goes on record when somebody interferes.

The stage is the virtual one; a subclass asks for a hold, a stop or a skip at a chosen presentation,
before its light, during it, or in the quiet gap after it, as an operator's keys do.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest
from exam_rigs import SCREEN_17, plan_of

from protocols.conduct import Settled, Shown, conduct
from protocols.errors import OrderError
from protocols.events import AnsweredLine, Closed, EyeLine, Held, Presented, Resumed
from protocols.exam import open_exam
from protocols.library import bundled_observer
from protocols.light import Light
from protocols.messages import Hold, SkipEye, Stop
from protocols.observer import Observer, load_observer
from protocols.replay import replay
from protocols.virtual import VirtualStage

LIGHT = Light(60.0, 0.826993)
HOLD, STOP, SKIP = Hold("a pause"), Stop("stopped by the operator"), SkipEye()
WHEN = ("before", "during", "after")


@dataclass
class Record:
    """Keeps events in memory; `safe` is how many had been synced."""

    events: list = field(default_factory=list)
    safe: int = 0

    def append(self, event):
        self.events.append(event)

    def sync(self):
        self.safe = len(self.events)


class Interrupted(VirtualStage):
    """Asks once, at presentation `index`."""

    def __init__(self, plan, index, when, asks):
        observer = Observer(load_observer(bundled_observer("healthy")), 4)
        super().__init__(plan, observer, LIGHT)
        self._index, self._when, self._asks = index, when, asks

    def show(self, presentation):
        if self._now(presentation, "before"):
            return Shown(None, self._ask())
        shown = super().show(presentation)
        if self._now(presentation, "during"):
            return Shown(shown.line, self._ask())
        return shown

    def settle(self, presentation):
        settled = super().settle(presentation)
        if self._now(presentation, "after"):
            return Settled(settled.presses_s, self._ask())
        return settled

    def _now(self, presentation, when):
        return self._asks is not None and (presentation.index, when) == (self._index, self._when)

    def _ask(self):
        asked, self._asks = self._asks, None
        return asked


def _run(index, when, asks, eyes=("right", "left")):
    plan = plan_of(4, eyes, SCREEN_17)
    record = Record()
    state = conduct(plan, open_exam(plan), Interrupted(plan, index, when, asks), record)
    return plan, state, record


def _shown(record):
    return [(e.index, e.role, e.place_number) for e in record.events if isinstance(e, Presented)]


def _answered(record):
    return [e.index for e in record.events if isinstance(e, AnsweredLine)]


UNDISTURBED = _run(-1, "before", None)[2]


@pytest.mark.parametrize("when", WHEN)
def test_a_hold_loses_no_answer_and_changes_no_sequence(when):
    _, state, record = _run(9, when, HOLD)
    assert state.phase == "finished"
    assert _answered(record) == _answered(UNDISTURBED)
    assert list(dict.fromkeys(_shown(record))) == _shown(UNDISTURBED)


@pytest.mark.parametrize(("when", "abandoned"), [("before", None), ("during", 9), ("after", None)])
def test_a_presentation_cut_short_is_recorded_as_abandoned_and_shown_again(when, abandoned):
    _, _, record = _run(9, when, HOLD)
    held = next(e for e in record.events if isinstance(e, Held))
    assert (held.reason, held.abandoned_index) == ("a pause", abandoned)
    assert sum(index == 9 for index, _, _ in _shown(record)) == (2 if abandoned else 1)
    assert any(isinstance(e, Resumed) and e.after == "held" for e in record.events)


@pytest.mark.parametrize("when", WHEN)
def test_a_stop_closes_the_record_with_its_reason(when):
    _, state, record = _run(9, when, STOP)
    assert state.phase == "stopped"
    assert record.events[-1] == Closed("stopped by the operator", "stopped")


@pytest.mark.parametrize("when", WHEN)
def test_a_skipped_eye_is_recorded_and_the_other_begins(when):
    _, state, record = _run(9, when, SKIP)
    starts = [e for e in record.events if isinstance(e, EyeLine)]
    assert starts == [EyeLine("right"), EyeLine("right", skipped=True), EyeLine("left")]
    assert state.phase == "finished"
    assert [eye.skipped for eye in state.eyes] == [True, False]


@pytest.mark.parametrize("asks", [None, HOLD, STOP, SKIP])
@pytest.mark.parametrize("when", WHEN)
def test_whatever_happened_replays_to_the_same_state(when, asks):
    plan, state, record = _run(9, when, asks)
    again = replay(plan, record.events)
    assert (again.phase, again.index, again.eye_number) == (
        state.phase, state.index, state.eye_number,
    )  # fmt: skip
    assert [eye.catch_shown for eye in again.eyes] == [eye.catch_shown for eye in state.eyes]
    assert again.action == state.action


def test_everything_is_safe_on_disk_at_the_end():
    assert UNDISTURBED.safe == len(UNDISTURBED.events)


def test_a_stage_that_neither_shows_nor_asks_is_refused():
    class Idle(VirtualStage):
        def show(self, presentation):
            return Shown(None, None)

    plan = plan_of(4)
    stage = Idle(plan, Observer(load_observer(bundled_observer("healthy")), 4), LIGHT)
    with pytest.raises(OrderError, match="must show a presentation or say what it was asked for"):
        conduct(plan, open_exam(plan), stage, Record())


class DropsFrames(VirtualStage):
    """A display that is one frame late in every fifth presentation."""

    def __init__(self, plan):
        super().__init__(plan, Observer(load_observer(bundled_observer("healthy")), 4), LIGHT)
        self._count = 0

    def _frames(self):
        self._count += 1
        return (36, 36, int(self._count % 5 == 0))


def test_presentations_the_display_spoiled_are_recorded_and_replayed_as_such():
    plan, record = plan_of(4, protocol=SCREEN_17), Record()
    state = conduct(plan, open_exam(plan), DropsFrames(plan), record)
    shown = [e for e in record.events if isinstance(e, Presented)]
    answers = [e for e in record.events if isinstance(e, AnsweredLine)]
    assert [e.spoiled for e in shown] == [e.spoiled for e in answers]
    assert [e.spoiled for e in shown] == [bool(e.frames_late) for e in shown]
    assert sum(e.spoiled for e in shown) == len(shown) // 5 == state.eye.spoiled
    again = replay(plan, record.events)
    assert (again.phase, again.eye.spoiled) == (state.phase, state.eye.spoiled)
    assert again.eye.catch_shown == state.eye.catch_shown


class PressesAt(VirtualStage):
    """Presses at one set time after each onset, be it in the window or in the quiet gap."""

    def __init__(self, plan, after_s):
        super().__init__(plan, Observer(load_observer(bundled_observer("healthy")), 4), LIGHT)
        self._after_s = after_s

    def settle(self, presentation):
        super().settle(presentation)
        return Settled((self._after_s,))


@pytest.mark.parametrize(
    ("after_s", "verdict"), [(0.05, "anticipation"), (0.6, "seen"), (1.25, "late")]
)
def test_a_press_up_to_the_next_onset_belongs_to_the_presentation_before(after_s, verdict):
    """A press in the quiet gap is a late answer to what was shown, not an early one to the next."""
    plan, record = plan_of(4, protocol=SCREEN_17), Record()
    conduct(plan, open_exam(plan), PressesAt(plan, after_s), record)
    shown = {e.index: e for e in record.events if isinstance(e, Presented)}
    answers = [e for e in record.events if isinstance(e, AnsweredLine)]
    assert {e.verdict for e in answers} == {verdict}
    for answer in answers:
        assert answer.response_time_s == after_s
        assert answer.press_s == pytest.approx(shown[answer.index].onset_s + after_s, abs=2e-6)
