"""QUEST: Watson & Pelli 1983, Percept Psychophys 33:113; the engine behind PsychoPy's

`data.QuestHandler` (`psychopy.contrib.quest.QuestObject`) runs live beside ours.

Its intensities are log10 contrast, so 0.05 is our 1 dB with the sign turned.
"""

from __future__ import annotations

import numpy as np
import pytest
from psychopy.contrib.quest import QuestObject

from protocols.procedures.grid import Grid
from protocols.procedures.quest_plus import QuestPlus
from protocols.procedures.settings import QuestPlusSettings

AREA = "Procedures"
SOURCE = "Watson & Pelli 1983, Percept Psychophys 33:113; its engine in PsychoPy live"

GUESS, GUESS_SD, CRITERION = -3.0, 0.3, 0.75
BETA, DELTA, GAMMA, GRAIN = 3.5, 0.02, 0.03, 0.05


def _engine():
    quest = QuestObject(GUESS, GUESS_SD, CRITERION, BETA, DELTA, GAMMA, grain=GRAIN, range=4)
    quest.normalizePdf = True
    return quest


def _ours(quest):
    """The engine's table in our terms: its lapses are delta * (1 - gamma) of ours."""
    level = -20 * (quest.tGuess + quest.x)
    threshold = level + 20 * float(quest.xThreshold)
    grid = Grid(
        level, threshold, np.full(level.shape, BETA), (GAMMA, DELTA * (1 - GAMMA)), "weibull"
    )
    settings = QuestPlusSettings(curve="weibull", second_values=(BETA,), end_sd_db=0.05, most=1000)
    rule = QuestPlus(settings, grid)
    prior = quest.pdf / quest.pdf.sum()
    return rule, rule.with_prior(rule.start(np.array([[14.0]])), prior[None, None, :])


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("placement", ["mean", "mode"])
def test_the_engine_live_beside_ours_believes_the_same_after_every_answer(truth, placement, seed):
    dice, quest = np.random.default_rng(seed), _engine()
    rule, state = _ours(quest)
    offset_db = 20 * float(quest.xThreshold)
    for _ in range(40):
        wanted = quest.mean() if placement == "mean" else quest.mode()[0]
        intensity = GUESS + round((wanted - GUESS) / GRAIN) * GRAIN
        seen = dice.random() < 1 / (1 + np.exp(-20 * (intensity + 3.2)))
        quest.update(intensity, int(seen))
        state = rule.update(
            state, np.zeros(1, int), np.array([-20 * intensity]), np.array([seen])
        )
        np.testing.assert_allclose(state.mass[0, 0], quest.pdf / quest.pdf.sum(), atol=1e-10)
        assert -(state.mean_db[0, 0] - offset_db) / 20 == pytest.approx(quest.mean(), abs=1e-9)
        assert state.sd_db[0, 0] / 20 == pytest.approx(quest.sd(), abs=1e-7)
        best = rule.grid.sensitivity_db[state.mass[0, 0].argmax()]
        assert -(best - offset_db) / 20 == pytest.approx(quest.mode()[0], abs=1e-9)
    ours = -(state.mean_db[0, 0] - offset_db) / 20
    what = f"log10 threshold after 40 answers, placed at the {placement}, seed {seed}"
    truth(what, ours, quest.mean(), 1e-9)
