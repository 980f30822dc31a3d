"""Simulated participants do what their file says, in the shares it says."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from scipy.special import ndtr

from protocols.errors import InputError
from protocols.field import Place, polar_place
from protocols.library import bundled_observer
from protocols.observer import (
    ArcLoss,
    Attention,
    DiscLoss,
    EyeModel,
    Fatigue,
    Fixation,
    Learning,
    Observer,
    ObserverFile,
    Pressing,
    Reaction,
    Seeing,
    attention_drift,
    load_observer,
    press_times_s,
    seeing_probability,
    sensitivity_db,
)
from protocols.presentation import Presentation

N = 4000
STEADY = {"seeing": Seeing(1.5, 0.0), "pressing": Pressing(0.0)}


def _shown(level_db=20.0, place=None, role="place", index=0, eye="right"):
    return Presentation(
        index, eye, role, False, place or Place(9.5, 0.0), 1, level_db,
        0.0 if role == "blank" else 10 ** (-(level_db or 0) / 20), 0.0, 0.5,
    )  # fmt: skip


def _model(**how) -> ObserverFile:
    return ObserverFile(format=1, about="Invented.", **how)


def _presses(model, shown_at, n=N, seed=3, elapsed_s=0.0):
    """Presses of one observer to n presentations."""
    observer = Observer(model, seed)
    return [
        press_times_s(observer, shown, shown.contrast, elapsed_s, 1.0)
        for shown in map(shown_at, range(n))
    ]


def _share_within(count, n, p):
    """Whether a count agrees with a share: two-sided binomial test at 1e-4, fixed seed."""
    return stats.binomtest(int(count), n, p).pvalue > 1e-4


@pytest.mark.parametrize("above_db", [-4.0, -1.5, 0.0, 1.5, 4.0])
def test_seeing_follows_a_cumulative_gaussian_around_sensitivity(above_db):
    """Half at sensitivity, 84 % one spread below it in level (Green & Swets 1966)."""
    model = _model(**STEADY)
    at = sensitivity_db(model, "right", Place(9.5, 0.0))
    level = at - above_db
    p = seeing_probability(Observer(model, 1), _shown(level), 10 ** (-level / 20), 0.0)
    assert p == pytest.approx(float(ndtr(above_db / 1.5)), abs=1e-9)
    pressed = sum(bool(times) for times in _presses(model, lambda n: _shown(level, index=n)))
    assert _share_within(pressed, N, p)


def test_sensitivity_falls_with_eccentricity():
    model = _model(right=EyeModel(centre_db=25.0, fall_db_per_deg=0.2))
    assert sensitivity_db(model, "right", Place(0, 0)) == 25.0
    assert sensitivity_db(model, "right", polar_place(20.0, 134.0)) == pytest.approx(21.0)


def test_the_deepest_loss_counts_where_losses_overlap():
    losses = [DiscLoss(5, 5, 3, 6.0), DiscLoss(5, 5, 1, 20.0)]
    model = _model(right=EyeModel(25.0, 0.0, losses))
    depths = [25.0 - sensitivity_db(model, "right", Place(x, 5)) for x in (5, 7, 9)]
    assert depths == [20.0, 6.0, 0.0]
    assert sensitivity_db(model, "left", Place(5, 5)) == pytest.approx(25.5 - 0.15 * 50**0.5)


@pytest.mark.parametrize(
    ("polar_deg", "covered"), [(150, False), (171, True), (180, True), (-171, True), (-150, False)]
)
def test_an_arc_runs_counter_clockwise_and_may_cross_the_half_turn(polar_deg, covered):
    assert ArcLoss(8, 21, 170, -170, 10).covers(polar_place(15, polar_deg)) == covered


def test_an_arc_of_a_whole_turn_is_the_whole_ring():
    at = [polar_place(15, polar_deg) for polar_deg in range(-180, 180, 5)]
    assert all(ArcLoss(8, 21, 0, 360, 10).covers(place) for place in at)
    assert all(ArcLoss(8, 21, 180, -180, 10).covers(place) for place in at)
    assert not any(ArcLoss(8, 12, 0, 360, 10).covers(place) for place in at)
    assert sum(ArcLoss(8, 21, 45, 45, 10).covers(place) for place in at) <= 1


def test_lapses_are_missed_at_any_contrast():
    model = _model(seeing=Seeing(1.5, 0.2), pressing=Pressing(0.0))
    missed = sum(not times for times in _presses(model, lambda n: _shown(0.0, index=n)))
    assert _share_within(missed, N, 0.2)


def test_false_presses_come_without_anything_to_see_and_evenly_over_the_window():
    model = _model(seeing=Seeing(1.5, 0.0), pressing=Pressing(0.25))
    presses = _presses(model, lambda n: _shown(None, role="blank", index=n))
    times = [t for found in presses for t in found]
    assert _share_within(len(times), N, 0.25)
    assert stats.kstest(times, "uniform").pvalue > 1e-4


def test_reaction_times_have_the_mean_and_spread_of_an_ex_gaussian():
    """Mean mean_s; variance sd_s^2 + tail_s^2; skew of an exponential tail, to the right."""
    model = _model(**STEADY, reaction=Reaction(0.4, 0.04, 0.06, 0.0))
    times = np.array([found[0] for found in _presses(model, lambda n: _shown(0.0, index=n))])
    assert times.mean() == pytest.approx(0.4, abs=4 * 0.072 / np.sqrt(N))
    assert times.std() == pytest.approx(np.hypot(0.04, 0.06), rel=0.06)
    assert stats.skew(times) > 0.5


def test_answers_are_slower_near_threshold():
    model = _model(**STEADY, reaction=Reaction(0.36, 0.05, 0.04, 0.1))
    at = sensitivity_db(model, "right", Place(9.5, 0.0))
    easy, hard = (
        np.mean([t[0] for t in _presses(model, lambda n, v=level: _shown(v, index=n)) if t])
        for level in (0.0, at)
    )
    assert hard - easy == pytest.approx(0.1, abs=0.01)


def test_nobody_reacts_within_100_ms():
    model = _model(**STEADY, reaction=Reaction(0.1, 0.2, 0.0, 0.0))
    assert min(t for found in _presses(model, lambda n: _shown(0.0, index=n)) for t in found) > 0.1


def test_learning_wears_off_and_what_is_left_is_the_observer():
    model = _model(**STEADY, learning=Learning(3.0, 1.0))
    shown = _shown(sensitivity_db(model, "right", Place(9.5, 0.0)))
    at = [
        seeing_probability(Observer(model, 1), shown, shown.contrast, 60.0 * t) for t in (0, 1, 30)
    ]
    assert at == pytest.approx([ndtr(-2.0), ndtr(-2.0 / np.e), 0.5])


def test_attention_comes_and_goes_between_no_lapse_more_and_the_rate_stated():
    observer = Observer(_model(**STEADY, attention=Attention(0.4, 40.0)), 7)
    drift = np.array([attention_drift(observer, t) for t in np.arange(0.0, 40.0, 0.1)])
    assert drift.min() == pytest.approx(0.0, abs=1e-3)
    assert drift.max() == pytest.approx(0.4, abs=1e-3)
    assert drift.mean() == pytest.approx(0.2, abs=1e-3)
    other = Observer(observer.model, 8)
    assert attention_drift(other, 0.0) != attention_drift(observer, 0.0)


def test_fatigue_costs_sensitivity_and_adds_lapses_by_the_minute():
    model = _model(**STEADY, fatigue=Fatigue(1.5, 0.1))
    at = sensitivity_db(model, "right", Place(9.5, 0.0))
    observer, shown = Observer(model, 1), _shown(at)
    fresh, tired = (seeing_probability(observer, shown, shown.contrast, t) for t in (0.0, 60.0))
    assert fresh == pytest.approx(0.5)
    assert tired == pytest.approx(0.9 * ndtr(-1.0))


def test_nothing_is_seen_on_the_blind_spot_while_gaze_is_steady():
    shown = _shown(0.0, Place(15.5, -1.5), "blind_spot")
    assert seeing_probability(Observer(_model(**STEADY), 1), shown, 1.0, 0.0) == 0.0
    left = _shown(0.0, Place(-15.5, -1.5), "blind_spot", eye="left")
    assert seeing_probability(Observer(_model(**STEADY), 1), left, 1.0, 0.0) == 0.0


def test_a_wandering_gaze_sees_the_blind_spot_target():
    model = _model(**STEADY, fixation=Fixation(1.0, 9.0))
    target = Place(15.5, -1.5)
    presses = _presses(model, lambda n: _shown(0.0, target, "blind_spot", n), n=1000)
    share = np.mean([bool(times) for times in presses])
    print(f"blind-spot targets seen with the gaze 9 degrees about: {share:.2f}")
    assert share > 0.5


def test_the_same_sitting_gives_the_same_answers_and_another_seed_others():
    model = _model(pressing=Pressing(0.3))
    first, again = (_presses(model, lambda n: _shown(22.0, index=n), 50, seed=5) for _ in range(2))
    assert first == again
    assert first != _presses(model, lambda n: _shown(22.0, index=n), 50, seed=6)


@pytest.mark.parametrize("name", ["healthy", "arc-loss", "lone-loss", "trigger-happy"])
def test_bundled_observers_say_that_they_are_invented(name):
    assert load_observer(bundled_observer(name)).about.startswith("Invented")


MISTAKES = [
    ("[seeing]\nslope_db = 0.0\n", "o.toml, seeing.slope_db: got 0; allowed: a number above 0"),
    ("[pressing]\nfalse_press_rate = 4.0\n", "pressing.false_press_rate: got 4; allowed"),
    ('[[right.losses]]\nshape = "square"\n', 'right.losses[0].shape: got "square"; allowed: '),
    ("[right]\ncentre = 2.0\n", 'right.centre: got "an unknown key"; allowed: centre_db'),
]


@pytest.mark.parametrize(("text", "words"), MISTAKES)
def test_a_mistake_in_an_observer_file_has_one_clear_answer(text, words, tmp_path):
    path = tmp_path / "o.toml"
    path.write_text('format = 1\nabout = "Invented."\n' + text)
    with pytest.raises(InputError) as refused:
        load_observer(path)
    assert words in str(refused.value)
