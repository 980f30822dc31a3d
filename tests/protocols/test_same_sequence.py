"""The contract: whoever drives the machine, the same seed and answers give the same exam.

Three drivers are compared presentation by presentation and word by word: a whole virtual exam with
its record (`conduct` on a stage), the replay of that record, and the bare machine driven by hand.
"""

from __future__ import annotations

from itertools import product

import pytest
from exam_rigs import as_observer, drive
from hypothesis import given, settings
from hypothesis import strategies as st
from records import record, sitting

from analysis.reference import load_reference
from protocols.errors import InputError
from protocols.events import Advised, AnsweredLine, EyeLine, Held, Presented, Resumed
from protocols.exam import open_exam, take
from protocols.journal import read
from protocols.library import bundled_observer, load_protocol
from protocols.light import Light
from protocols.messages import Begin, Present
from protocols.observer import Observer, load_observer
from protocols.replay import answer_of, plan_from, replay
from stimulus.opening import make_plan
from stimulus.virtual_exam import virtual_display

OBSERVERS = ("healthy", "arc-loss", "lone-loss", "trigger-happy")
CASES = [
    (observer, eyes, practice, seed)
    for (observer, seed), eyes, practice in product(
        zip(OBSERVERS, (3, 1_000_003, 2**32 - 1, 0), strict=True),
        (("right",), ("right", "left")),
        (False, True),
    )
]


def _events(folder):
    return [entry.event for entry in read(folder)]


def _facts_shown(shown):
    return (
        shown.index, shown.eye, shown.role, shown.practice, shown.place.x_deg, shown.place.y_deg,
        shown.place_number, shown.level_db, shown.contrast, shown.phase_deg,
    )  # fmt: skip


def _facts_recorded(line: Presented):
    return (
        line.index, line.eye, line.role, line.practice, line.x_deg, line.y_deg,
        line.place_number, line.level_db, line.contrast_nominal, line.phase_deg,
    )  # fmt: skip


def _recorded(events):
    shown = [_facts_recorded(e) for e in events if isinstance(e, Presented)]
    answers = [
        answer_of(e, events[0].latency_s) for e in events if isinstance(e, AnsweredLine)
    ]
    advice = [(e.kind, e.text) for e in events if isinstance(e, Advised)]
    return shown, answers, advice


def _by_hand(observer, eyes, practice, seed):
    """The third route: no stage, no journal; limits and light computed anew."""
    protocol = load_protocol("screen-19")
    display = virtual_display(protocol)
    light = Light(display.refresh_hz, display.frame_hold)
    plan = make_plan(
        protocol, load_reference(), sitting(seed, eyes, practice=practice), light.delivery
    )
    model = load_observer(bundled_observer(observer))
    return drive(plan, as_observer(plan, Observer(model, seed), light))


def _replayed_step_by_step(folder):
    """Presentations and advice the machine gives when it is told the recorded messages again."""
    events = _events(folder)
    plan = plan_from(events[0], load_protocol("screen-19"))
    state, shown, advice = open_exam(plan), [], []
    for event in events:
        if isinstance(event, EyeLine):
            state = take(plan, state, Begin())
        elif isinstance(event, AnsweredLine):
            shown.append(_facts_shown(state.action.presentation))
            state = take(plan, state, answer_of(event, plan.latency_s))
            advice += [(one.kind, one.text) for one in state.advice]
    return state, shown, advice


@pytest.mark.parametrize(("observer", "eyes", "practice", "seed"), CASES)
def test_stage_replay_and_bare_machine_agree(observer, eyes, practice, seed, tmp_path):
    ended = record(tmp_path / "e", observer, seed=seed, eyes=eyes, practice=practice)
    events = _events(tmp_path / "e")
    shown, answers, advice = _recorded(events)
    hand = _by_hand(observer, eyes, practice, seed)
    replayed, shown_again, advice_again = _replayed_step_by_step(tmp_path / "e")

    assert [_facts_shown(one) for one in hand.shown] == shown == shown_again
    assert hand.answers == answers
    assert [(one.kind, one.text) for one in hand.advice] == advice == advice_again
    phases = {s.phase for s in (ended, hand.state, replayed, _replay(tmp_path / "e"))}
    assert len(phases) == 1
    assert phases <= {"finished", "stopped"}


def _replay(folder, upto=None):
    events = _events(folder)
    return replay(plan_from(events[0], load_protocol("screen-19")), events[:upto])


def test_the_comparison_above_can_fail(tmp_path):
    """One seed apart, the sequences differ."""
    record(tmp_path / "e", seed=3)
    shown, _, _ = _recorded(_events(tmp_path / "e"))
    hand = _by_hand("healthy", ("right",), False, 4)
    assert [_facts_shown(one) for one in hand.shown] != shown


@pytest.fixture(scope="module")
def arc(tmp_path_factory):
    """The record of both eyes with a loss, practice and advice included."""
    folder = tmp_path_factory.mktemp("arc") / "e"
    record(folder, "arc-loss", seed=11, eyes=("right", "left"), practice=True)
    return folder


@settings(max_examples=60)
@given(data=st.data())
def test_a_record_cut_anywhere_goes_on_with_what_came_next(arc, data):
    """A killed exam resumes to the same sequence, wherever it was killed."""
    events = _events(arc)
    cut = data.draw(st.integers(1, len(events)))
    state = _replay(arc, cut)
    coming = [e for e in events[cut:] if isinstance(e, Presented)]
    pending = isinstance(events[cut - 1], Presented)
    if pending:
        coming.insert(0, events[cut - 1])
    if isinstance(state.action, Present):
        assert _facts_shown(state.action.presentation) == _facts_recorded(coming[0])


@settings(max_examples=30)
@given(data=st.data())
def test_holds_and_crashes_in_a_record_are_replayed_to_the_same_state(arc, data):
    events = _events(arc)
    spot = data.draw(
        st.sampled_from([n for n, event in enumerate(events) if isinstance(event, Presented)])
    )
    crash = data.draw(st.booleans())
    inserted = [Resumed("crash")] if crash else [Held("a pause", None), Resumed("held")]
    plan = plan_from(events[0], load_protocol("screen-19"))
    assert replay(plan, [*events[:spot], *inserted, *events[spot:]]).phase == "finished"


def test_a_record_of_another_sequence_is_refused(arc):
    """A replay checks every presentation against what plan and seed give."""
    events = _events(arc)
    first, second = [n for n, e in enumerate(events) if isinstance(e, Presented)][4:6]
    events[first], events[second] = events[second], events[first]
    with pytest.raises(InputError) as refused:
        replay(plan_from(events[0], load_protocol("screen-19")), events)
    assert "allowed: the one that protocol, seed and earlier answers give" in str(refused.value)
    assert "run ripplefield verify" in str(refused.value)


def test_another_protocol_than_the_recorded_one_is_refused(arc):
    with pytest.raises(InputError, match=r"protocol: got .*the one the exam was opened with"):
        plan_from(_events(arc)[0], load_protocol("screen-17"))
