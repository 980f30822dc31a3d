"""Predictive value in a population: few with loss, so that most alarms are false ones.

Sensitivity .90, specificity .95, prevalence .0354: .3978 (Bayes' rule). The prevalence is that of
all glaucoma at 40 to 80 years in Tham et al. 2014, Ophthalmology 121:2081 (3.54 %); it stands here
for how rare loss is, not for what this program finds.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.indices.roc import predictive_value

AREA = "Statistics"
SOURCE = "Bayes' rule (computed); prevalence Tham 2014, Ophthalmology 121:2081"


def test_the_worked_value(truth):
    what = "predictive value: sensitivity .90, specificity .95, prevalence .0354"
    truth(what, predictive_value(0.90, 0.95, 0.0354), 0.3978, 5e-5)


def test_counting_people_gives_the_same():
    """A million drawn people, counted."""
    dice = np.random.default_rng(5)
    lost = dice.random(1_000_000) < 0.0354
    alarm = dice.random(1_000_000) < np.where(lost, 0.90, 0.05)
    assert lost[alarm].mean() == pytest.approx(predictive_value(0.90, 0.95, 0.0354), abs=0.006)


def test_with_half_the_people_affected_it_is_high(truth):
    truth("the same at prevalence .5", predictive_value(0.90, 0.95, 0.5), 0.9474, 5e-5)
