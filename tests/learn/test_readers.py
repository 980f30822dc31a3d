"""Marks: who knows the truth earns all of them on every case, who guesses what chance gives."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from case_rigs import BUNDLED, bundled, ideal_acts

from analysis.cases.marking import Z_95, chance, mark_all, places_share
from analysis.cases.operating import judge_operator, outcome
from analysis.cases.questions import Choice, Places, next_step
from analysis.cases.readers import ideal_answers, random_answers

READERS = 400
"""Guessing readers a case; their mean has an SD of a twentieth of one reader's."""
FOUR_SD = 4.0


def test_there_are_thirty_cases_five_on_each_of_six_levels():
    levels = [bundled(name).case.file.level for name in BUNDLED]
    assert len(BUNDLED) == 30
    assert levels == sorted(levels)
    assert [levels.count(level) for level in range(1, 7)] == [5] * 6


@pytest.mark.parametrize("name", BUNDLED)
def test_a_reader_who_knows_the_truth_earns_everything(name):
    questions = bundled(name).questions
    score = mark_all(questions, ideal_answers(questions))
    assert (score.points, score.share) == (score.of, 1.0)
    assert [mark.points for mark in score.marks] == [mark.of for mark in score.marks]


@pytest.mark.parametrize("name", BUNDLED)
def test_an_operator_who_knows_the_truth_earns_everything(name):
    room = bundled(name)
    played = room.play(ideal_acts(room))
    assert played.last.state.phase == "finished"
    score = judge_operator(room.truth, played, next_step(outcome(room.truth, played)))
    assert score.points == score.of == 10, [(m.key, m.points, m.given) for m in score.marks]


def test_readers_who_guess_earn_the_stated_chance_and_spread():
    """Truth from outside the marking: 400 seeded guessers a case, means and spreads counted.

    The mean of a case lies within 4 SD of the stated chance, and the mean over all cases too; about
    95 % of single guessers fall into the stated interval (89 to 99 %: scores come in steps).
    """
    off, inside, means, stated = [], [], [], []
    for number, name in enumerate(BUNDLED):
        rng = np.random.default_rng([2030, number])
        questions = bundled(name).questions
        scores = [mark_all(questions, random_answers(questions, rng)) for _ in range(READERS)]
        shares = np.array([score.share for score in scores])
        mean, spread = chance(questions)
        low, high = scores[0].chance_interval
        assert (low, high) == pytest.approx((mean - Z_95 * spread, mean + Z_95 * spread), abs=1e-4)
        off.append((shares.mean() - mean) / (spread / sqrt(READERS)))
        inside.append(np.mean((shares >= low) & (shares <= high)))
        means.append(shares.mean())
        stated.append((mean, spread))
        assert shares.std() == pytest.approx(spread, rel=0.15), name
    print(f"guessers: mean {np.mean(means):.4f}, stated {np.mean([m for m, _ in stated]):.4f}; "
          f"inside the interval {np.mean(inside):.3f}")  # fmt: skip
    assert max(map(abs, off)) < FOUR_SD
    over_all = sqrt(sum(s**2 for _, s in stated) / READERS) / len(stated)
    assert abs(np.mean(means) - np.mean([m for m, _ in stated])) < FOUR_SD * over_all
    assert 0.89 < np.mean(inside) < 0.99
    assert max(m for m, _ in stated) < 0.33


def test_one_answer_for_all_cases_is_not_enough_for_all():
    """No answer is right so often that a reader need not look."""
    all_asked = [bundled(name).questions for name in BUNDLED]
    for key in ("trust", "habit", "set_up", "shape", "depth", "side", "change", "next"):
        asked = [next(q for q in questions if q.key == key) for questions in all_asked]
        assert all(isinstance(question, Choice) for question in asked)
        best = max(
            sum(option in question.right for question in asked)
            for option, _ in asked[0].options
        )
        assert best <= 22, key


def test_marking_all_places_or_none_earns_half():
    question = Places(
        "places", "", "right", 10, frozenset({1, 2}), frozenset({3, 4, 5, 6}), True, ""
    )
    assert places_share(question, frozenset(range(10))) == 0.5
    assert places_share(question, frozenset()) == 0.5
    assert places_share(question, frozenset({1, 2, 7})) == 1.0
    assert places_share(question, frozenset({1, 3})) == pytest.approx((0.5 + 0.75) / 2)
