"""Rules of catch trials, over many exams with answers thrown by dice."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from exam_rigs import SCREEN_17, SCREEN_19, always, changed, drive, erratic, perfect, plan_of
from hypothesis import given, settings
from hypothesis import strategies as st

from protocols.catch import FULL_CONTRAST, PLACE, Needs, eye_done, next_roles
from protocols.draws import Stream, uniform

CATCH = ("blind_spot", "blank", "full_contrast")

exams = st.builds(
    lambda seed, seen, early, spoiled, small: drive(
        plan_of(seed, protocol=SCREEN_17 if small else SCREEN_19),
        erratic(seed, seen, early, spoiled),
    ),
    st.integers(0, 2**32 - 1),
    st.floats(0.0, 1.0),
    st.floats(0.0, 0.15),
    st.floats(0.0, 0.15),
    st.booleans(),
)
many = settings(max_examples=60)


def _telling(done):
    """Presentations with answers that tell something: neither spoiled nor anticipated."""
    return [
        (shown, told)
        for shown, told in zip(done.shown, done.answers, strict=True)
        if not told.spoiled and told.verdict != "anticipation"
    ]


def _weaker_seen_before(done):
    """For each presentation: the places seen at less than full contrast before it."""
    seen: set[int] = set()
    for shown, told in zip(done.shown, done.answers, strict=True):
        yield shown, set(seen)
        was_seen = not told.spoiled and told.verdict == "seen"
        if shown.role == "place" and was_seen and shown.level_db > 0:
            seen.add(shown.place_number)


@many
@given(exams)
def test_every_kind_comes_at_least_as_often_as_the_protocol_asks(done):
    if done.state.phase != "finished":
        return
    told = [shown.role for shown, _ in _telling(done)]
    assert told.count("blind_spot") >= 8
    assert told.count("blank") >= 3
    if done.state.eye.weaker_seen.any():
        assert told.count("full_contrast") >= 3


@many
@given(exams)
def test_never_two_of_a_kind_in_a_row(done):
    for a, b in pairwise(done.shown):
        assert a.role == "place" or a.role != b.role, (a.index, a.role)


@many
@given(exams)
def test_none_among_the_first_three(done):
    assert [shown.role for shown in done.shown[:3]] == ["place"] * 3


@many
@given(exams)
def test_full_contrast_checks_only_come_where_a_weaker_target_was_seen(done):
    for shown, weaker_seen in _weaker_seen_before(done):
        if shown.role == "full_contrast":
            assert shown.place_number in weaker_seen
            assert (shown.level_db, shown.contrast) == (0.0, 1.0)


@many
@given(exams)
def test_a_place_does_not_follow_itself_while_another_is_open(done):
    open_places = dict.fromkeys(range(len(done.state.eye.weaker_seen)), 3)
    for (before, _), (shown, told) in pairwise(
        [(None, None), *zip(done.shown, done.answers, strict=True)]
    ):
        others = [n for n, left in open_places.items() if left > 0 and n != shown.place_number]
        if before and before.role == shown.role == "place" and others:
            assert shown.place_number != before.place_number
        if shown.role == "place" and not told.spoiled and told.verdict != "anticipation":
            open_places[shown.place_number] = (
                0 if told.verdict == "seen" else open_places[shown.place_number] - 1
            )


@many
@given(exams)
def test_blanks_have_no_contrast_and_blind_spot_targets_are_on_the_blind_spot(done):
    for shown in done.shown:
        if shown.role == "blank":
            assert (shown.contrast, shown.level_db) == (0.0, None)
        if shown.role == "blind_spot":
            assert (shown.place.x_deg, shown.place.y_deg) == (15.5, -1.5)
            assert shown.place_number is None


def test_where_nothing_weaker_is_ever_seen_full_contrast_checks_lapse_and_the_exam_ends():
    done = drive(plan_of(5), always("not_seen"))
    assert done.state.phase == "finished"
    assert not done.of_role("full_contrast")
    assert len(done.of_role("place")) == 19 * 3


def test_catch_trials_are_spread_over_the_exam():
    """Position of catch trials in exams of a perfect observer: no bunching at the end.

    Over 40 exams the mean position of each kind lies in the middle half of the exam, but for the
    checks of fixation: all of them are due early, and come in the first half.
    """
    assert plan_of(0).protocol.settings.catch_trials.blind_spot_early == 8
    where: dict[str, list[float]] = {kind: [] for kind in CATCH}
    for seed in range(40):
        done = drive(plan_of(seed), perfect)
        for position, shown in enumerate(done.shown):
            if shown.role in CATCH:
                where[shown.role].append(position / len(done.shown))
    for kind, positions in where.items():
        print(f"{kind}: mean position {np.mean(positions):.2f}")
        low, high = (0.1, 0.4) if kind == "blind_spot" else (0.35, 0.75)
        assert low < np.mean(positions) < high


def test_a_perfect_observer_gets_no_catch_trial_too_many():
    """8 + 3 + 3 catch trials to 19 places; a spare one only where the end leaves no other way."""
    counts = [len(drive(plan_of(seed), perfect).shown) for seed in range(40)]
    print(f"presentations: least {min(counts)}, mean {np.mean(counts):.2f}, most {max(counts)}")
    assert min(counts) == 19 + 14
    assert sum(count > 19 + 14 for count in counts) <= 1


def test_a_protocol_without_catch_trials_has_none():
    protocol = changed(SCREEN_17, "[catch_trials]\nblind_spot = 0\nblank = 0\nfull_contrast = 0\n")
    done = drive(plan_of(3, protocol=protocol), perfect)
    assert [shown.role for shown in done.shown] == ["place"] * 17


@given(st.lists(st.integers(1, 2**32 - 1), min_size=2, max_size=8, unique=True))
def test_a_thousand_exams_choose_as_one_exam_alone_does(seeds):
    """The schedule works on arrays of exams: each row is what the exam alone would get."""
    n = len(seeds)
    rng = np.random.default_rng(seeds[0])
    needs = Needs(
        rng.integers(0, 4, (n, 3)),
        rng.integers(0, 6, n),
        rng.random(n) < 0.7,
        rng.integers(0, 30, n),
        rng.integers(-1, 4, n),
        rng.integers(-2, 3, n),
    )
    u, v = uniform(seeds, 4, Stream.TRIAL_KIND), uniform(seeds, 4, Stream.CATCH_KIND)
    together = next_roles(needs, 3, u, v)
    for row in range(n):
        alone = Needs(*(getattr(needs, name)[row : row + 1] for name in needs.__match_args__))
        assert next_roles(alone, 3, u[row : row + 1], v[row : row + 1])[0] == together[row]
        assert eye_done(alone)[0] == eye_done(needs)[row]


def test_with_no_place_left_only_catch_trials_follow():
    needs = Needs(
        np.array([[0, 0, 2]]), np.array([0]), np.array([True]), np.array([40]), np.array([PLACE])
    )
    assert next_roles(needs, 3, np.array([0.99]), np.array([0.5]))[0] == FULL_CONTRAST
