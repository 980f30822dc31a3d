"""Presses that nothing caused, and a gaze off the mark, in one model of everything pressed.

Unknown are the share of presentations (from one onset to the next) that meet a press nothing
caused, and the share with the gaze off the mark, when the target on the blind spot is seen. Every
presentation speaks: a blank that was pressed at, a press too early for anybody, a press in the
quiet gap, a second press to one target, a single press whose time fits or does not fit the
person's own times, and each one without any press. Grid posterior with Jeffreys priors; the chance
that a target at a place was seen is that of the place's own estimate.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from protocols.field import Floats
from protocols.presentation import Role
from protocols.verdict import SPAN_S, Heard, Pace

RATES: Floats = (np.arange(100) + 0.5) / 100
"""Grid of both shares."""


@dataclass(frozen=True)
class Answer:
    """One presentation: what was heard, and the chance that it was seen, None on the blind spot."""

    heard: Heard
    chance: float | None

    @property
    def role(self) -> Role:
        """What was shown."""
        return self.heard.role


@dataclass(frozen=True)
class Shares:
    """Posterior of both shares over `RATES`, each (100,), summing to 1."""

    uncaused: Floats
    away: Floats


def shares(answers: Sequence[Answer], pace: Pace) -> Shares:
    """What the answers of an eye say of both shares."""
    prior = -0.5 * np.log(RATES * (1 - RATES))
    joint = prior[:, None] + prior
    alike: Counter[Answer] = Counter(answers)
    for answer, count in alike.items():
        joint = joint + count * np.log(_likelihood(answer, pace))
    mass = np.exp(joint - joint.max())
    mass /= mass.sum()
    return Shares(mass.sum(axis=1), mass.sum(axis=0))


def _likelihood(answer: Answer, pace: Pace) -> Floats:
    """Over (uncaused, away); broadcasts."""
    heard, false = answer.heard, RATES[:, None]
    seen = RATES[None, :] if answer.chance is None else np.full((1, 1), answer.chance)
    if heard.stray:
        return np.asarray(false + 0 * seen)
    if not heard.pressed:
        return np.asarray((1 - seen) * (1 - false))
    time_s = heard.time_s
    density = 1.0 if time_s is None else SPAN_S * pace.density(time_s)
    return np.asarray(seen * (1 - false) * density + (1 - seen) * false)


def interval(mass: Floats, share: float = 0.95) -> tuple[float, float]:
    """The shortest interval of rates that holds this share of `mass`, one a rate of the grid."""
    order = np.argsort(-mass, kind="stable")
    kept = order[: int(np.searchsorted(mass[order].cumsum(), share)) + 1]
    half = 0.5 / len(RATES)
    return float(RATES[kept.min()] - half), float(RATES[kept.max()] + half)


def mean(mass: Floats) -> float:
    """Posterior mean of a rate (0..1); `mass` has one number a rate of the grid."""
    return float(mass @ RATES)
