"""Running the exam of a case: acts are the exam, observers hear, and the rules mark as stated."""

from __future__ import annotations

from dataclasses import replace

import pytest
from case_rigs import bundled, ideal_acts, room_of

from analysis.cases.operating import FREE_WORDS, IN_TIME, judge_operator, outcome
from analysis.cases.questions import next_step
from protocols.cases.file import EyeTruth
from protocols.cases.habits import (
    REMEDY,
    WORDS,
    Careful,
    Lapsing,
    Slow,
    Tiring,
    TriggerHappy,
    Wandering,
    badness,
    habit_of,
    observer_of,
    told,
)
from protocols.cases.play import DOES, MOST_ATTEMPTS, Act, play, require_act
from protocols.cases.setups import BrightRoom, OtherEyeOpen, fault_of
from protocols.errors import InputError
from protocols.events import AnsweredLine, Closed, Held, Presented
from protocols.verdict import BADLY

BAD = [TriggerHappy(0.35), Wandering(0.6), Lapsing(0.4), Tiring(0.5), Slow(1.0)]
RUNS = (Act("run"), Act("run"))


def events(played, kind):
    return [e.event for e in played.last.entries if isinstance(e.event, kind)]


def points(room, acts, step):
    score = judge_operator(room.truth, room.play(tuple(acts)), step)
    return {mark.key: mark.points for mark in score.marks}


def test_the_same_acts_give_the_same_exam():
    one, two = (bundled("case-09").play((Act("run", count=9), Act("say", "press"), *RUNS))
                for _ in range(2))  # fmt: skip
    assert [e.event for e in one.last.entries] == [e.event for e in two.last.entries]
    assert one.last.state.phase == "finished"


def test_an_exam_in_steps_is_the_exam_in_one_go():
    """Where nothing was said, it does not matter how often the student stopped to think."""
    room = bundled("case-04")
    steps = [Act("run", count=3)] * 60
    steady, stepped = room.play(RUNS), room.play(tuple(steps))
    assert stepped.last.over
    for kind in (Presented, AnsweredLine, Closed):
        assert events(steady, kind) == events(stepped, kind)


def test_a_pause_for_acts_is_no_time_for_the_exam_to_end():
    played = bundled("case-04").play((Act("run", count=4),))
    assert (played.last.state.index, played.last.over) == (4, False)
    assert len(events(played, AnsweredLine)) == 4


@pytest.mark.parametrize("habit", BAD, ids=habit_of)
def test_the_right_word_makes_a_bad_habit_a_mild_one(habit):
    word = REMEDY[habit_of(habit)]
    better = told(habit, frozenset({word}), rested=True)
    assert badness(habit) >= 1 > badness(better)
    for other in set(WORDS) - {word}:
        assert told(habit, frozenset({other})) == habit


@pytest.mark.parametrize("habit", BAD, ids=habit_of)
def test_a_person_who_does_not_heed_stays_as_they_are(habit):
    deaf = type(habit)(**{**{k: getattr(habit, k) for k in habit.__struct_fields__}, "heeds": 0.0})
    assert badness(told(deaf, frozenset(WORDS), rested=True)) == pytest.approx(badness(deaf))


def test_badness_is_counted_in_the_rates_of_the_live_verdict():
    assert badness(Careful()) == 0
    assert badness(TriggerHappy(BADLY.presses)) == 1
    assert badness(Wandering(BADLY.gaze)) == 1
    assert badness(Lapsing(BADLY.attention)) == 1


def test_a_slow_persons_badness_is_the_share_of_late_presses():
    """Second route: the simulated reaction times themselves, far from threshold."""
    from protocols.observer import Observer, presses_given

    model = observer_of(Slow(0.95))
    times = [presses_given(Observer(model, 1), n, 0.999, 1.0) for n in range(4000)]
    late = sum(t[0] > 1.0 for t in times if t) / len(times)
    assert late / BADLY.attention == pytest.approx(badness(Slow(0.95)), abs=0.25)


def test_words_change_what_is_answered():
    """Counted over many sittings: presses at blanks before and after the word."""
    room = room_of(observer=TriggerHappy(0.5))

    def wrong(acts):
        found = 0
        for seed in range(12):
            sitter = replace(room.sitter(), seed=seed)
            played = play(sitter, room.plan, room.light, acts)
            found += sum(eye.false_presses for eye in played.last.state.eyes)
        return found

    silent, spoken = wrong(RUNS), wrong((Act("say", "press"), *RUNS))
    assert silent > 12
    assert spoken < silent / 3


def test_rest_takes_tiredness_away():
    room = room_of(observer=Tiring(0.5))
    rests = [act for _ in range(8) for act in (Act("run", count=6), Act("rest"))]

    def missed(acts):
        found = 0
        for seed in range(12):
            sitter = replace(room.sitter(), seed=seed)
            played = play(sitter, room.plan, room.light, acts)
            found += sum(e.verdict == "not_seen" for e in events(played, AnsweredLine))
        return found

    assert missed((*rests, *RUNS)) < 0.8 * missed(RUNS)
    assert len(events(room.play((*rests, *RUNS)), Held)) >= 4


def test_beginning_anew_is_a_new_exam_of_the_same_person():
    acts = (Act("run", count=5), Act("say", "press"), Act("again"), *RUNS)
    played = bundled("case-09").play(acts)
    assert len(played.attempts) == 2
    first, second = played.attempts
    assert first.over
    assert second.plan.seed == first.plan.seed + 1
    assert played.sitter.words == {"press"}
    after_the_end = bundled("case-09").play((*RUNS, Act("stop"), Act("rest"), Act("again")))
    assert len(after_the_end.attempts) == 2


def test_a_check_says_what_is_there_and_mending_mends():
    room = room_of(set_up=BrightRoom(8000.0))
    played = room.play((Act("check", "room"), Act("mend", "head"), Act("mend", "room"),
                        Act("check", "room")))  # fmt: skip
    found = [mark.found for mark in played.marks]
    assert found[0] == "8000 lux on the screen; its mean luminance is 60 cd/m²"
    assert found[3] == "5 lux on the screen; its mean luminance is 60 cd/m²"
    assert [mark.useful for mark in played.marks] == [False, False, True, False]
    assert fault_of(played.sitter.set_up) == "none"


FAULTY = room_of(set_up=OtherEyeOpen(), right=EyeTruth("upper_arc", 24.0))


@pytest.mark.parametrize(
    ("acts", "earned", "right"),
    [
        ([*RUNS], 0, "set_up"),
        ([Act("mend", "cover"), *RUNS], 3, "confirm"),
        ([Act("mend", "cover"), Act("mend", "head"), *RUNS], 2, "confirm"),
        ([Act("run", count=5), Act("mend", "cover"), *RUNS], 1, "set_up"),
        ([Act("run", count=5), Act("mend", "cover"), Act("again"), *RUNS], 3, "confirm"),
        ([Act("mend", "head"), Act("mend", "room"), *RUNS], 0, "set_up"),
    ],
)
def test_points_for_the_room(acts, earned, right):
    assert points(FAULTY, acts, right)["set_up"] == earned
    assert points(FAULTY, acts, right)["next"] == 2
    assert points(FAULTY, acts, "announce")["next"] == 0
    assert next_step(outcome(FAULTY.truth, FAULTY.play(tuple(acts)))) == right


WILD = room_of(observer=TriggerHappy(0.5))


@pytest.mark.parametrize(
    ("acts", "earned"),
    [
        ([*RUNS], 0),
        ([Act("say", "press"), *RUNS], 3),
        ([Act("run", count=1), Act("say", "press"), *RUNS], 3),
        ([*RUNS, Act("say", "press")], 1),
        ([Act("say", "look"), *RUNS], 0),
    ],
)
def test_points_for_the_word(acts, earned):
    assert points(WILD, acts, "explain")["word"] == earned


def test_a_word_counts_from_the_exams_own_advice_on():
    from protocols.events import Advised

    entries = WILD.play(RUNS).last.entries
    shown = 0
    for entry in entries:
        shown += isinstance(entry.event, AnsweredLine)
        if isinstance(entry.event, Advised) and entry.event.kind == "press_only_when_seen":
            break
    for late, earned in ((IN_TIME, 3), (IN_TIME + 1, 1)):
        acts = [Act("run", count=shown + late), Act("say", "press")]
        assert WILD.play(tuple(acts)).marks[-1].presentations == shown + late
        assert points(WILD, acts, "explain")["word"] == earned


@pytest.mark.parametrize(("words", "earned"), [(0, 2), (FREE_WORDS, 2), (2, 1), (3, 0), (9, 0)])
def test_points_for_leaving_the_participant_in_peace(words, earned):
    acts = [*(Act("say", "look") for _ in range(words)), *RUNS]
    assert points(room_of(), acts, "keep")["restraint"] == earned


def test_an_exam_that_was_not_finished_is_repeated():
    acts = [Act("run", count=5), Act("stop")]
    assert points(room_of(), acts, "keep")["next"] == 0
    assert points(room_of(), acts, "explain")["next"] == 2


def test_an_operator_who_does_nothing_loses_points_on_every_case_that_needs_something():
    lost = 0
    for number in range(1, 31):
        room = bundled(f"case-{number:02}")
        needs = room.truth.fault != "none" or habit_of(room.truth.habit) != "careful"
        played = room.finished()
        right = next_step(outcome(room.truth, played))
        score = judge_operator(room.truth, played, right)
        assert (score.points < score.of) == needs
        lost += needs
    assert lost >= 15


def test_every_case_can_be_run_by_hand():
    for number in (1, 12, 19, 28):
        room = bundled(f"case-{number:02}")
        assert room.play(ideal_acts(room)).last.state.phase == "finished"


@pytest.mark.parametrize(
    ("words", "error"),
    [
        (("fly",), f'act: got "fly"; allowed: {", ".join(DOES)}. Choose one of them.'),
        (("check", "shoes"),
         'check: got "shoes"; allowed: distance, cover, room, screen, head. Choose one of them.'),
        (("say", "rest"),
         'say: got "rest"; allowed: look, press, stay, quick. Choose one of them.'),
        (("say",), "say: got nothing; allowed: look, press, stay, quick. Choose one of them."),
        (("rest", "long"), 'rest: got "long"; allowed: nothing more. Choose one of them.'),
        (("run", "", "1001"),
         'run, count: got "1001"; allowed: 0 to 1000 presentations. Change it.'),
        (("run", "", "-3"), 'run, count: got "-3"; allowed: 0 to 1000 presentations. Change it.'),
        (("stop", "", "3"), 'stop, count: got "3"; allowed: no number. Change it.'),
    ],
)  # fmt: skip
def test_acts_that_are_none(words, error):
    with pytest.raises(InputError) as caught:
        require_act(*words)
    assert str(caught.value) == error


def test_a_session_has_an_end():
    room = room_of()
    with pytest.raises(InputError) as caught:
        room.play(tuple(Act("check", "room") for _ in range(401)))
    assert str(caught.value) == "acts: got 401; allowed: up to 400. Begin the case anew."
    with pytest.raises(InputError) as caught:
        room.play(tuple(Act("again") for _ in range(MOST_ATTEMPTS)))
    assert str(caught.value) == (
        "exams: got 6; allowed: up to 5 of one case. Decide what to do next."
    )
    with pytest.raises(InputError) as caught:
        judge_operator(room.truth, room.play(()), "keep")
    assert str(caught.value) == (
        'exam: got "nothing was shown yet"; allowed: an exam that has begun. Run it, then decide.'
    )
    with pytest.raises(InputError) as caught:
        judge_operator(room.truth, room.play(RUNS), "cure")
    assert str(caught.value) == (
        'next step: got "cure"; allowed: keep, confirm, explain, set_up, announce. '
        "Choose one of them."
    )
