"""Estimate less truth: by place, by depth and by shape of loss; and the spread of repeats."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from analysis.piloting.measures import Z95, about, clustered_mean, clustered_share, root
from analysis.piloting.pieces import Examined
from analysis.piloting.result import DepthErrors, Errors, Measure, PlaceErrors, Retest, ShapeErrors
from protocols.field import Floats, Place
from protocols.population.draw import SHAPES, with_loss
from protocols.procedures.interface import Bools, Ints

SEEN_DEPTHS_DB = (
    ("under 0.5 dB", 0.0, 0.5),
    ("0.5 to 4 dB", 0.5, 4.0),
    ("4 to 8 dB", 4.0, 8.0),
    ("8 to 16 dB", 8.0, 16.0),
    ("over 16 dB", 16.0, np.inf),
)
"""Loss of the person at the place, from and to, where full contrast is seen."""
UNSEEN = "beyond full contrast"


@dataclass(frozen=True)
class Truth:
    """Truth at the places of a variant, delivered dB: sensitivity, at least that of full contrast,

    and its class of depth, an index into `DEPTHS`, each (people, places); shapes (people,).
    """

    level_db: Floats
    depth: Ints
    shape: Ints

    @property
    def lossy(self) -> Bools:
        """Who has a loss, (people,)."""
        return with_loss(self.shape)


DEPTHS = (*(name for name, _, _ in SEEN_DEPTHS_DB), UNSEEN)


def truth_of(sensitivity_db: Floats, healthy_db: Floats, shape: Ints, floor_db: float) -> Truth:
    """Truth from fields with and without their loss, (people, places)."""
    lost = healthy_db - sensitivity_db
    edges = [high for _, _, high in SEEN_DEPTHS_DB[:-1]]
    seen = np.searchsorted(edges, lost, side="left")
    depth = np.where(sensitivity_db < floor_db, len(SEEN_DEPTHS_DB), seen)
    return Truth(np.maximum(sensitivity_db, floor_db), depth, shape)


def errors_of(exams: Examined, truth: Truth, of: Bools) -> Errors | None:
    """Errors over places `of` (people, places) that were finished; None where there are none."""
    known = np.isfinite(exams.estimate_db) & of[:, None, :]
    if not known.any():
        return None
    level = truth.level_db[:, None, :]
    error = exams.estimate_db.astype(float) - level
    near = 1e-4  # levels are kept in single precision
    covered = (exams.low_db <= level + near) & (exams.high_db >= level - near)
    return Errors(
        places=int(known.sum()),
        bias_db=about(*clustered_mean(error, known)),
        rms_db=root(*clustered_mean(error**2, known)),
        coverage=clustered_share(covered, known),
    )


def by_place(exams: Examined, truth: Truth, places: tuple[Place, ...]) -> list[PlaceErrors]:
    """Errors at each place."""
    found = []
    for number, place in enumerate(places):
        of = np.zeros(truth.level_db.shape, np.bool_)
        of[:, number] = True
        errors = errors_of(exams, truth, of)
        if errors is not None:
            where = round(place.x_deg, 6) + 0.0, round(place.y_deg, 6) + 0.0
            found.append(PlaceErrors(*where, errors))
    return found


def by_depth(exams: Examined, truth: Truth) -> list[DepthErrors]:
    """Errors and spread of repeats by class of depth."""
    return [
        DepthErrors(
            name, errors_of(exams, truth, truth.depth == k), _within(exams, truth.depth == k)
        )
        for k, name in enumerate(DEPTHS)
    ]


def by_shape(exams: Examined, truth: Truth, found: dict[int, Measure]) -> list[ShapeErrors]:
    """Errors by shape of loss; `found` is the share of each shape that is found."""
    rows = []
    for k in np.unique(truth.shape).tolist():
        of = np.broadcast_to((truth.shape == k)[:, None], truth.level_db.shape)
        count = int((truth.shape == k).sum())
        rows.append(ShapeErrors(SHAPES[k], count, errors_of(exams, truth, of), found.get(k)))
    return rows


def retest_of(exams: Examined, truth: Truth) -> Retest | None:
    """Spread of repeats over all places; None where nobody was examined twice."""
    everywhere = np.ones(truth.level_db.shape, np.bool_)
    within = _within(exams, everywhere)
    if within is None:
        return None
    return Retest(
        repeats=exams.seconds.shape[1],
        within_sd_db=within,
        repeatability_db=round(Z95 * sqrt(2) * within.value, 5),
        mean_within_sd_db=_mean_within(exams),
    )


def _within(exams: Examined, of: Bools) -> Measure | None:
    """SD of repeats within a person at the same place, where all repeats have an estimate."""
    if exams.seconds.shape[1] < 2:
        return None
    known = np.all(np.isfinite(exams.estimate_db), axis=1, keepdims=True)[:, 0] & of
    if not known.any():
        return None
    variance = np.nan_to_num(exams.estimate_db.astype(float)).var(axis=1, ddof=1)
    return root(*clustered_mean(variance, known))


def _mean_within(exams: Examined) -> Measure:
    """SD of repeats of the mean over the places that all repeats have an estimate of."""
    known = np.all(np.isfinite(exams.estimate_db), axis=1, keepdims=True)[:, 0]
    count = known.sum(axis=1)
    sums = np.where(known[:, None, :], exams.estimate_db, 0.0).sum(axis=2, dtype=float)
    means = sums / np.maximum(count, 1)[:, None]
    return root(*clustered_mean(means.var(axis=1, ddof=1), count > 0))
