"""Whole exams of invented people: intervals hold what they say, and few presentations do.

Moderate sizes; `tests/bench/joint_presentations.py` has the full comparison.
"""

from __future__ import annotations

import time

import numpy as np
from joint_rigs import PATTERN, joint, limits

from analysis.reference import limits_db, load_reference
from protocols.population.draw import draw_answers, draw_population
from protocols.procedures.rows import rows_of

SEED = 7101
PEOPLE = 300


def exams():
    people = draw_population(PEOPLE, SEED, PATTERN)
    reference = load_reference()
    ages = [round(age) for age in people.age_years]
    start = np.stack([limits_db(reference, PATTERN.places, age) for age in ages])
    procedure = joint()
    state, last = procedure.start(start), np.full(PEOPLE, -1)
    for count in range(90):
        going = ~procedure.finished(state).all(axis=1)
        if not going.any():
            break
        u = np.random.default_rng([SEED, count]).random((PEOPLE, 2))
        place, level = procedure.propose(state, u[:, 0], last)
        seen = draw_answers(people, place, level, u[:, 1])
        state = procedure.update(state, np.where(going, place, -1), level, seen)
        last = place
    return people, procedure, state


def test_intervals_hold_the_truth_and_few_presentations_do():
    """93 to 97 % of 95 % intervals, widened by 4 SE with whole exams as the unit.

    A 4-2 staircase takes 89 presentations here for 2.3 dB (the bench above).
    """
    people, procedure, state = exams()
    truth = np.maximum(people.sensitivity_db, 0.0)
    low, high = procedure.interval_db(state)
    inside = ((np.maximum(low, 0.0) <= truth) & (truth <= np.maximum(high, 0.0))).mean(axis=1)
    error = np.maximum(procedure.estimate(state).mean_db, 0.0) - truth
    rmse = np.sqrt((error**2).mean())
    presentations = state.answers.looks.sum(axis=1).mean()
    print(f"seed {SEED}: {presentations:.1f} presentations, {rmse:.2f} dB, {inside.mean():.3f}")
    slack = 4 * inside.std() / np.sqrt(PEOPLE)
    assert 0.93 - slack < inside.mean() < 0.97 + slack
    assert rmse < 2.3
    assert presentations < 0.45 * 89


def test_one_live_answer_never_delays_a_frame():
    """Under 5 ms for update and propose at 19 places; median of 40, so that others may be busy."""
    procedure = joint()
    state, last, times = procedure.start(limits(1)), np.array([-1]), []
    for count in range(40):
        begun = time.perf_counter()
        last, level = procedure.propose(state, np.array([0.5]), last)
        state = procedure.update(state, last, level, np.array([count % 3 > 0]))
        times.append(time.perf_counter() - begun)
    print(f"propose and update: median {1e3 * np.median(times):.2f} ms")
    assert np.median(times) < 5e-3
    assert rows_of(state, np.array([0])).answers.looks.sum() == 40
