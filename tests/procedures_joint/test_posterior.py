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
    "nothing": "",
    "one seen": "0:19.5+",
    "healthy": "0:19.5+ 1:21+ 2:21- 2:18+",
    "one lost": "0:18- 0:9- 0:0- 1:21+ 2:21+",
    "a slip": "0:18+ 0:16.5- 0:15- 1:19.5+ 0:9-",
    "two lost": "0:15- 1:15- 0:6- 1:6+ 2:22.5+",
    "all low": "0:13.5- 1:13.5- 2:13.5- 0:7.5+ 2:7.5+",
}
"""Answers as place:level, + seen, - not seen."""


def answers_of(text):
    return [(int(a[0]), float(a[2:-1]), a[-1] == "+") for a in text.split()]


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
    """Within 0.35 dB of mean and 0.3 dB of SD: the factors are Gaussian, the likelihoods are not,

    so there is an approximation to see; it stays far below the 2.65 dB at which a place ends."""
    procedure = joint(TINY)
    state = procedure.start(limits(1, 3))
    answers = answers_of(SEQUENCES[name])
    for place, level, seen in answers:
        state = asked(procedure, state, place, level, seen)
    mean, sd, chances = enumerated(answers)
    found = procedure.estimate(state)
    print(name, np.abs(found.mean_db[0] - mean).max(), np.abs(found.sd_db[0] - sd).max())
    print(np.abs(procedure.hypothesis_chances(state)[0] - chances).max())
    assert np.abs(found.mean_db[0] - mean).max() < 0.35
    assert np.abs(found.sd_db[0] - sd).max() < 0.3
    assert np.abs(procedure.hypothesis_chances(state)[0] - chances).max() < 0.04
