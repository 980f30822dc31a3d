"""Whole exams of invented people, as likelihoods: what calibration and benches are made of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.batch import trials_of
from analysis.indices.likelihood import likelihoods
from analysis.reference import Reference, limits_db, mean_db
from protocols.draws import Stream, uniform
from protocols.field import Floats, Place
from protocols.library import Protocol
from protocols.population.draw import Population
from protocols.population.seeing import spread_db
from protocols.simulate.machine import rig_for, run_exams
from protocols.simulate.outcome import Outcome
from protocols.simulate.watchers import Watchers

DELIVERY = 0.827
"""Delivered over nominal contrast of a plain 60 Hz display at 20 Hz: hold of a frame, sinc(1/3).

An exam's own display moves full contrast by a decibel or two, far from where a test decides.
"""


@dataclass(frozen=True)
class Played:
    """Exams of people: outcome, reference means and limits, delivered dB (people, places), and

    likelihoods (people, places, points).
    """

    outcome: Outcome
    means_db: Floats
    limits_db: Floats
    likelihood: Floats


def play(
    people: Population, protocol: Protocol, reference: Reference, seed: int
) -> Played:
    """Examine everybody once; raises InputError for ages that the reference does not cover."""
    places = protocol.pattern.places
    means_db, firsts_db = reference_levels_db(people, places, reference)
    loss_db = float(-20 * np.log10(DELIVERY))
    seeds = (uniform(seed, np.arange(len(people)), Stream.EXAM_SEED) * 2.0**53).astype(np.int64)
    rig = rig_for(protocol, DELIVERY)
    outcome = run_exams(rig, firsts_db - loss_db, watchers_of(people), seeds)
    trials = trials_of(outcome.history, len(places), loss_db)
    found = likelihoods(trials.level_db, trials.seen, means_db.ravel())
    return Played(outcome, means_db, firsts_db, found.reshape(*means_db.shape, -1))


def reference_levels_db(
    people: Population, places: Sequence[Place], reference: Reference
) -> tuple[Floats, Floats]:
    """Means and limits of everybody's age, delivered dB, each (people, places).

    Raises InputError for ages that the reference does not cover.
    """
    ages = np.rint(people.age_years).astype(int)
    means = {age: mean_db(reference, places, age) for age in np.unique(ages).tolist()}
    limits = {age: limits_db(reference, places, age) for age in means}
    return (
        np.stack([means[age] for age in ages.tolist()]),
        np.stack([limits[age] for age in ages.tolist()]),
    )


def watchers_of(people: Population) -> Watchers:
    """The population's people as the engine takes them."""
    shape = people.sensitivity_db.shape
    return Watchers(
        people.sensitivity_db,
        spread_db(people.sensitivity_db) * people.spread_factor[:, None],
        np.broadcast_to(people.lapse_rate[:, None], shape).copy(),
        people.false_press_rate,
    )
