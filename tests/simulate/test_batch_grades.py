"""Simulated exams get the grades that grading a record of the same exam gives."""

from __future__ import annotations

from datetime import datetime, timezone
from pathlib import Path

import numpy as np
import pytest

from analysis.batch import NO_GRADE, BatchGrader, trials_of
from analysis.grade import grade_folder
from analysis.reference import limits_db, load_reference, mean_db
from protocols.library import load_protocol
from protocols.observer import DiscLoss, EyeModel, ObserverFile, Pressing, Seeing, sensitivity_db
from protocols.procedures.settings import RisingSettings
from protocols.simulate.machine import rig_for, run_exams
from protocols.simulate.watchers import Watchers
from stimulus.opening import Sitting
from stimulus.virtual_exam import run_virtual_exam, virtual_display

BEGAN = datetime(2026, 1, 1, tzinfo=timezone.utc)
REFERENCE, AGE = load_reference(), 52
MODELS = [
    ObserverFile(
        format=1, about="invented", right=EyeModel(centre, 0.15, [DiscLoss(*at, 14.0, depth)]),
        seeing=Seeing(1.5, lapse), pressing=Pressing(false),
    )
    for centre, at, depth, lapse, false in (
        (26.0, (10, 10), 6.0, 0.01, 0.01), (25.0, (-10, 5), 12.0, 0.1, 0.05),
        (20.0, (0, -15), 30.0, 0.0, 0.2), (14.0, (0, 0), 3.0, 0.05, 0.02),
    )
]  # fmt: skip


def _recorded(folder: Path, protocol, model, seed):
    sitting = Sitting("T-001", AGE, ("right",), seed, True, "now", True, "test", "AB")
    run_virtual_exam(folder, protocol, REFERENCE, sitting, model, BEGAN)
    return grade_folder(folder).eyes["right"]


def _in_arrays(protocol):
    places = protocol.pattern.places
    shape = (len(MODELS), len(places))
    truth = [[sensitivity_db(model, "right", place) for place in places] for model in MODELS]
    slope = np.full(shape, 1.5)
    lapses = np.repeat([[model.seeing.lapse_rate] for model in MODELS], shape[1], axis=1)
    false = np.array([model.pressing.false_press_rate for model in MODELS])
    limits = np.tile(limits_db(REFERENCE, places, AGE), (len(MODELS), 1))
    means = np.tile(mean_db(REFERENCE, places, AGE), (len(MODELS), 1))
    return limits, means, Watchers(np.array(truth), slope, lapses, false)


def _odds(grader, outcome, limits, means):
    levels_db, belief = outcome.belief
    if len(levels_db):
        return grader.believed(levels_db, belief.reshape(-1, len(levels_db)), limits.ravel())
    trials = trials_of(outcome.history, limits.shape[1], grader.floor_db)
    return grader.probabilities(trials, limits.ravel(), means.ravel())


@pytest.mark.parametrize("name", ["screen-19", "staircase-19", "bayes-19", "joint-19"])
def test_grades_and_their_probabilities_are_those_of_the_records(name, tmp_path):
    protocol = load_protocol(name)
    delivery = virtual_display(protocol).delivery
    rising = isinstance(protocol.settings.procedure, RisingSettings)
    grader = BatchGrader(REFERENCE.file.spread_db, delivery, rising)
    limits, means, watchers = _in_arrays(protocol)
    seeds = np.arange(len(MODELS)) + 7
    outcome = run_exams(rig_for(protocol, delivery), limits - grader.floor_db, watchers, seeds)
    grades = grader(outcome, limits, means)
    odds = _odds(grader, outcome, limits, means).reshape(*limits.shape, 5)
    for number, model in enumerate(MODELS):
        graded = _recorded(tmp_path / str(number), protocol, model, int(seeds[number]))
        assert graded.presentations == outcome.presentations[number]
        assert graded.seconds == pytest.approx(outcome.seconds[number], abs=2e-3)
        told = [NO_GRADE if place.grade is None else place.grade for place in graded.places]
        assert told == grades[number].tolist()
        theirs = np.array([place.grade_probabilities for place in graded.places])
        np.testing.assert_allclose(odds[number], theirs, atol=6e-5)
    assert len(np.unique(grades)) >= 4
