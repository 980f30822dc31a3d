"""Drift of sensitivity over a session: one change a minute shared by all places."""

from __future__ import annotations

import numpy as np
from scipy.interpolate import CubicSpline

from analysis.indices.likelihood import RELATIVE_DB, chances
from analysis.indices.summary import Answers
from analysis.verdict.facts import Drift
from protocols.field import Floats

PER_MIN_DB: Floats = np.arange(-8.0, 8.0 + 0.125, 0.25)
TRIED_DB: Floats = np.arange(-8.0, 8.5, 1.0)
"""Drifts for which the answers' chance is worked out; between them its logarithm is a spline."""
PRIOR_SD_DB = 2.5
"""Drifts are taken to be about this large, before anything is answered; an assumption."""


def drift(answers: Answers, minutes: Floats) -> Drift | None:
    """Posterior mean and central 95 % interval; None without answers.

    Minutes (places, trials) at which the answers came, not a number where there is none.
    """
    made = np.isfinite(answers.level_db) & np.isfinite(minutes)
    if not made.any():
        return None
    since = np.where(made, minutes - minutes[made].mean(), 0.0)
    tried = _log_chances(answers, TRIED_DB[:, None, None] * since)
    found = CubicSpline(TRIED_DB, tried)(PER_MIN_DB)
    found -= 0.5 * (PER_MIN_DB / PRIOR_SD_DB) ** 2
    mass = np.exp(found - found.max())
    mass /= mass.sum()
    low, high = np.searchsorted(mass.cumsum(), [0.025, 0.975])
    interval = float(PER_MIN_DB[low]), float(PER_MIN_DB[min(high, len(mass) - 1)])
    middle = round(float(mass @ PER_MIN_DB), 2) + 0.0
    return Drift(middle, interval, _words(*interval))


def _log_chances(answers: Answers, gained_db: Floats) -> Floats:
    """Log chance of all answers where sensitivity had grown by so much at each of them, (n,).

    Growth in dB, (n, places, trials).
    """
    tried, places, trials = gained_db.shape
    level = (answers.level_db - gained_db).reshape(-1, trials)
    seen, means = np.tile(answers.seen, (tried, 1)), np.tile(answers.means_db, tried)
    each = chances(level, seen, means)
    bell = np.exp(-0.5 * (RELATIVE_DB / answers.spread_db) ** 2)
    prior = 0.5 * bell / bell.sum() + 0.5 / len(RELATIVE_DB)
    return np.asarray(np.log(each @ prior).reshape(tried, places).sum(axis=1))


def _words(low: float, high: float) -> str:
    if high < 0:
        return "Sensitivity fell during the session: tiring is likely."
    if low > 0:
        return "Sensitivity rose during the session: the task was still being learnt."
    return "No drift of sensitivity can be told."
