"""The examination as a state machine: its order, its refusals, and what repeats."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from exam_rigs import SCREEN_17, SCREEN_19, always, changed, drive, erratic, perfect, plan_of
from hypothesis import given, settings
from hypothesis import strategies as st

from protocols.errors import OrderError
from protocols.exam import open_exam, take
from protocols.messages import (
    Answered,
    Begin,
    Done,
    Hold,
    Present,
    RepeatPractice,
    Resume,
    SkipEye,
    Stop,
    Wait,
    WaivePractice,
)

PRACTISED = plan_of(7, eyes=("right", "left"), practice=True)
STRAIGHT = plan_of(7, eyes=("right", "left"))


def _taken(plan, *messages):
    state = open_exam(plan)
    for message in messages:
        state = take(plan, state, message)
    return state


def _answer_all(plan, state, phase, answer=perfect):
    """Answer what is shown for as long as the exam stays in this phase."""
    while state.phase == phase:
        state = take(plan, state, answer(state.action.presentation))
    return state


def _in_phase(phase):
    """An exam of both eyes brought to a phase."""
    if phase == "ready":
        return _taken(PRACTISED)
    if phase == "practising":
        return _taken(PRACTISED, Begin())
    if phase == "held":
        return _taken(PRACTISED, Begin(), Hold("a pause"))
    if phase == "stopped":
        return _taken(PRACTISED, Begin(), Stop("enough"))
    testing = _answer_all(PRACTISED, _taken(PRACTISED, Begin()), "practising")
    if phase == "testing":
        return testing
    resting = _answer_all(PRACTISED, testing, "testing")
    if phase == "resting":
        return resting
    return _answer_all(PRACTISED, take(PRACTISED, resting, Begin()), "testing")


PHASES = ("ready", "practising", "testing", "resting", "held", "stopped", "finished")
MESSAGES = {
    "begin": (Begin(), {"ready", "resting"}),
    "take an answer": (Answered(0, "seen"), {"practising", "testing"}),
    "hold": (Hold("a pause"), {"ready", "practising", "testing", "resting"}),
    "resume": (Resume(), {"held", "stopped"}),
    "repeat the practice": (RepeatPractice(), {"practising"}),
    "skip the eye": (SkipEye(), {"ready", "practising", "testing", "resting", "held"}),
    "stop": (Stop("enough"), {"ready", "practising", "testing", "resting", "held"}),
}


@pytest.mark.parametrize("phase", PHASES)
def test_each_phase_can_be_reached(phase):
    assert _in_phase(phase).phase == phase


@pytest.mark.parametrize("what", MESSAGES)
@pytest.mark.parametrize("phase", PHASES)
def test_a_wrong_order_is_refused_in_words(phase, what):
    state, (message, possible) = _in_phase(phase), MESSAGES[what]
    if isinstance(message, Answered) and isinstance(state.action, Present):
        message = Answered(state.action.presentation.index, "seen")
    if phase in possible:
        take(PRACTISED, state, message)
        return
    with pytest.raises(OrderError) as refused:
        take(PRACTISED, state, message)
    head, _, tail = str(refused.value).partition("; possible while ")
    assert head == f"cannot {what} while {phase}"
    assert set(tail.split(", ")) == possible


def test_the_answer_to_another_presentation_is_refused_in_words():
    state = _in_phase("testing")
    pending = state.action.presentation.index
    with pytest.raises(OrderError) as refused:
        take(PRACTISED, state, Answered(pending + 3, "seen"))
    assert str(refused.value) == (
        f"cannot take the answer to presentation {pending + 3}: presentation {pending} is "
        "pending; answer that one first"
    )


def test_a_refused_message_leaves_the_state_as_it_was():
    state = _in_phase("testing")
    before = (state.phase, state.index, state.action)
    with pytest.raises(OrderError):
        take(PRACTISED, state, Begin())
    assert (state.phase, state.index, state.action) == before


def test_the_whole_way_of_two_eyes():
    phases, state = [], open_exam(PRACTISED)
    while not isinstance(state.action, Done):
        if not phases or phases[-1] != (state.phase, state.eye.eye):
            phases.append((state.phase, state.eye.eye))
        presenting = isinstance(state.action, Present)
        message = perfect(state.action.presentation) if presenting else Begin()
        state = take(PRACTISED, state, message)
    assert phases == [
        ("ready", "right"),
        ("practising", "right"),
        ("testing", "right"),
        ("resting", "left"),
        ("testing", "left"),
    ]
    assert (state.phase, state.action) == ("finished", Done("finished"))


@pytest.mark.parametrize("eyes", [("right", "left"), ("left", "right"), ("left",), ("right",)])
def test_eyes_are_tested_in_order_each_at_its_own_places(eyes):
    plan = plan_of(3, eyes=eyes)
    done = drive(plan, perfect)
    assert tuple(dict.fromkeys(shown.eye for shown in done.shown)) == eyes
    for shown in done.shown:
        if shown.place_number is not None:
            assert shown.place == plan.places(shown.eye)[shown.place_number]
    assert [shown.index for shown in done.shown] == list(range(len(done.shown)))


def test_the_blind_spot_target_changes_sides_with_the_eye():
    done = drive(plan_of(3, eyes=("right", "left")), perfect)
    sides = {(shown.eye, shown.place.x_deg > 0) for shown in done.of_role("blind_spot")}
    assert sides == {("right", True), ("left", False)}


def test_rest_asks_for_the_protocols_seconds():
    assert _in_phase("resting").action == Wait("rest", 20.0)


def test_every_place_of_a_perfect_observer_is_seen_at_the_first_level():
    done = drive(STRAIGHT, perfect)
    for eye in done.state.eyes:
        assert eye.procedure.seen.all()
        assert (eye.procedure.tries == 1).all()


def test_an_unseen_target_comes_back_at_rising_contrast_up_to_three_tries():
    done = drive(plan_of(4, limit_db=20.0), always("not_seen"))
    levels: dict[int, list[float]] = {}
    for shown in done.of_role("place"):
        levels.setdefault(shown.place_number, []).append(shown.level_db)
    assert set(levels) == set(range(19))
    assert all(found == [20.0, 16.0, 0.0] for found in levels.values())


@pytest.mark.parametrize(
    ("answer", "advice", "passed", "shown"),
    [
        ("seen", [], True, 4),
        ("not_seen", ["explain_again", "practice_waits"], False, 8),
        ("late", ["explain_again", "practice_waits"], False, 8),
        ("anticipation", ["explain_again", "practice_waits"], False, 8),
    ],
)
def test_practice_is_full_contrast_and_repeated_once(answer, advice, passed, shown):
    state, said, practised = _taken(PRACTISED, Begin()), [], []
    while state.phase == "practising" and isinstance(state.action, Present):
        practised.append(state.action.presentation)
        state = take(PRACTISED, state, Answered(state.index, answer))
        said += [one.kind for one in state.advice]
    assert (said, state.practice.passed, len(practised)) == (advice, passed, shown)
    assert all(p.practice and p.contrast == 1.0 and p.role == "place" for p in practised)
    assert not any(a.place_number == b.place_number for a, b in pairwise(practised))
    if not passed:
        assert (state.phase, state.action) == ("practising", Wait("practice", 0.0))
        with pytest.raises(OrderError, match="repeated or waived"):
            take(PRACTISED, state, Answered(state.index, "seen"))
        state = take(PRACTISED, state, WaivePractice("AB"))
        assert [one.kind for one in state.advice] == ["practice_not_passed"]
    assert state.phase == "testing"


def _practised(plan, state, verdict):
    """Every practice presentation answered alike, until the machine wants something else."""
    while state.phase == "practising" and isinstance(state.action, Present):
        state = take(plan, state, Answered(state.index, verdict))
    return state


def test_a_practice_repeated_by_the_operator_is_one_more_round_that_can_be_passed():
    waiting = _practised(PRACTISED, _taken(PRACTISED, Begin()), "late")
    again = take(PRACTISED, waiting, RepeatPractice())
    assert (again.practice.round, again.practice.shown) == (3, 0)
    assert _practised(PRACTISED, again, "late").action == Wait("practice", 0.0)
    assert _practised(PRACTISED, again, "seen").phase == "testing"


def test_a_hold_while_the_practice_waits_comes_back_to_waiting():
    waiting = _practised(PRACTISED, _taken(PRACTISED, Begin()), "late")
    held = take(PRACTISED, waiting, Hold("a pause"))
    assert take(PRACTISED, held, Resume()).action == Wait("practice", 0.0)
    waived = take(PRACTISED, held, WaivePractice("AB"))
    assert take(PRACTISED, waived, Resume()).phase == "testing"


@pytest.mark.parametrize("phase", ["testing", "stopped", "finished"])
def test_practice_that_is_over_cannot_be_waived(phase):
    with pytest.raises(OrderError, match="it is over or left out"):
        take(PRACTISED, _in_phase(phase), WaivePractice("AB"))


def test_practice_is_over_when_the_second_eye_comes_and_left_out_where_it_was_waived_before():
    with pytest.raises(OrderError, match="it is over or left out"):
        take(PRACTISED, _in_phase("resting"), WaivePractice("AB"))
    waived = _taken(PRACTISED, WaivePractice("AB"), Begin())
    assert (waived.phase, waived.practice.waived_by) == ("testing", "AB")


@pytest.mark.parametrize("before", [(SkipEye(),), (Begin(), SkipEye())])
def test_the_second_eye_is_practised_where_the_first_one_was_skipped_before_it_was(before):
    state = _taken(PRACTISED, *before, Begin())
    assert (state.phase, state.eye.eye, state.practice.shown) == ("practising", "left", 0)


def test_a_passed_practice_is_not_asked_of_the_second_eye_again():
    state = take(PRACTISED, take(PRACTISED, _in_phase("testing"), SkipEye()), Begin())
    assert (state.phase, state.eye.eye) == ("testing", "left")


def test_records_of_before_practice_had_to_be_passed_run_as_they_did():
    plan = replace(PRACTISED, practice_required=False)
    state = _practised(plan, _taken(plan, Begin()), "late")
    assert (state.phase, state.practice.passed) == ("testing", False)
    assert [one.kind for one in state.advice] == ["practice_not_passed"]
    assert _taken(plan, SkipEye(), Begin()).phase == "testing"


def test_after_practice_the_exam_goes_on_and_forgets_the_practice_answers():
    state = _in_phase("testing")
    assert state.eye.presentations == 0
    assert not state.eye.procedure.tries.any()
    assert isinstance(state.action, Present)
    assert not state.action.presentation.practice


def test_the_three_of_four_that_pass_the_practice():
    state = _taken(PRACTISED, Begin())
    for verdict in ("seen", "not_seen", "seen", "seen"):
        state = take(PRACTISED, state, Answered(state.index, verdict))
    assert (state.phase, state.practice.passed) == ("testing", True)


def test_a_spoiled_practice_presentation_does_not_count():
    state = take(PRACTISED, _taken(PRACTISED, Begin()), Answered(0, "not_seen", spoiled=True))
    assert (state.practice.shown, state.index, state.phase) == (0, 1, "practising")
    assert isinstance(state.action, Present)
    assert state.action.presentation.index == 1


HELD_FROM = ("ready", "practising", "testing", "resting")


@pytest.mark.parametrize("phase", HELD_FROM)
@pytest.mark.parametrize("stop", [Hold("the phone rang"), Stop("enough")])
def test_after_a_hold_or_a_stop_the_exam_goes_on_where_it_was(phase, stop):
    before = _in_phase(phase)
    interrupted = take(PRACTISED, before, stop)
    after = take(PRACTISED, interrupted, Resume())
    assert not isinstance(interrupted.action, Present)
    assert (after.phase, after.action, after.index) == (phase, before.action, before.index)


def test_a_hold_keeps_its_reason_and_waits():
    held = take(PRACTISED, _in_phase("testing"), Hold("the phone rang"))
    assert (held.hold_reason, held.action) == ("the phone rang", Wait("hold", 0.0))


def test_a_stop_while_held_goes_on_from_before_the_hold():
    state = take(PRACTISED, _in_phase("testing"), Hold("a pause"))
    again = take(PRACTISED, take(PRACTISED, state, Stop("enough")), Resume())
    assert again.phase == "testing"


@settings(max_examples=40)
@given(st.integers(0, 2**32 - 1), st.sets(st.integers(0, 40), max_size=4))
def test_holds_change_nothing_in_the_sequence(seed, held_before):
    plan = plan_of(seed, protocol=SCREEN_17)
    straight = drive(plan, erratic(seed, 0.7))
    answers = {given_.index: given_ for given_ in straight.answers}
    state, shown = take(plan, open_exam(plan), Begin()), []
    while isinstance(state.action, Present):
        if state.index in held_before:
            state = take(plan, take(plan, state, Hold("a pause")), Resume())
        shown.append(state.action.presentation)
        state = take(plan, state, answers[state.index])
    assert shown == straight.shown


@pytest.mark.parametrize("phase", [*HELD_FROM, "held"])
def test_skipping_the_first_eye_leads_to_the_rest_before_the_second(phase):
    if phase == "resting":
        state = take(PRACTISED, _in_phase("resting"), SkipEye())
        assert (state.phase, state.eyes[1].skipped) == ("finished", True)
        return
    state = take(PRACTISED, _in_phase(phase), SkipEye())
    assert (state.phase, state.eye.eye) == ("resting", "left")
    assert state.eyes[0].skipped
    assert not state.eyes[1].skipped


REPEATED = [("anticipation", False), ("seen", True), ("not_seen", True)]


@pytest.mark.parametrize(("verdict", "spoiled"), REPEATED)
def test_an_answer_that_tells_nothing_leaves_the_target_to_be_shown_again(verdict, spoiled):
    """Anticipated and spoiled ones count as presentations and change no estimate."""
    state = _taken(STRAIGHT, Begin())
    first = state.action.presentation
    after = take(STRAIGHT, state, Answered(0, verdict, spoiled))
    assert after.eye.presentations == 1
    assert not after.eye.procedure.tries.any()
    assert not after.eye.procedure.seen.any()
    done = drive(STRAIGHT, perfect, after)
    again = [p for p in done.shown if p.eye == "right" and p.place_number == first.place_number]
    assert any(p.role == "place" and p.level_db == first.level_db for p in again)


@pytest.mark.parametrize(("verdict", "spoiled"), REPEATED)
def test_a_catch_trial_that_tells_nothing_is_shown_again(verdict, spoiled):
    wasted: set[str] = set()

    def answer(shown):
        if shown.role != "place" and shown.role not in wasted:
            wasted.add(shown.role)
            return Answered(shown.index, verdict, spoiled)
        return perfect(shown)

    done = drive(plan_of(8), answer)
    assert wasted == {"blind_spot", "blank", "full_contrast"}
    assert done.state.eye.catch_shown >= (3, 3, 3)
    assert all(len(done.of_role(role)) >= 4 for role in wasted)
    assert done.state.eye.catch_wrong == (0, 0, 0)


def test_a_late_answer_is_not_seen_but_counted():
    state = take(STRAIGHT, _taken(STRAIGHT, Begin()), Answered(0, "late"))
    assert state.eye.procedure.tries.sum() == 1
    assert not state.eye.procedure.seen.any()


WRONG = [
    ("blind_spot", "seen", "look_at_mark"),
    ("blank", "seen", "press_only_when_seen"),
    ("full_contrast", "not_seen", "stay_attentive"),
]


@pytest.mark.parametrize(("role", "verdict", "kind"), WRONG)
def test_two_wrong_catch_trials_call_for_a_word_once(role, verdict, kind):
    three_of_each = changed(SCREEN_19, "")
    done = drive(
        plan_of(5, protocol=three_of_each),
        lambda shown: Answered(shown.index, verdict) if shown.role == role else perfect(shown),
    )
    assert [one.kind for one in done.advice] == [kind]
    assert done.advice[0].text.startswith("Say: ")
    assert max(done.state.eye.catch_wrong) >= 3


def test_anticipations_are_evidence_of_false_presses():
    """Two presses too early call for the same word as two on blanks."""
    early = iter([True, True])
    done = drive(
        plan_of(5),
        lambda s: Answered(s.index, "anticipation") if next(early, False) else perfect(s),
    )
    assert [one.kind for one in done.advice] == ["press_only_when_seen"]
    assert done.state.eye.false_presses == 2


def test_each_eye_gets_its_own_advice():
    done = drive(
        plan_of(5, eyes=("right", "left")),
        lambda s: Answered(s.index, "seen") if s.role == "blank" else perfect(s),
    )
    assert [one.kind for one in done.advice] == ["press_only_when_seen"] * 2


def test_an_exam_that_cannot_end_is_stopped_with_words():
    done = drive(plan_of(5), always("anticipation"))
    assert (done.state.phase, len(done.shown)) == ("stopped", 150)
    assert done.state.action.reason == (
        "150 presentations to one eye, the most the protocol allows; "
        "explain the task again and test anew"
    )


def test_a_display_that_drops_frames_is_stopped_with_words():
    done = drive(plan_of(5), lambda s: Answered(s.index, "seen", spoiled=s.index % 2 == 0))
    assert done.state.phase == "stopped"
    assert done.state.action.reason.startswith(
        "the display dropped or delayed frames in 6 of 11 presentations; the protocol allows 25%"
    )


def test_after_a_stop_for_dropped_frames_a_mended_display_finishes_the_exam():
    """The words say "then resume": a resumed exam must not stop again for what is past."""
    plan = plan_of(5)
    stopped = drive(plan, lambda s: Answered(s.index, "seen", spoiled=s.index % 2 == 0)).state
    assert drive(plan, perfect, take(plan, stopped, Resume())).state.phase == "finished"


def test_dropped_frames_after_resuming_stop_the_exam_anew():
    plan = plan_of(5)
    bad = drive(plan, lambda s: Answered(s.index, "seen", spoiled=True)).state
    again = drive(plan, lambda s: Answered(s.index, "seen", True), take(plan, bad, Resume()))
    assert again.state.phase == "stopped"
    assert len(again.shown) == 6


def test_a_few_spoiled_presentations_are_just_shown_again():
    done = drive(plan_of(5), lambda s: Answered(s.index, "seen", spoiled=s.index < 5))
    assert done.state.phase == "finished"
    assert done.state.eye.spoiled == 5


@settings(max_examples=25)
@given(st.integers(0, 2**32 - 1))
def test_the_same_seed_and_answers_give_the_same_exam(seed):
    plan = plan_of(seed, eyes=("right", "left"), practice=True)
    assert drive(plan, erratic(seed, 0.6)).shown == drive(plan, erratic(seed, 0.6)).shown


def test_another_seed_gives_another_order():
    orders = {tuple(s.place_number for s in drive(plan_of(n), perfect).shown) for n in range(50)}
    assert len(orders) == 50


def test_both_phases_occur_and_neither_prevails():
    phases = [s.phase_deg for n in range(30) for s in drive(plan_of(n), perfect).shown]
    assert set(phases) == {0.0, 180.0}
    assert 0.4 < phases.count(0.0) / len(phases) < 0.6


def test_quiet_times_are_the_protocols():
    gaps = [s.gap_s for n in range(30) for s in drive(plan_of(n), perfect).shown]
    assert min(gaps) >= 0.3
    assert max(gaps) <= 0.8
    assert len(set(gaps)) == len(gaps)


def test_rules_come_from_the_protocol():
    """Other numbers in the file, another exam: one try, one practice round, no rest."""
    protocol = changed(
        SCREEN_19, "tries = 1\n[practice]\npresentations = 2\nneeded = 1\n[eyes]\nrest_s = 0.0\n"
    )
    plan = plan_of(2, eyes=("right", "left"), protocol=protocol, practice=True)
    done = drive(plan, always("not_seen"))
    assert sum(s.practice for s in done.shown) == 4
    assert len([s for s in done.of_role("place") if not s.practice]) == 2 * 19
    assert all(s.level_db == 0.0 for s in done.of_role("place"))
