"""Woods et al. 2015, Frontiers in Human Neuroscience 9:131: simple visual reaction time.

Abstract, experiment 1: 1469 people of 18 to 65 years, mean 231 ms (213 ms once the hardware's
delay is taken off), growing by 0.55 ms a year. That is the quickest answer people give, to an
abrupt and certain target. The bundled healthy observer answers to a soft-edged patch somewhere in
the periphery, so the checks are: never on average faster than the published mean at its age, no
slower than twice that, and well inside the accepted window. The mean is taken to stand for the
middle of the ages, 41.5 years: an assumption.
"""

from __future__ import annotations

import numpy as np
from records import record

from analysis.grade import grade_folder
from protocols.field import Place
from protocols.library import bundled_observer
from protocols.observer import Observer, load_observer, press_times_s
from protocols.presentation import Presentation

AREA = "Eye and field"
SOURCE = "Woods et al. 2015, Front Hum Neurosci 9:131"

MEAN_S, PER_YEAR_S, AT_AGE = 0.231, 0.00055, 41.5
HEALTHY = load_observer(bundled_observer("healthy"))


def simple_reaction_s(age_years):
    return MEAN_S + PER_YEAR_S * (age_years - AT_AGE)


def _times_s(contrast, n=4000):
    """Response times of the healthy observer to a target at the place of the inner ring."""
    observer = Observer(HEALTHY, 12)
    shown = [
        Presentation(k, "right", "place", False, Place(9.5, 0), 1, 0.0, contrast, 0.0, 0.5)
        for k in range(n)
    ]
    found = [press_times_s(observer, one, contrast, 0.0, 1.0) for one in shown]
    return np.array([times[-1] for times in found if times])


def test_the_published_numbers_at_other_ages(truth):
    """Sixty years later in life: 33 ms slower."""
    later = simple_reaction_s(80) - simple_reaction_s(20)
    truth("slower by 60 years more: seconds", later, 0.033, 3e-8)


def test_the_healthy_observer_is_not_faster_than_people_are(truth):
    times = _times_s(1.0)
    published = simple_reaction_s(HEALTHY.age_years)
    print(f"full contrast: mean {times.mean() * 1000:.0f} ms, published {published * 1000:.0f} ms")
    what = "healthy observer at full contrast: mean seconds to the press"
    assert published < times.mean() < 2 * published
    truth.inside(what, times.mean(), published, 2 * published)


def test_nearly_all_its_answers_fall_into_the_accepted_window():
    times = _times_s(1.0)
    assert np.mean((times >= 0.1) & (times <= 1.0)) > 0.999


def test_the_result_reports_times_of_that_size(tmp_path):
    record(tmp_path / "e", "healthy", seed=5)
    found = grade_folder(tmp_path / "e").eyes["right"].response_times
    published = simple_reaction_s(HEALTHY.age_years)
    assert found.count >= 19
    assert published < found.median_s < 2 * published
