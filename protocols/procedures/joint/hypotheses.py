"""What a field may be like: the prior, its numbers stated and none of them fitted to anybody.

Every hypothesis gives the smooth part of the field as a Gaussian (mean below the healthy mean,
covariance) and each place's own chance of an extra loss. Assumed throughout: healthy people differ
by the reference's SD, of which 64 % is height, 16 % a smooth deviation with correlation
exp(-distance / 12 deg), 20 % each place's own. A regional loss is 10 dB deep on average with an SD
of 8 dB between people and 4 dB within the region.

The course of nerve fibres is taken coarsely: on the nasal side of the disc they run on circles
about the mark, so places along a circle count as half as far apart as places across, and an arc is
what lies nasal of the disc in one half field. Chances sum over the hypotheses: half of all fields
healthy, a tenth free, where every place may be anything.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from protocols.field import Floats, Place

HEIGHT_SHARE, SMOOTH_SHARE, OWN_SHARE = 0.64, 0.16, 0.20
SMOOTH_LENGTH_DEG = 12.0
COURSE_LENGTH_DEG = 15.0
COURSE_RADIUS_DEG = 15.0
DISC_X_DEG = 12.0
"""Places further temporal than this lie on no arc."""
BETWEEN_DB, WITHIN_DB = 8.0, 5.0
DIFFUSE_UNEVEN_DB = 2.5
FREE_SD_DB = 8.0
NASAL_STEP_DEG = 50.0
"""Angle from the nasal raphe within which a nasal step stays."""
HALF_FIELD_DEG = 1.0


@dataclass(frozen=True)
class Hypothesis:
    """shift_db (places,) from the healthy mean, covariance (places, places) in dB^2, extra

    (places,) the chance of an extra loss at each place, chance of the hypothesis itself.
    """

    name: str
    chance: float
    shift_db: Floats
    covariance: Floats
    extra: Floats


@dataclass(frozen=True)
class Layout:
    """Where places lie, for a right eye: coordinates in degrees, each (places,)."""

    x_deg: Floats
    y_deg: Floats

    @property
    def eccentricity_deg(self) -> Floats:
        """Distance from the mark."""
        return np.hypot(self.x_deg, self.y_deg)

    def straight(self) -> Floats:
        """Distances between places, shape (places, places)."""
        return _distances(self.x_deg, self.y_deg)

    def along_course(self) -> Floats:
        """Distances with those along a circle about the mark halved."""
        turn = np.arctan2(np.abs(self.y_deg), self.x_deg)
        return _distances(self.eccentricity_deg, COURSE_RADIUS_DEG * turn / 2)


def all_hypotheses(places: Sequence[Place], spread_db: float) -> list[Hypothesis]:
    """The prior over fields of right-eye places; chances sum to 1."""
    layout = Layout(np.array([p.x_deg for p in places]), np.array([p.y_deg for p in places]))
    healthy = _healthy_covariance(layout, spread_db)
    found = [*_everywhere(layout, healthy), *_regional(layout, healthy)]
    total = sum(h.chance for h in found)
    return [
        Hypothesis(h.name, h.chance / total, h.shift_db, h.covariance, h.extra) for h in found
    ]


def _healthy_covariance(layout: Layout, spread_db: float) -> Floats:
    smooth = np.exp(-layout.straight() / SMOOTH_LENGTH_DEG)
    own = np.eye(len(layout.x_deg))
    return np.asarray(spread_db**2 * (HEIGHT_SHARE + SMOOTH_SHARE * smooth + OWN_SHARE * own))


def _everywhere(layout: Layout, healthy: Floats) -> Iterator[Hypothesis]:
    count = len(layout.x_deg)
    none = np.zeros(count)
    smooth = np.exp(-layout.straight() / SMOOTH_LENGTH_DEG)
    one_place = np.full(count, 1.5 / count)
    yield Hypothesis("healthy", 0.45, none, healthy, np.full(count, 0.003))
    yield Hypothesis("isolated", 0.12, none, healthy, np.minimum(one_place, 0.4))
    diffuse = healthy + 4.0**2 + DIFFUSE_UNEVEN_DB**2 * smooth
    yield Hypothesis("diffuse", 0.08, none - 5.0, diffuse, np.full(count, 0.03))
    free = healthy + 3.0**2 + FREE_SD_DB**2 * np.eye(count)
    yield Hypothesis("free", 0.10, none - 8.0, free, np.full(count, 0.1))


def _regional(layout: Layout, healthy: Floats) -> Iterator[Hypothesis]:
    """One hypothesis a region that holds a place; regions that hold the same places stand once."""
    course = np.exp(-layout.along_course() / COURSE_LENGTH_DEG)
    depth = BETWEEN_DB**2
    same_half = (np.sign(layout.y_deg)[:, None] * np.sign(layout.y_deg)[None]) >= 0
    for name, chance, inside, depth_db in _regions(layout):
        if not inside.any():
            continue
        region = inside.astype(float)
        together = np.outer(region, region)
        covariance = healthy + together * (depth * same_half + WITHIN_DB**2 * course)
        yield Hypothesis(
            name, chance, -depth_db * region, covariance, np.where(inside, 0.12, 0.035)
        )


def _regions(layout: Layout) -> Iterator[tuple[str, float, np.ndarray, float]]:
    x, y, r = layout.x_deg, layout.y_deg, layout.eccentricity_deg
    from_raphe_deg = np.degrees(np.arctan2(np.abs(y), -x))
    for half, side in (("upper", y > HALF_FIELD_DEG), ("lower", y < -HALF_FIELD_DEG)):
        nasal_of_disc = side & (x < DISC_X_DEG)
        yield f"{half} arc", 0.03, nasal_of_disc & (r > 5.0), 10.0
        yield f"{half} outer arc", 0.02, nasal_of_disc & (r > 15.0), 10.0
        yield f"{half} nasal step", 0.03, side & (x < 0) & (from_raphe_deg < NASAL_STEP_DEG), 10.0
        yield f"{half} half", 0.03, side, 10.0
    yield "both arcs", 0.04, r > 5.0, 15.0


def _distances(a: Floats, b: Floats) -> Floats:
    return np.hypot(a[:, None] - a[None], b[:, None] - b[None])
