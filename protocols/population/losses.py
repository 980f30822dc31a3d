"""What is taken off a healthy field: a draw of depth in dB at each place for each shape of loss.

Shapes are invented after textbook descriptions: even loss, arcs along the nerve-fibre course,
a step at the nasal raphe, one lone place, several patches, half a field, both arcs with a spared
centre. Each draws its own edges, extent and depth; depth comes as early, moderate or advanced.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import expit

from protocols.field import Floats, Place
from protocols.population.fibres import along_arch, arch_height_deg, half_field

STAGES_DB = ((4.0, 8.0), (8.0, 16.0), (16.0, 35.0))
"""Range of mean depth of early, moderate and advanced loss, dB; drawn evenly."""
LONE_DEPTH_DB = (10.0, 35.0)
EDGE_DEG = 1.2
"""How gradually an arc ends; an assumption."""
WITHIN_REGION_SPREAD = 0.25
"""SD of depth from place to place, as a share of the region's depth; an assumption."""


@dataclass(frozen=True)
class Geometry:
    """Places of a right eye with all that the shapes ask of them."""

    places: tuple[Place, ...]

    @cached_property
    def xy_deg(self) -> Floats:
        """Coordinates, shape (places, 2)."""
        return np.array([[place.x_deg, place.y_deg] for place in self.places])

    @cached_property
    def eccentricity_deg(self) -> Floats:
        """Distance from the mark, shape (places,)."""
        x, y = self.xy_deg.T
        return np.asarray(np.hypot(x, y))

    @cached_property
    def arch_deg(self) -> Floats:
        """Height of the arch of fibres through each place."""
        return arch_height_deg(self.places)

    @cached_property
    def half(self) -> Floats:
        """+1 above the raphe, -1 below, 0 on it."""
        return half_field(self.places)

    @cached_property
    def along(self) -> Floats:
        """Share of the arch between disc and place."""
        return along_arch(self.places)


Draw = Callable[[np.random.Generator, Geometry], Floats]


def _stage_db(rng: np.random.Generator) -> float:
    low, high = STAGES_DB[rng.integers(len(STAGES_DB))]
    return float(rng.uniform(low, high))


def _uneven(rng: np.random.Generator, share: Floats, depth_db: float) -> Floats:
    """A region's depth with its spread from place to place; never a gain."""
    uneven = 1 + WITHIN_REGION_SPREAD * rng.standard_normal(len(share))
    return np.maximum(share * depth_db * uneven, 0.0)


def _at_least_one(share: Floats, likely: Floats) -> Floats:
    """A region that fell between the places takes the likeliest of them."""
    if share.max() >= 0.5:
        return share
    taken = share.copy()
    taken[np.argmax(likely)] = 1.0
    return taken


def diffuse(rng: np.random.Generator, field: Geometry) -> Floats:
    """Loss everywhere, between 3 and 14 dB, a little uneven. dB, shape (places,)."""
    return _uneven(rng, np.ones(len(field.places)), float(rng.uniform(3.0, 14.0)))


def _arc(rng: np.random.Generator, field: Geometry, side: int) -> Floats:
    """A band of arches in one half field, from somewhere along the course to the raphe."""
    middle, half_width = rng.uniform(8.0, 24.0), rng.uniform(2.5, 9.0)
    start = rng.uniform(0.0, 0.5)
    inside = expit((half_width - np.abs(field.arch_deg - middle)) / EDGE_DEG)
    inside = inside * expit((field.along - start) / 0.05) * (field.half == side)
    nearest = -np.abs(field.arch_deg - middle) - 100.0 * (field.half != side)
    return _uneven(rng, _at_least_one(inside, nearest), _stage_db(rng))


def upper_arc(rng: np.random.Generator, field: Geometry) -> Floats:
    """An arc above the raphe. Loss in dB, shape (places,)."""
    return _arc(rng, field, 1)


def lower_arc(rng: np.random.Generator, field: Geometry) -> Floats:
    """An arc below the raphe. Loss in dB, shape (places,)."""
    return _arc(rng, field, -1)


def nasal_step(rng: np.random.Generator, field: Geometry) -> Floats:
    """Loss on the nasal side of one half field, ending on the raphe. In dB, shape (places,)."""
    side = rng.choice([-1, 1])
    x, y = field.xy_deg.T
    from_raphe_deg = np.degrees(np.arctan2(np.abs(y), -x))
    inside = (x < 0) & (field.half == side) & (from_raphe_deg < rng.uniform(25.0, 60.0))
    share = (inside & (field.eccentricity_deg > rng.uniform(5.0, 15.0))).astype(float)
    likely = field.eccentricity_deg - from_raphe_deg - 1000.0 * (field.half != side)
    return _uneven(rng, _at_least_one(share, likely), _stage_db(rng))


def isolated(rng: np.random.Generator, field: Geometry) -> Floats:
    """One place, any of them, deep; nothing around it. Loss in dB, shape (places,)."""
    depth = np.zeros(len(field.places))
    depth[rng.integers(len(depth))] = rng.uniform(*LONE_DEPTH_DB)
    return depth


def patches(rng: np.random.Generator, field: Geometry) -> Floats:
    """Two to four round patches anywhere, each with its own size and depth.

    Loss in dB, shape (places,).
    """
    depth = np.zeros(len(field.places))
    for _ in range(rng.integers(2, 5)):
        centre = field.xy_deg[rng.integers(len(depth))] + rng.normal(0.0, 2.0, 2)
        away = np.hypot(*(field.xy_deg - centre).T)
        share = _at_least_one((away < rng.uniform(4.0, 10.0)).astype(float), -away)
        depth = np.maximum(depth, _uneven(rng, share, _stage_db(rng)))
    return depth


def half_loss(rng: np.random.Generator, field: Geometry) -> Floats:
    """All of the upper or lower half field; places on the raphe are spared.

    Loss in dB, shape (places,).
    """
    side = rng.choice([-1, 1])
    return _uneven(rng, (field.half == side).astype(float), _stage_db(rng))


def both_arcs(rng: np.random.Generator, field: Geometry) -> Floats:
    """Moderate to end-stage loss above and below; the centre and some temporal places remain.

    Loss in dB, shape (places,).
    """
    spared_deg = rng.uniform(3.0, 12.0)
    share = expit((field.eccentricity_deg - spared_deg) / EDGE_DEG)
    share = share * np.where(field.along < rng.uniform(0.0, 0.4), rng.uniform(0.0, 0.6), 1.0)
    above, below = rng.uniform(10.0, 35.0, 2)
    return np.where(field.half >= 0, _uneven(rng, share, above), _uneven(rng, share, below))


LOSSES: dict[str, Draw] = {
    "diffuse": diffuse,
    "upper_arc": upper_arc,
    "lower_arc": lower_arc,
    "nasal_step": nasal_step,
    "isolated": isolated,
    "patches": patches,
    "half_field": half_loss,
    "both_arcs": both_arcs,
}
"""Every shape of loss by its label."""
