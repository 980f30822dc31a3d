"""Change over visits: pointwise regression with the order of visits permuted as a whole.

O'Leary, Chauhan & Artes 2012, IOVS 53:6776. Each place's levels are regressed on time; the
one-sided probabilities are combined into S, the sum of -ln p over places. If nothing changed, any
order of the whole fields is as likely as the one that happened; so S is compared with its values
under all orders (up to seven visits, exact), else under 5,000 random ones. Places of a visit stay
together, so their correlation does no harm.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations
from math import factorial

import numpy as np
from scipy.stats import t as student_t

from protocols.errors import InputError
from protocols.field import Floats

LEAST_VISITS = 3
LEAST_SPAN_YEARS = 7 / 365.25
"""A change a year from visits closer together would be noise many times over; our own choice."""
ENUMERATED_VISITS = 7
DRAWN = 5000
_TIE = 1e-9
_MOST = 700.0
"""Largest -ln p that counts: a perfect line has no finite one."""


@dataclass(frozen=True)
class Trend:
    """A place's change: dB a year with its 95 % t interval, dB over all visits, two-sided p."""

    number: int
    db_per_year: float
    interval_db_per_year: tuple[float, float]
    over_all_db: float
    p: float


@dataclass(frozen=True)
class Change:
    """Whole-field probabilities of loss and of gain, and the trend of each place.

    `least_p` is the smallest probability that so many visits can give.
    """

    visits: int
    years: float
    p_loss: float
    p_gain: float
    arrangements: int
    exact: bool
    least_p: float
    trends: tuple[Trend, ...]
    mean_trend: Trend


def change_over(times_years: Floats, level_db: Floats, numbers: list[int]) -> Change:
    """Change of levels (visits, places) at times (visits,), in years; `numbers` name the places.

    Raises InputError for fewer than three visits, or visits at the same time.
    """
    times = np.asarray(times_years, float)
    _require_visits(times)
    orders = time_orders(times)
    exact = len(times) <= ENUMERATED_VISITS
    return Change(
        visits=len(times),
        years=round(float(np.ptp(times)), 4),
        p_loss=permuted_p(orders, level_db),
        p_gain=permuted_p(orders, -level_db),
        arrangements=len(orders),
        exact=exact,
        least_p=1 / (factorial(len(times)) if exact else len(orders)),
        trends=tuple(_trend(times, level_db[:, k], n) for k, n in enumerate(numbers)),
        mean_trend=_trend(times, level_db.mean(axis=1), -1),
    )


def _require_visits(times: Floats) -> None:
    if len(times) < LEAST_VISITS:
        raise InputError(
            "visits", len(times), f"{LEAST_VISITS} or more for a trend", "Add a later exam."
        )
    if len(np.unique(times)) < len(times):
        raise InputError(
            "visits", "two exams opened at the same time", "exams of different times",
            "Name each exam once.",
        )  # fmt: skip


def time_orders(times: Floats) -> Floats:
    """Times under each order of the visits, (orders, visits); the one that happened comes first."""
    if len(times) <= ENUMERATED_VISITS:
        return np.array(list(permutations(times)))
    rng = np.random.default_rng(0)
    return np.stack([times, *(rng.permutation(times) for _ in range(DRAWN - 1))])


def permuted_p(orders: Floats, level_db: Floats, truncation: float = 1.0) -> float:
    """Share of orders whose S is at least that of the first: probability of such a loss by chance.

    With a truncation below 1 only places with a probability up to it are summed. Orders (orders,
    visits), levels (visits, places).
    """
    sums = combined(log_p_loss(orders, level_db), truncation)
    return float(np.mean(sums >= sums[0] - _TIE))


def combined(minus_ln_p: Floats, truncation: float = 1.0) -> Floats:
    """S of each order from -ln p of its places, (orders, places) to (orders,)."""
    kept = minus_ln_p >= -np.log(truncation) - _TIE
    return np.asarray(np.where(kept, minus_ln_p, 0.0).sum(axis=1), float)


def log_p_loss(orders: Floats, level_db: Floats) -> Floats:
    """-ln of the one-sided probability of each place's slope, (orders, places).

    A place whose level never changed says nothing: 0.
    """
    free = orders.shape[1] - 2
    slope, error = slopes(orders, level_db)
    with np.errstate(divide="ignore", invalid="ignore"):
        t = np.where(error > 0, slope / error, np.sign(slope) * np.inf)
    minus = np.minimum(-student_t.logcdf(t, free), _MOST)
    return np.where(np.ptp(level_db, axis=0) > 0, minus, 0.0)


def slopes(orders: Floats, level_db: Floats) -> tuple[Floats, Floats]:
    """Least-squares slopes and their standard errors, each (orders, places)."""
    about = orders - orders.mean(axis=1, keepdims=True)
    spread = (about**2).sum(axis=1, keepdims=True)
    rest = level_db - level_db.mean(axis=0)
    slope = np.asarray(about @ rest / spread, float)
    left = np.maximum((rest**2).sum(axis=0) - slope**2 * spread, 0.0)
    left = np.where(left < 1e-12 * np.maximum((rest**2).sum(axis=0), 1e-300), 0.0, left)
    error = np.sqrt(left / (orders.shape[1] - 2) / spread)
    return slope, np.asarray(error, float)


def _trend(times: Floats, level_db: Floats, number: int) -> Trend:
    slope, error = (float(v[0, 0]) for v in slopes(times[None], level_db[:, None]))
    free = len(times) - 2
    half = float(student_t.ppf(0.975, free)) * error
    p = 2 * float(student_t.sf(abs(slope) / error, free)) if error > 0 else float(slope == 0)
    return Trend(
        number=number,
        db_per_year=round(slope, 4),
        interval_db_per_year=(round(slope - half, 4), round(slope + half, 4)),
        over_all_db=round(slope * float(np.ptp(times)), 4),
        p=round(p, 6),
    )
