"""Simulated participants: who sees what, presses when, tires and looks away. All invented.

An observer is a TOML file. Sensitivity at a place of the retina is a hill that falls off with
eccentricity, less the deepest loss that covers it. Whether a target is noticed follows a cumulative
Gaussian of level around sensitivity (Green & Swets 1966), with lapses and false presses.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot
from pathlib import Path
from typing import Annotated, Literal

import msgspec
import numpy as np
from scipy.special import ndtr

from protocols.draws import Stream, exponential, normal, uniform
from protocols.field import Eye, Place, for_eye
from protocols.files import decode_toml, read_text
from protocols.pattern import BLIND_SPOT_HALF_SIZE_DEG, BLIND_SPOT_PLACE
from protocols.presentation import Presentation

Share = Annotated[float, msgspec.Meta(ge=0.0, le=1.0)]
Degrees = Annotated[float, msgspec.Meta(ge=-80.0, le=80.0)]
Depth = Annotated[float, msgspec.Meta(ge=0.0, le=60.0)]
Seconds = Annotated[float, msgspec.Meta(ge=0.0, le=5.0)]
EARLIEST_S = 0.12
"""Nobody simulated here reacts to a target faster than this."""
SMALL_TARGET_LOSS_DB = 6.0
"""How much harder the small blind-spot target is to see than a patch; an assumption."""


class DiscLoss(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="shape", tag="disc"
):
    """Loss within a radius of a place (coordinates of the tested eye)."""

    x_deg: Degrees
    y_deg: Degrees
    radius_deg: Annotated[float, msgspec.Meta(gt=0.0, le=60.0)]
    depth_db: Depth

    def covers(self, place: Place) -> bool:
        """Whether the loss reaches a place."""
        return hypot(place.x_deg - self.x_deg, place.y_deg - self.y_deg) <= self.radius_deg


class ArcLoss(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="shape", tag="arc"
):
    """Loss between two eccentricities and two polar angles, counter-clockwise from the first.

    Angles a whole turn apart are the whole ring.
    """

    from_eccentricity_deg: Annotated[float, msgspec.Meta(ge=0.0, le=80.0)]
    to_eccentricity_deg: Annotated[float, msgspec.Meta(ge=0.0, le=80.0)]
    from_polar_deg: Annotated[float, msgspec.Meta(ge=-360.0, le=360.0)]
    to_polar_deg: Annotated[float, msgspec.Meta(ge=-360.0, le=360.0)]
    depth_db: Depth

    def covers(self, place: Place) -> bool:
        """Whether the loss reaches a place."""
        r = place.eccentricity_deg
        turn = (place.polar_deg - self.from_polar_deg) % 360
        span = (self.to_polar_deg - self.from_polar_deg) % 360
        if span == 0 and self.to_polar_deg != self.from_polar_deg:
            span = 360
        return self.from_eccentricity_deg <= r <= self.to_eccentricity_deg and turn <= span


class EyeModel(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The hill of one eye and its losses."""

    centre_db: Annotated[float, msgspec.Meta(ge=-20.0, le=50.0)] = 25.5
    fall_db_per_deg: Annotated[float, msgspec.Meta(ge=0.0, le=3.0)] = 0.15
    losses: list[DiscLoss | ArcLoss] = []


class Seeing(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Spread of the seeing curve in dB and the share of targets missed for want of attention."""

    slope_db: Annotated[float, msgspec.Meta(gt=0.0, le=20.0)] = 1.5
    lapse_rate: Share = 0.01


class Pressing(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Chance that a presentation meets a press that nothing caused."""

    false_press_rate: Share = 0.01


class Reaction(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Reaction time: a normal part and an exponential tail (ex-Gaussian), slower near threshold."""

    mean_s: Seconds = 0.36
    sd_s: Seconds = 0.05
    tail_s: Seconds = 0.04
    slower_near_threshold_s: Seconds = 0.08


class Fatigue(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Loss of sensitivity and growth of lapses with time."""

    db_per_min: Annotated[float, msgspec.Meta(ge=0.0, le=10.0)] = 0.0
    lapse_rate_per_min: Share = 0.0


class Learning(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Sensitivity still missing at the start, which goes as exp(-t / settles_min)."""

    first_deficit_db: Annotated[float, msgspec.Meta(ge=0.0, le=20.0)] = 0.0
    settles_min: Annotated[float, msgspec.Meta(ge=0.05, le=60.0)] = 1.0


class Attention(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Lapses that come and go: up to `drift_rate` more at the worst of each period.

    The extra rate is a raised cosine of time whose phase is the sitting's own.
    """

    drift_rate: Share = 0.0
    period_s: Annotated[float, msgspec.Meta(ge=1.0, le=3600.0)] = 40.0


class Fixation(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Share of presentations met with the eye off the mark, and how far off it then is."""

    away_share: Share = 0.0
    away_sd_deg: Annotated[float, msgspec.Meta(ge=0.0, le=30.0)] = 6.0


class ObserverFile(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """An observer file, format 1."""

    format: Literal[1]
    about: Annotated[str, msgspec.Meta(min_length=1)]
    age_years: Annotated[int, msgspec.Meta(ge=5, le=110)] = 45
    right: EyeModel = EyeModel()
    left: EyeModel = EyeModel()
    seeing: Seeing = Seeing()
    pressing: Pressing = Pressing()
    reaction: Reaction = Reaction()
    fatigue: Fatigue = Fatigue()
    learning: Learning = Learning()
    attention: Attention = Attention()
    fixation: Fixation = Fixation()


@dataclass(frozen=True)
class Observer:
    """An observer with the seed of this sitting: same seed, same answers."""

    model: ObserverFile
    seed: int


def load_observer(path: Path) -> ObserverFile:
    """Read an observer file; raises InputError."""
    return decode_toml(ObserverFile, read_text(path, "observer"), path.name, "observer")


def sensitivity_db(model: ObserverFile, eye: Eye, place: Place) -> float:
    """Sensitivity in contrast dB at a place of the field under steady gaze, before fatigue."""
    hill = model.right if eye == "right" else model.left
    depths = [loss.depth_db for loss in hill.losses if loss.covers(place)]
    fallen = hill.fall_db_per_deg * place.eccentricity_deg
    return hill.centre_db - fallen - max(depths, default=0.0)


def seeing_probability(
    observer: Observer, shown: Presentation, delivered: float, elapsed_s: float
) -> float:
    """Chance that a presentation of this delivered contrast is noticed, lapses included."""
    retina = on_retina(observer, shown)
    sensitivity = sensitivity_db(observer.model, shown.eye, retina)
    return noticed_probability(observer, shown, retina, sensitivity, delivered, elapsed_s)


def noticed_probability(
    observer: Observer,
    shown: Presentation,
    retina: Place,
    rested_db: float,
    delivered: float,
    elapsed_s: float,
) -> float:
    """The same for a place of the retina of known sensitivity (contrast dB, before fatigue)."""
    if delivered <= 0:
        return 0.0
    minutes = elapsed_s / 60
    model = observer.model
    tired_db = model.fatigue.db_per_min * minutes + new_to_it_db(model.learning, minutes)
    sensitivity = rested_db - tired_db
    if shown.role == "blind_spot":
        if _inside_blind_spot(shown.eye, retina):
            return 0.0
        sensitivity -= SMALL_TARGET_LOSS_DB
    level = -20 * np.log10(delivered)
    drift = attention_drift(observer, elapsed_s)
    lapse = min(1.0, model.seeing.lapse_rate + model.fatigue.lapse_rate_per_min * minutes + drift)
    return float((1 - lapse) * ndtr((sensitivity - level) / model.seeing.slope_db))


def new_to_it_db(learning: Learning, minutes: float) -> float:
    """Sensitivity still missing after so many minutes, dB.

    >>> round(new_to_it_db(Learning(3.0, 2.0), 2.0), 3)
    1.104
    """
    return float(learning.first_deficit_db * np.exp(-minutes / learning.settles_min))


def attention_drift(observer: Observer, elapsed_s: float) -> float:
    """Lapses added just now by attention that comes and goes, 0 to `drift_rate`.

    The answer is a chance a presentation.
    """
    drifting = observer.model.attention
    phase = float(uniform(observer.seed, 0, Stream.ATTENTION))
    turn = 2 * np.pi * (elapsed_s / drifting.period_s + phase)
    return float(drifting.drift_rate * (1 - np.cos(turn)) / 2)


def press_times_s(
    observer: Observer, shown: Presentation, delivered: float, elapsed_s: float, window_s: float
) -> tuple[float, ...]:
    """Presses in seconds after onset, in order; a function of (seed, index) and what was shown."""
    p = seeing_probability(observer, shown, delivered, elapsed_s)
    return presses_given(observer, shown.index, p, window_s)


def presses_given(observer: Observer, index: int, p: float, window_s: float) -> tuple[float, ...]:
    """Presses to a presentation that is noticed with chance p, false ones included."""
    presses = []
    if float(uniform(observer.seed, index, Stream.SEE)) < p:
        presses.append(_reaction_s(observer, index, p))
    false_rate = observer.model.pressing.false_press_rate
    if float(uniform(observer.seed, index, Stream.FALSE_PRESS)) < false_rate:
        when = float(uniform(observer.seed, index, Stream.FALSE_PRESS_TIME))
        presses.append(when * window_s)
    return tuple(sorted(presses))


def _reaction_s(observer: Observer, index: int, p: float) -> float:
    times = observer.model.reaction
    z = float(normal(observer.seed, index, Stream.REACTION_NORMAL))
    tail = float(exponential(observer.seed, index, Stream.REACTION_TAIL))
    doubt = 4 * p * (1 - p) * times.slower_near_threshold_s
    mean_s = times.mean_s - times.tail_s + times.sd_s * z + times.tail_s * tail + doubt
    return max(EARLIEST_S, mean_s)


def on_retina(observer: Observer, shown: Presentation) -> Place:
    """Where a target falls, in degrees from where the eye should look: moved if it looks away."""
    fixation = observer.model.fixation
    away = float(uniform(observer.seed, shown.index, Stream.GAZE_AWAY)) < fixation.away_share
    if not away:
        return shown.place
    dx, dy = (
        fixation.away_sd_deg * float(normal(observer.seed, shown.index, stream))
        for stream in (Stream.GAZE_X, Stream.GAZE_Y)
    )
    return Place(shown.place.x_deg - dx, shown.place.y_deg - dy)


def _inside_blind_spot(eye: Eye, retina: Place) -> bool:
    centre = for_eye(BLIND_SPOT_PLACE, eye)
    half_x, half_y = BLIND_SPOT_HALF_SIZE_DEG
    across = (retina.x_deg - centre.x_deg) / half_x
    return across**2 + ((retina.y_deg - centre.y_deg) / half_y) ** 2 < 1
