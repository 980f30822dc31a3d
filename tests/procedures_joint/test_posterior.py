"""The posterior against brute force: every combination of sensitivities of a tiny field, summed."""

from __future__ import annotations

import numpy as np
import pytest
from joint_rigs import HEALTHY_DB, TINY, asked, joint, limits
from scipy.stats import multivariate_normal, norm

from protocols.procedures.joint.attention import (
    FALSE_PRESS_RATES,
    LAPSE_RATES,
    SHARES,
    SPREAD_FACTORS,
)
from protocols.procedures.joint.hypotheses import all_hypotheses
from protocols.procedures.joint.scale import EXTRA_LOSS, GRID_DB, HELD_DB, spread_db

SEQUENCES = {
    "nothing": [],
    "one seen": [(0, 19.5, True)],
    "healthy": [(0, 19.5, True), (1, 21.0, True), (2, 21.0, False), (2, 18.0, True)],
    "one lost": [(0, 18.0, False), (0, 9.0, False), (0, 0.0, False), (1, 21.0, True), (2, 21.0, True)],
    "a slip": [(0, 18.0, True), (0, 16.5, False), (0, 15.0, False), (1, 19.5, True), (0, 9.0, False)],
    "two lost": [(0, 15.0, False), (1, 15.0, False), (0, 6.0, False), (1, 6.0, True), (2, 22.5, True)],
    "all low": [(0, 13.5, False), (1, 13.5, False), (2, 13.5, False), (0, 7.5, True), (2, 7.5, True)],
}


def likelihoods(answers):
    """(places, grid), by kinds of attention place by place, as the procedure assumes."""
    by_kind = np.ones((len(TINY), len(SHARES), len(GRID_DB)))
    for place, level, seen in answers:
        for kind in range(len(SHARES)):
            spread = SPREAD_FACTORS[kind] * spread_db(GRID_DB)
            noticed = norm.cdf((GRID_DB - level) / spread)
            p = FALSE_PRESS_RATES[kind] + (1 - FALSE_PRESS_RATES[kind]) * (
                1 - LAPSE_RATES[kind]
            ) * noticed
            by_kind[place, kind] *= p if seen else 1 - p
    return np.einsum("k,pkg->pg", SHARES, by_kind)


def enumerated(answers):
    """Mean and SD of each place and the chance of each hypothesis, all combinations summed."""
    likelihood = likelihoods(answers)
    combos = np.stack(np.meshgrid(*[GRID_DB] * 3, indexing="ij"), axis=-1)
    total, evidences = np.zeros((3, len(GRID_DB))), []
    for h in all_hypotheses(TINY, 2.5):
        prior = multivariate_normal(HEALTHY_DB + h.shift_db, h.covariance).pdf(combos)
        prior /= prior.sum()
        both = [  # (before the extra loss, after it)
            ((1 - e) * np.eye(len(GRID_DB)) + e * EXTRA_LOSS) * like
            for e, like in zip(h.extra, likelihood, strict=True)
        ]
        seen_from_smooth = [b.sum(axis=1) for b in both]
        weight = h.chance * prior * np.einsum("a,b,c->abc", *seen_from_smooth)
        evidences.append(weight.sum())
        for place in range(3):
            smooth = weight.sum(axis=tuple({0, 1, 2} - {place}))
            total[place] += (smooth / seen_from_smooth[place]) @ both[place]
    mass = total / total.sum(axis=1, keepdims=True)
    mean = mass @ HELD_DB
    return mean, np.sqrt(mass @ HELD_DB**2 - mean**2), np.array(evidences) / sum(evidences)


@pytest.mark.parametrize("name", SEQUENCES)
def test_mean_and_sd_are_those_of_every_combination_summed(name):
    """Within 0.35 dB of mean and 0.3 dB of SD, a fifth of the least SD there is: the factors are

    Gaussian, the truth is not, so the approximation shows."""
    procedure = joint(TINY)
    state = procedure.start(limits(1, 3))
    for place, level, seen in SEQUENCES[name]:
        state = asked(procedure, state, place, level, seen)
    mean, sd, chances = enumerated(SEQUENCES[name])
    found = procedure.estimate(state)
    print(name, np.abs(found.mean_db[0] - mean).max(), np.abs(found.sd_db[0] - sd).max())
    print(np.abs(procedure.hypothesis_chances(state)[0] - chances).max())
    assert np.abs(found.mean_db[0] - mean).max() < 0.35
    assert np.abs(found.sd_db[0] - sd).max() < 0.3
    assert np.abs(procedure.hypothesis_chances(state)[0] - chances).max() < 0.04
