"""QUEST+: Watson 2017, J Vision 17(3):10; the `questplus` package runs live beside ours.

Its stimuli are dB of contrast with 0 for full and more for stronger, so its -20 is our level 20.
"""

from __future__ import annotations

import numpy as np
import pytest
import questplus

from protocols.procedures.grid import Grid
from protocols.procedures.quest_plus import QuestPlus
from protocols.procedures.settings import QuestPlusSettings

AREA = "Procedures"
SOURCE = "Watson 2017, J Vision 17(3):10; the questplus package live"

ANSWERS = "YNYYNYNNYYNYNYYNNYNY"
SHOWN = [
    -21.5873, -31.1111, -24.7619, -27.3016, -29.2063, -26.6667, -27.3016, -26.0317, -24.7619,
    -25.3968, -26.0317, -24.7619, -25.3968, -24.7619, -24.7619, -25.3968, -24.7619, -24.127,
    -24.127, -24.127,
]  # fmt: skip
MEAN, SD = -24.8682391471, 0.8910784667
VALUES = np.linspace(-40, 0, 64)
SLOPES = (2.0, 3.5, 5.0)


def _ours(slopes=(3.5,)):
    """The same grid in our terms, thresholds over slopes, with a uniform prior."""
    sensitivity = np.repeat(-VALUES, len(slopes))
    slope = np.tile(slopes, len(VALUES))
    grid = Grid(-VALUES, sensitivity, slope, (0.03, 0.03), "weibull")
    settings = QuestPlusSettings(curve="weibull", second_values=slopes, end_sd_db=0.05, most=1000)
    rule = QuestPlus(settings, grid)
    state = rule.start(np.array([[14.0]]))
    return rule, rule.with_prior(state, np.full((1, 1, len(slope)), 1 / len(slope)))


def _theirs(slopes=(3.5,)):
    return questplus.QuestPlus(
        stim_domain={"intensity": VALUES},
        param_domain={
            "threshold": VALUES, "slope": list(slopes), "lower_asymptote": [0.03],
            "lapse_rate": [0.03],
        },
        outcome_domain={"response": ["Yes", "No"]},
        func="weibull", stim_scale="dB", stim_selection_method="min_entropy",
        param_estimation_method="mean",
    )  # fmt: skip


def _next(rule, state):
    _, level = rule.propose(state, np.zeros(1), np.array([-1]))
    return level


def _told(rule, state, level, answer):
    return rule.update(state, np.zeros(1, int), level, np.array([answer == "Y"]))


def test_the_published_run_is_ours_choice_by_choice(truth):
    rule, state = _ours()
    chosen = []
    for answer in ANSWERS:
        level = _next(rule, state)
        chosen.append(-float(level[0]))
        state = _told(rule, state, level, answer)
    assert len(ANSWERS) == len(SHOWN)
    truth("a run of 20 answers: stimuli chosen, dB", chosen, SHOWN, 5e-5)
    truth("its posterior mean, dB", -state.mean_db[0, 0], MEAN, 1e-9)
    truth("its posterior SD, dB", state.sd_db[0, 0], SD, 1e-9)


@pytest.mark.parametrize("slopes", [(3.5,), SLOPES], ids=["threshold", "threshold and slope"])
@pytest.mark.parametrize("seed", [0, 1, 2])
def test_the_package_live_beside_ours_chooses_and_believes_the_same(slopes, seed):
    dice = np.random.default_rng(seed)
    (rule, state), package = _ours(slopes), _theirs(slopes)
    for _ in range(25):
        level, theirs = _next(rule, state), package.next_stim["intensity"]
        assert -float(level[0]) == pytest.approx(theirs, abs=1e-9)
        answer = "Y" if dice.random() < 0.5 else "N"
        state = _told(rule, state, level, answer)
        outcome = {"response": "Yes" if answer == "Y" else "No"}
        package.update(stim={"intensity": theirs}, outcome=outcome)
    posterior = package.posterior.values.reshape(-1)
    np.testing.assert_allclose(state.mass[0, 0], posterior, rtol=1e-9, atol=1e-300)
    estimate = package.param_estimate
    assert -state.mean_db[0, 0] == pytest.approx(estimate["threshold"], abs=1e-9)
    assert rule.second(state)[0][0, 0] == pytest.approx(estimate["slope"], abs=1e-9)
