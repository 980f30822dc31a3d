"""The prior over fields: proper, as stated, for any pattern, and fair to the reference."""

from __future__ import annotations

import numpy as np
import pytest
from joint_rigs import HEALTHY_DB, LIMIT_DB, PATTERN, TINY, joint, limits

from protocols.field import Place
from protocols.procedures.joint.hypotheses import all_hypotheses
from protocols.procedures.joint.scale import (
    DEEP_DB,
    DEEP_LOSS,
    EXTRA_LOSS,
    GRID_DB,
    spread_db,
)

PATTERNS = {
    "one": (Place(0.0, 0.0),),
    "two": (Place(-9.0, 9.0), Place(12.0, -14.0)),
    "three": TINY,
    "nineteen": PATTERN.places,
    "seventeen": PATTERN.places[:7] + PATTERN.places[8:-1],
}


@pytest.mark.parametrize("name", PATTERNS)
def test_every_hypothesis_is_proper(name):
    prior = all_hypotheses(PATTERNS[name], 2.5)
    assert sum(h.chance for h in prior) == pytest.approx(1.0)
    for h in prior:
        assert np.linalg.eigvalsh(h.covariance).min() > 0.5
        assert np.allclose(h.covariance, h.covariance.T)
        assert ((h.extra > 0) & (h.extra < 0.5)).all()
    assert np.isfinite(joint(PATTERNS[name]).start(limits(2, len(PATTERNS[name]))).mass).all()


def test_healthy_is_the_reference():
    """Mean 2.3263 SDs above the limit that 1 % stay below, SD as given: z of 0.01 from a table."""
    healthy = all_hypotheses(PATTERN.places, 2.5)[0]
    assert healthy.name == "healthy"
    assert np.allclose(np.diag(healthy.covariance), 2.5**2)
    state = joint().start(limits(1))
    assert np.allclose(state.smooth.mean[0, 0], HEALTHY_DB, atol=1e-3)


def test_half_the_prior_is_free_of_regional_and_diffuse_loss():
    chances = {h.name: h.chance for h in all_hypotheses(PATTERN.places, 2.5)}
    assert 0.4 < chances["healthy"] < 0.6
    assert chances["isolated"] > 0.05
    assert chances["free"] > 0.05
    assert chances["upper arc"] == chances["lower arc"]


def test_regions_mirror_each_other():
    prior = {h.name: h for h in all_hypotheses(PATTERN.places, 2.5)}
    y = np.array([place.y_deg for place in PATTERN.places])
    for region in ("arc", "outer arc", "nasal step", "half"):
        upper, lower = (prior[f"{half} {region}"].shift_db for half in ("upper", "lower"))
        assert np.all(upper[y < 0] == 0)
        assert np.all(lower[y > 0] == 0)
        assert np.isclose(upper.sum(), lower.sum())
        assert upper.min() < 0


def test_an_extra_loss_only_takes_away():
    for kernel, least in ((EXTRA_LOSS, 1.5), (DEEP_LOSS, DEEP_DB)):
        assert np.allclose(kernel.sum(axis=1), 1.0)
        high = GRID_DB > 15
        taken = np.where(kernel[high] > 0, GRID_DB[high, None] - GRID_DB, np.inf)
        assert taken.min() >= least


def test_the_assumed_curve_widens_with_loss_within_bounds():
    """Direction from Henson 2000, IOVS 41:417; the straight line is the procedure's own."""
    widths = spread_db(GRID_DB)
    assert np.all(np.diff(widths) <= 0)
    assert widths.min() >= 1.4
    assert widths.max() <= 3.8


def test_an_eye_and_its_mirror_share_a_procedure():
    """The left eye's places stand in the same order, so a limit of 18 dB means the same there."""
    state = joint().start(np.full((1, 19), LIMIT_DB))
    assert state.mass.shape == (1, 19, len(GRID_DB))
