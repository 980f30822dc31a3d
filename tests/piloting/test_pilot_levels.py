"""Levels of simulated exams are those that grading a record of the same exam gives."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from records import record

from analysis.batch import BatchGrader
from analysis.grade import grade_folder
from analysis.piloting.levels import levels_of
from analysis.piloting.pieces import delivery_of, floor_of
from analysis.reference import limits_db, load_reference, mean_db
from protocols.library import bundled_protocols, load_protocol
from protocols.observer import DiscLoss, EyeModel, ObserverFile, Pressing, Seeing, sensitivity_db
from protocols.procedures.settings import RisingSettings
from protocols.simulate.machine import rig_for, run_exams
from protocols.simulate.watchers import Watchers
from stimulus.virtual_exam import virtual_display

AGE = 45
MODELS = [
    ObserverFile(
        format=1, about="invented", right=EyeModel(centre, 0.15, [DiscLoss(*at, 14.0, depth)]),
        seeing=Seeing(1.5, lapse), pressing=Pressing(false),
    )
    for centre, at, depth, lapse, false in (
        (26.0, (10, 10), 6.0, 0.01, 0.01), (20.0, (0, -15), 30.0, 0.0, 0.2),
    )
]  # fmt: skip


def _levels(protocol):
    reference, places = load_reference(), protocol.pattern.places
    shape = (len(MODELS), len(places))
    truth = [[sensitivity_db(model, "right", place) for place in places] for model in MODELS]
    lapses = np.repeat([[model.seeing.lapse_rate] for model in MODELS], shape[1], axis=1)
    false = np.array([model.pressing.false_press_rate for model in MODELS])
    watchers = Watchers(np.array(truth), np.full(shape, 1.5), lapses, false)
    limits, means = (
        np.tile(of(reference, places, AGE), (len(MODELS), 1)) for of in (limits_db, mean_db)
    )
    delivery = delivery_of(protocol)
    rising = isinstance(protocol.settings.procedure, RisingSettings)
    grader = BatchGrader(reference.file.spread_db, delivery, rising)
    rig, seeds = rig_for(protocol, delivery), np.arange(len(MODELS)) + 7
    outcome = run_exams(rig, limits - grader.floor_db, watchers, seeds)
    return levels_of(outcome, grader, limits, means)


@pytest.mark.parametrize("name", bundled_protocols())
def test_estimates_and_intervals_are_those_of_the_records(name: str, tmp_path: Path) -> None:
    protocol = load_protocol(name)
    found, floor = _levels(protocol), floor_of(protocol)
    assert delivery_of(protocol) == virtual_display(protocol).delivery
    for number, model in enumerate(MODELS):
        record(tmp_path / str(number), model, protocol, seed=number + 7)
        places = grade_folder(tmp_path / str(number)).eyes["right"].places
        theirs = [np.nan if p.estimate_db is None else p.estimate_db for p in places]
        np.testing.assert_allclose(found.estimate_db[number], np.maximum(theirs, floor), atol=6e-5)
        ends = np.maximum([place.interval_db for place in places], floor)
        np.testing.assert_allclose(found.low_db[number], ends[:, 0], atol=6e-5)
        np.testing.assert_allclose(found.high_db[number], ends[:, 1], atol=6e-5)
        told = [-1 if place.grade is None else place.grade for place in places]
        assert told == found.grade[number].tolist()
