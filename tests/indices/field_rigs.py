"""Invented people, their simulated exams, and the indices of each."""

from __future__ import annotations

from functools import cache

import numpy as np

from analysis.batch import trials_of
from analysis.indices.simulated import DELIVERY, Played, play
from analysis.indices.summary import Answers
from analysis.reference import load_reference
from protocols.library import load_protocol
from protocols.population.draw import Population, draw_population
from protocols.population.losses import LOSSES

REFERENCE = load_reference()
SPREAD_DB = REFERENCE.file.spread_db
FLOOR_DB = float(-20 * np.log10(DELIVERY))
EVENLY = {shape: 1 / len(LOSSES) for shape in LOSSES}


@cache
def people_of(protocol: str, count: int, seed: int, healthy: bool) -> Population:
    """People without loss, or with loss of all shapes alike."""
    mix = {"healthy": 1.0} if healthy else EVENLY
    return draw_population(count, seed, load_protocol(protocol).pattern, mix)


@cache
def played_of(protocol: str, count: int, seed: int, healthy: bool) -> Played:
    """Their exams."""
    people = people_of(protocol, count, seed, healthy)
    return play(people, load_protocol(protocol), REFERENCE, seed + 1)


def answers_of(played: Played, number: int) -> Answers:
    """One person's answers."""
    places = played.means_db.shape[1]
    trials = trials_of(played.outcome.history, places, FLOOR_DB)
    rows = slice(number * places, (number + 1) * places)
    return Answers(
        trials.level_db[rows], trials.seen[rows], played.means_db[number],
        played.outcome.finished[number], SPREAD_DB, FLOOR_DB,
    )  # fmt: skip
