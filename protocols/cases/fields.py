"""The hidden field of a case: drawn by the generator of invented people, known at every place.

The generator draws sensitivity at a pattern's places. Between them deviations are averaged over
places by how far away they are, with a Gaussian of `REACH_DEG`: a patch of 7 degrees gathers over
about that distance (an assumption). The healthy hill itself is a formula and holds everywhere.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from protocols.cases.file import CaseFile, EyeTruth, Shape
from protocols.field import EYES, Eye, Floats, Place, for_eye
from protocols.library import Protocol
from protocols.population.draw import FLOOR_DB
from protocols.population.healthy import draw_healthy, mean_hill_db
from protocols.population.losses import LOSSES, Geometry

REACH_DEG = 2.5
_HILL, _LOSS = 1, 2


@dataclass(frozen=True, eq=False)
class HiddenField:
    """One eye. `places` are those of the pattern for that eye; arrays have shape (places,).

    `unusual_db` is what this person has more than the mean healthy hill, `loss_db` what was lost.
    """

    age_years: int
    shape: Shape
    places: tuple[Place, ...]
    unusual_db: Floats
    loss_db: Floats

    def sensitivity_db(self, place: Place) -> float:
        """Sensitivity at any place of the field, contrast dB, not below the generator's floor."""
        share = self._shares(place)
        healthy = _hill_db(place, self.age_years) + float(share @ self.unusual_db)
        return max(FLOOR_DB, healthy - float(share @ self.loss_db))

    @property
    def truth_db(self) -> Floats:
        """Sensitivity at the pattern's places, shape (places,)."""
        return np.array([self.sensitivity_db(place) for place in self.places])

    def _shares(self, place: Place) -> Floats:
        away = np.array([np.hypot(p.x_deg - place.x_deg, p.y_deg - place.y_deg)
                         for p in self.places])  # fmt: skip
        nearness = -(away**2) / (2 * REACH_DEG**2)
        weight = np.exp(nearness - nearness.max())
        return np.asarray(weight / weight.sum())


def _hill_db(place: Place, age_years: int) -> float:
    return float(mean_hill_db([place], np.array([float(age_years)]))[0, 0])


def hidden_fields(
    case: CaseFile, protocol: Protocol, shallower_db: float = 0.0
) -> Mapping[Eye, HiddenField]:
    """Both eyes, tested or not; `shallower_db` gives the fields of an earlier visit."""
    return {eye: _field(case, protocol, eye, shallower_db) for eye in EYES}


def _field(case: CaseFile, protocol: Protocol, eye: Eye, shallower_db: float) -> HiddenField:
    right = protocol.pattern.places
    truth = case.truth(eye)
    unusual, loss = _drawn(case.seed, case.age_years, eye, truth, right)
    return HiddenField(
        age_years=case.age_years,
        shape=truth.shape,
        places=tuple(for_eye(place, eye) for place in right),
        unusual_db=unusual,
        loss_db=np.maximum(loss - shallower_db, 0.0),
    )


@lru_cache(maxsize=256)
def _drawn(
    seed: int, age_years: int, eye: Eye, truth: EyeTruth, places: tuple[Place, ...]
) -> tuple[Floats, Floats]:
    """The person's own hill, alike in both eyes, and the loss of one."""
    age = np.array([float(age_years)])
    hill = draw_healthy(np.random.default_rng([seed, _HILL]), places, age)[0]
    rng = np.random.default_rng([seed, _LOSS, EYES.index(eye)])
    loss = np.zeros(len(places))
    if truth.shape != "healthy":
        loss = LOSSES[truth.shape](rng, Geometry(places))
    if truth.deepest_db is not None and loss.max() > 0:
        loss = loss * (truth.deepest_db / loss.max())
    return hill - mean_hill_db(places, age)[0], loss
