"""The live verdict: how often it is right and wrong, and that a journal gives it again."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from records import record
from warned_exams import EARLY, SCREEN_19, SPARSE, participant, run_many

from protocols.advice import FIRST, SECOND, due
from protocols.errors import InputError
from protocols.events import Advised, AnsweredLine
from protocols.exam import open_exam, take
from protocols.journal import read
from protocols.library import bundled_observer, parse_protocol
from protocols.messages import Answered, Begin, Present
from protocols.observer import Fixation, Pressing, load_observer
from protocols.plan import ExamPlan
from protocols.replay import plan_from, replay
from protocols.simulate.machine import rig_for, run_exams
from protocols.simulate.watchers import Watchers
from protocols.verdict import CONCERNS, LATE_FROM, Evidence, heard_of, weigh

EXAMS = 300
RIGHT_TIME_S = (0.36,)


@pytest.fixture(scope="module")
def careful():
    return run_many(SCREEN_19, participant(0.01, 0.0, 0.01), range(2 * EXAMS))


def test_careful_people_are_seldom_warned(careful):
    """At most 5 %, over whole exams and all three tests; no result is called unusable."""
    warned = np.mean([bool(end.warned_at) for end in careful])
    print(f"careful: warned {warned:.1%} of {len(careful)}")
    assert warned <= 0.05
    assert not any(end.unusable for end in careful)


BADLY = [("trigger-happy", 0.2, 0.0, "presses"), ("wandering", 0.01, 0.3, "gaze")]


@pytest.mark.parametrize(("name", "false", "away", "concern"), BADLY)
def test_those_who_answer_badly_are_caught_before_half_the_exam(name, false, away, concern):
    """At least 80 % in the bundled screening, most of them with the word that fits."""
    ends = run_many(SCREEN_19, participant(false, away, 0.01), range(EXAMS))
    caught = np.mean([end.before_half() for end in ends])
    fitting = np.mean([end.before_half(concern) for end in ends])
    print(f"{name}: before half {caught:.1%}, with the fitting word {fitting:.1%}")
    assert caught >= 0.8
    assert fitting >= 0.72


def test_three_checks_are_too_few_for_a_wandering_gaze():
    """Three checks in an exam: hardly more than one before half, so most are missed there."""
    assert SPARSE.settings.catch_trials.blind_spot == 3
    ends = run_many(SPARSE, participant(0.01, 0.3, 0.01), range(EXAMS // 2))
    assert np.mean([end.before_half() for end in ends]) < 0.5


def _after(*answers):
    """Evidence after (role, seen, presses)."""
    evidence, said = Evidence(), []
    for role, seen, presses in answers:
        now = weigh(evidence, role, seen, bool(presses) and presses[0] < 0.1, presses)
        said += due(evidence, now)
        evidence = now
    return evidence, said


def test_one_press_on_the_blind_spot_at_a_true_time_calls_for_a_word():
    usual = [("place", True, RIGHT_TIME_S)] * 5
    assert _after(*usual, ("blind_spot", True, RIGHT_TIME_S))[1] == ["look_at_mark"]
    assert _after(*usual, ("blind_spot", True, (0.9,)))[1] == []


STRAYS = [
    ("blank", True, (0.5,)), ("place", False, (0.05,)), ("place", True, (0.36, 0.8)),
    ("place", True, (0.36, 1.4)),
]  # fmt: skip


@pytest.mark.parametrize("stray", STRAYS)
def test_two_presses_that_nothing_caused_call_for_a_word(stray):
    """On a blank, too early, a second one to a target, one in the quiet gap: all alike."""
    assert _after(stray)[1] == []
    assert _after(stray, ("place", True, RIGHT_TIME_S), stray)[1] == ["press_only_when_seen"]


def test_late_in_an_eye_a_first_word_takes_more():
    """The longer a test runs, the more often chance alone takes it over a bound."""
    fresh, late = Evidence(), Evidence(shown=LATE_FROM)
    for count, (soon, later) in enumerate([(0, 0), (1, 0), (1, 1)], start=1):
        fresh, late = (weigh(one, "blank", True, False, (0.5,)) for one in (fresh, late))
        assert (fresh.decided[1], late.decided[1]) == (soon, later), count


def test_a_bouncing_button_is_one_press():
    assert not heard_of("place", True, False, (0.36, 0.39)).stray
    assert heard_of("place", True, False, (0.36, 0.6)).stray


def test_after_a_word_more_of_the_same_makes_the_result_unusable():
    evidence, said = _after(*[("blank", True, (0.5,))] * 5)
    assert said == ["press_only_when_seen", "unusable_presses"]
    assert evidence.standing == "result will not be usable"
    assert _after(*[("blank", True, (0.5,))] * 2)[0].standing == "re-instruct now"
    assert _after(("blank", False, ()))[0].standing == "fine so far"


def test_each_word_comes_once_at_most():
    for count in range(3, 9):
        assert due(Evidence(decided=(count - 1, 0, 0)), Evidence(decided=(count, 0, 0))) == []
    assert set(FIRST) == set(SECOND) == set(CONCERNS)


def test_missed_strong_targets_are_told_apart():
    _, said = _after(*[("full_contrast", False, ())] * 2)
    assert said == ["stay_attentive"]


@pytest.mark.parametrize("observer", ["trigger-happy", "wandering"])
def test_a_journal_gives_the_same_evidence_and_words(tmp_path, observer):
    """Stage, journal and replay: the same verdict, since presses are on record."""
    model = load_observer(bundled_observer("healthy"))
    changed = {"pressing": Pressing(0.3)} if observer == "trigger-happy" else {
        "fixation": Fixation(0.6, 8.0)}  # fmt: skip
    fields = {name: getattr(model, name) for name in model.__struct_fields__} | changed
    ended = record(tmp_path / "e", type(model)(**fields), seed=4, protocol=SCREEN_19)
    events = [entry.event for entry in read(tmp_path / "e")]
    again = replay(plan_from(events[0], SCREEN_19), events)
    assert again.eyes[0].evidence == ended.eyes[0].evidence
    told = [event.kind for event in events if isinstance(event, Advised)]
    assert told
    assert _words_of(events) == told


def _words_of(events):
    """What the machine says when it is told the record's answers one by one."""
    said = []
    for count in range(1, len(events) + 1):
        if isinstance(events[count - 1], AnsweredLine):
            state = replay(plan_from(events[0], SCREEN_19), events[:count])
            said += [one.kind for one in state.advice]
    return said


def test_the_early_checks_come_before_half_and_never_two_in_a_row():
    early = []
    for seed in range(60):
        plan = ExamPlan(SCREEN_19, ("right",), {"right": (20.0,) * 19}, seed, skip_practice=True)
        state, roles = take(plan, open_exam(plan), Begin()), []
        while isinstance(state.action, Present):
            shown = state.action.presentation
            roles.append(shown.role)
            seen = shown.role in ("place", "full_contrast")
            state = take(plan, state, Answered(shown.index, "seen" if seen else "not_seen"))
        assert roles.count("blind_spot") == EARLY
        assert roles[:3] == ["place"] * 3
        assert not any(a == b != "place" for a, b in itertools.pairwise(roles))
        early.append(roles[: len(roles) // 2].count("blind_spot"))
    assert np.mean(early) > 5.5
    assert min(early) >= 4


def test_the_array_engine_keeps_the_same_schedule():
    """Roles of the same exams by both routes."""
    seeds = np.arange(40) + 9
    shape = (len(seeds), 19)
    watchers = Watchers(np.full(shape, 60.0), np.full(shape, 1.0), np.zeros(shape), np.zeros(40))
    outcome = run_exams(rig_for(SCREEN_19, 0.827), np.full(shape, 20.0), watchers, seeds)
    for number, seed in enumerate(seeds):
        limits = {"right": (20.0,) * 19}
        plan = ExamPlan(SCREEN_19, ("right",), limits, int(seed), skip_practice=True)
        state, roles = take(plan, open_exam(plan), Begin()), []
        while isinstance(state.action, Present):
            shown = state.action.presentation
            roles.append({"place": 0, "blind_spot": 1, "blank": 2, "full_contrast": 3}[shown.role])
            seen = shown.role in ("place", "full_contrast")
            state = take(plan, state, Answered(shown.index, "seen" if seen else "not_seen"))
        assert outcome.history.role[number, : len(roles)].tolist() == roles


def test_more_early_checks_than_checks_are_refused():
    with pytest.raises(InputError, match=r"blind_spot_early.*up to blind_spot, 8"):
        parse_protocol(
            SCREEN_19.text.replace("blind_spot_early = 8\n", "blind_spot_early = 9\n"),
            "mine.toml", Path(),
        )  # fmt: skip


def test_evidence_starts_anew_once_it_speaks_for_care():
    evidence, _ = _after(*[("blank", False, ())] * 30)
    assert evidence.ratios == (0.0, 0.0, 0.0)
    assert replace(evidence, shown=0).uncaused_rate == pytest.approx(1 / 60)
    assert evidence.uncaused_rate < 1 / 60
