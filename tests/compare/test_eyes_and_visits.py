"""What a comparison finds in invented people whose truth is known, and what it refuses."""

from __future__ import annotations

import shutil

import numpy as np
import pytest
from records import record
from scipy.stats import false_discovery_control
from visits import PLACES, protocol, series, visit

from analysis.agreement import learning
from analysis.compare import compare
from analysis.compare_words import sentences
from analysis.grade import grade_folder
from protocols.errors import InputError
from protocols.observer import EyeModel, ObserverFile, Pressing


@pytest.fixture(scope="module")
def both(tmp_path_factory):
    folder = tmp_path_factory.mktemp("eyes")
    return visit(folder / "e", 3, eyes=("right", "left"), left_loss=True)


def test_a_loss_of_one_eye_stands_out_at_its_pair_alone(both):
    found = compare([both]).asymmetry
    assert len(found.pairs) == 8
    assert [pair.number for pair in found.pairs if pair.p < 0.01] == [2]
    pair = found.pairs[2]
    assert pair.interval_db[0] < -14 < pair.interval_db[1]
    assert (pair.x_deg, pair.y_deg) == (-9.5, 4.0)


def test_visits_of_a_few_days_tell_no_trend_a_year(tmp_path):
    """A week apart they do: the last lies exactly seven days after the first."""
    close = compare(series(tmp_path / "close", (0.0, 0.5, -0.5), days=1))
    same_day = compare([visit(tmp_path / str(k), k) for k in range(3)])
    weekly = compare([visit(tmp_path / f"w{k}", k, days=k) for k in (0, 3, 7)])
    assert [found.eyes[0].change is None for found in (close, same_day, weekly)] == [1, 1, 0]
    told = "Right eye: no trend a year is told of 3 visits within {}; a week is the least."
    assert told.format("2 days") in sentences(close)
    assert told.format("0.0 hours") in sentences(same_day)


def test_after_correction_the_lost_place_stands_out_and_others_do_not(tmp_path):
    """Six sittings; a press or miss by chance keeps single posteriors wide, so not in all."""
    out = []
    for seed in range(3, 9):
        folder = visit(tmp_path / f"{seed}", seed, eyes=("right", "left"), left_loss=True)
        out += [pair.number for pair in compare([folder]).asymmetry.pairs if pair.stands_out]
    assert set(out) == {2}
    assert len(out) >= 3


def test_eyes_tested_to_the_end_are_compared_without_a_sure_grade_too(tmp_path):
    """All that the decision procedure shows to eyes that see nothing is that each place is low."""
    blind = ObserverFile(format=1, about="Blind.", right=EyeModel(-20.0), left=EyeModel(-20.0))
    record(tmp_path / "e", blind, "decide-19", eyes=("right", "left"))
    eyes = grade_folder(tmp_path / "e").eyes.values()
    assert [(eye.status, eye.summary.graded) for eye in eyes] == [("complete", 0)] * 2
    assert len(compare([tmp_path / "e"]).asymmetry.pairs) == 19


def test_levels_are_the_results_own(both):
    result = grade_folder(both)
    for pair in compare([both]).asymmetry.pairs:
        assert pair.right_db == result.eyes["right"].places[pair.number].estimate_db
        assert pair.left_db == result.eyes["left"].places[pair.number].estimate_db
        assert pair.difference_db == pytest.approx(pair.left_db - pair.right_db, abs=1e-3)


def test_false_discoveries_are_controlled_as_scipy_does(both):
    pairs = compare([both]).asymmetry.pairs
    live = false_discovery_control([pair.p for pair in pairs])
    assert [pair.p_adjusted for pair in pairs] == pytest.approx(live, abs=1e-6)


def test_a_lower_eye_is_named(tmp_path):
    folder = visit(tmp_path / "e", 5, eyes=("right", "left"), left_shift_db=-5.0)
    found = compare([folder])
    assert found.asymmetry.test.p < 0.05
    assert found.asymmetry.interval_db[0] < -5 < found.asymmetry.interval_db[1]
    assert "the left eye is lower in general" in sentences(found)[0]


def test_an_eye_each_in_two_exams_is_compared_too(tmp_path):
    right = visit(tmp_path / "r", 6, eyes=("right",))
    left = visit(tmp_path / "l", 7, eyes=("left",), days=1)
    found = compare([left, right])
    assert found.asymmetry is not None
    assert found.asymmetry_of == ("r", "l")
    assert found.eyes == ()


def test_a_steady_loss_is_found_and_a_steady_eye_is_not(tmp_path):
    falling = compare(series(tmp_path / "falling", [0, -2, -4, -6, -8])).eyes[0]
    assert falling.change.exact
    assert falling.change.arrangements == 120
    assert falling.change.p_loss < 0.02
    assert falling.change.mean_trend.interval_db_per_year[0] < -4.06
    assert falling.change.mean_trend.interval_db_per_year[1] > -4.06
    assert falling.step_interval_db[1] < 0
    steady = compare(series(tmp_path / "steady", [0, 0, 0, 0, 0], seed=80)).eyes[0]
    assert min(steady.change.p_loss, steady.change.p_gain) > 0.05


def test_visits_are_put_in_order_of_time(tmp_path):
    folders = series(tmp_path / "s", [0, -2, -4])
    forward, backward = compare(folders), compare(folders[::-1])
    assert forward.eyes == backward.eyes
    assert forward.eyes[0].folders == ("visit-0", "visit-1", "visit-2")
    assert forward.eyes[0].years == pytest.approx((0, 180 / 365.25, 360 / 365.25), abs=1e-4)


def test_two_visits_give_a_step_and_agreement_but_no_trend(tmp_path):
    found = compare(series(tmp_path / "s", [0, 0])).eyes[0]
    assert found.change is None
    assert found.agreement.pairs == 8
    assert found.agreement.mean == pytest.approx(found.step_mean_db, abs=1e-3)


def test_three_visits_say_that_they_cannot_show_a_change(tmp_path):
    found = compare(series(tmp_path / "s", [0, -3, -6]))
    assert found.eyes[0].change.least_p == pytest.approx(1 / 6)
    assert any("3 visits cannot show a change" in said for said in sentences(found))


def test_practice_is_flagged_and_change_told_without_the_first_visit(tmp_path):
    found = compare(series(tmp_path / "s", [-4, 0, 0, 0]))
    eye = found.eyes[0]
    assert eye.learning.flagged
    assert eye.change_without_first.visits == 3
    assert any("practice may have helped" in said for said in sentences(found))


def test_practice_is_flagged_by_chance_in_one_of_twenty():
    """2,000 pairs of visits without a gain, eight places."""
    dice = np.random.default_rng(4)
    flags = [learning(*dice.normal(20, 1, (2, 8))).flagged for _ in range(2000)]
    assert np.mean(flags) == pytest.approx(0.05, abs=4 * np.sqrt(0.05 * 0.95 / 2000))


def test_screening_exams_say_that_levels_are_bounds(tmp_path):
    from records import record

    record(tmp_path / "e", "healthy", eyes=("right", "left"))
    assert "most levels are bounds" in compare([tmp_path / "e"]).notes[0]


REFUSED = [
    ("another person", {"code": "P-8"}, 'participant of .*: got "P-8"; allowed: exams of one'),
    ("another protocol", {"under": "other"}, 'protocol of .*: got "other, SHA-256'),
    ("other places", {"under": "places"}, "pattern of .*: got .small of 3 places"),
]


@pytest.mark.parametrize(("name", "how", "said"), REFUSED, ids=[name for name, _, _ in REFUSED])
def test_what_cannot_be_compared_is_refused(tmp_path, name, how, said):
    others = {
        "other": protocol("other"),
        "places": protocol("small", "[[0.0, 0.0], [9.5, 4.0], [0.0, 12.0]]"),
    }
    how = {key: others.get(value, value) for key, value in how.items()}
    one = visit(tmp_path / "one", 1)
    two = visit(tmp_path / "two", 2, days=9, **how)
    with pytest.raises(InputError, match=said):
        compare([one, two])


def test_an_exam_that_is_not_to_be_used_is_named(tmp_path):
    """Its own next step says so; what is compared with it must not stand without that word."""
    one = visit(tmp_path / "one", 1, code="P-1")
    masher = ObserverFile(format=1, about="Mashes.", age_years=60, pressing=Pressing(0.9))
    record(tmp_path / "two", masher, protocol(), seed=2, age_years=60)
    verdict = grade_folder(tmp_path / "two").eyes["right"].trust.verdict
    assert verdict == "result will not be usable"
    notes = compare([one, tmp_path / "two"]).notes
    assert [note for note in notes if "right eye's answers in two were found not usable" in note]
    assert not any("in one were" in note for note in notes)


def test_the_same_exam_twice_is_refused(both, tmp_path):
    shutil.copytree(both, tmp_path / "copy")
    with pytest.raises(InputError, match="the same exam as"):
        compare([both, tmp_path / "copy"])


def test_one_eye_at_one_visit_is_nothing_to_compare(tmp_path):
    with pytest.raises(InputError, match="both eyes, or one eye at two visits"):
        compare([visit(tmp_path / "e", 1)])


def test_the_places_of_these_tests_are_not_mirror_symmetric():
    """So that a mistake in mirroring would show."""
    places = protocol().pattern.places
    mirrored = {(p.mirrored.x_deg, p.y_deg) for p in places}
    assert mirrored != {(p.x_deg, p.y_deg) for p in places}
    assert PLACES.count("[") == 9
