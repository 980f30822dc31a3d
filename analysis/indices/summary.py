"""The indices of an eye, from its answers: every number with its interval."""

from __future__ import annotations

from dataclasses import dataclass
from math import log

import numpy as np
from scipy.special import ndtri

from analysis.flips import sign_flip
from analysis.indices.calibration import p_of
from analysis.indices.facts import Halves, Index, Indices, Sector, WholeField
from analysis.indices.joint import BEARING, field_draws
from analysis.indices.likelihood import USUAL, Slips, likelihoods
from analysis.indices.model import SHARED
from analysis.indices.ratio import log_ratios
from analysis.indices.sectors import SectorPlaces, mirrored_pairs, sectors
from analysis.multiplicity import FALSE_DISCOVERY_RATE, WARY, discoveries, evidence
from protocols.field import Floats
from protocols.library import Protocol
from protocols.procedures.interface import Bools

GENERAL_PERCENTILE = 75
"""The general level is the deviation that a quarter of the places exceed: high, so that loss in

part of a field does not move it; less where the spread from place to place alone puts that
percentile, so that it is 0 for a field at the reference mean. Which percentile is our choice.
"""
ASSUMPTIONS = (
    "Deviations are from the reference mean of that age; what lies below full contrast counts as "
    "full contrast. Half of the variance between healthy "
    "people is taken to be common to all places of a field. Intervals are 95 %, from 1000 fields "
    "drawn from what the answers leave open. Sectors follow an assumed course of nerve fibres."
)


@dataclass(frozen=True)
class Answers:
    """Answers at the places of an eye, in the pattern's order for a right eye.

    Delivered levels (places, trials), not a number where there is none; seen; reference means
    (places,); which places were tested to the end (places,); full contrast, delivered dB.
    """

    level_db: Floats
    seen: Bools
    means_db: Floats
    finished: Bools
    spread_db: float
    floor_db: float

    def likelihoods(self, slips: Slips = USUAL) -> Floats:
        """Likelihoods (places, points)."""
        return likelihoods(self.level_db, self.seen, self.means_db, slips)


@dataclass(frozen=True)
class PlaceIndex:
    """Of one tested place: deviation, pattern deviation, evidence, whether it stands."""

    deviation: Index
    pattern: Index
    evidence: float
    stands: bool


def indices(answers: Answers, protocol: Protocol) -> tuple[Indices, dict[int, PlaceIndex]]:
    """Indices of an eye and of each tested place by number; at least one place was tested."""
    tested = np.flatnonzero(answers.finished)
    drawn = field_draws(
        answers.likelihoods(BEARING), answers.means_db, answers.spread_db, answers.floor_db
    )
    level = _general_level(drawn[:, tested], answers.spread_db)
    p = evidence(answers.likelihoods(WARY), answers.spread_db)[tested]
    stands = discoveries(p)
    deviation = _indices(drawn[:, tested])
    pattern = _indices(drawn[:, tested] - level[:, None])
    by_place = {
        int(number): PlaceIndex(
            deviation[k], pattern[k], round(float(p[k]), 6), bool(stands[k])
        )
        for k, number in enumerate(tested)
    }
    found = Indices(
        places=len(tested),
        mean_deviation=_index(drawn[:, tested].mean(axis=1)),
        deviation_sd=_index(drawn[:, tested].std(axis=1)),
        general_level=_index(level),
        general_percentile=GENERAL_PERCENTILE,
        whole_field=whole_field(answers, protocol),
        halves=_halves(drawn, tested, protocol),
        sectors=_sectors(drawn, tested, protocol),
        false_discovery_rate=FALSE_DISCOVERY_RATE,
        standing=int(stands.sum()),
        assumptions=ASSUMPTIONS,
    )
    return found, by_place


def whole_field(answers: Answers, protocol: Protocol) -> WholeField:
    """The whole-field test; places not tested to the end speak with the answers they have."""
    likelihood = answers.likelihoods()[None]
    ratio = float(log_ratios(likelihood, protocol.pattern.places, answers.spread_db)[0])
    p, calibrated = p_of(ratio, protocol)
    return WholeField(round(ratio / log(10), 4), round(p, 6), calibrated, _words(p, calibrated))


def _words(p: float, calibrated: bool) -> str:
    share = "under 0.1 %" if p < 0.00101 else f"{100 * p:.2g} %"
    if not calibrated:
        share = f"at most {share}"
    odd = "as unlike the reference as this"
    if p > 0.5:
        return f"more than half of simulated fields without loss are {odd}"
    source = "simulated fields without loss" if calibrated else "fields without loss, by a bound,"
    return f"{share} of {source} are {odd}"


def _general_level(drawn: Floats, spread_db: float) -> Floats:
    """Of each draw, (draws,): the percentile over places, less where health alone puts it."""
    usual = np.sqrt(1 - SHARED) * spread_db * ndtri(GENERAL_PERCENTILE / 100)
    return np.asarray(np.percentile(drawn, GENERAL_PERCENTILE, axis=1) - usual)


def _halves(drawn: Floats, tested: np.ndarray, protocol: Protocol) -> Halves | None:
    done = set(tested.tolist())
    pairs = [pair for pair in mirrored_pairs(protocol.pattern.places) if done.issuperset(pair)]
    if not pairs:
        return None
    upper, lower = (list(side) for side in zip(*pairs, strict=True))
    differences = drawn[:, upper] - drawn[:, lower]
    p = sign_flip(differences.mean(axis=0)).p
    return Halves(len(pairs), _index(differences.mean(axis=1)), round(p, 6))


def _sectors(drawn: Floats, tested: np.ndarray, protocol: Protocol) -> list[Sector]:
    done = set(tested.tolist())
    found = [
        SectorPlaces(one.name, tuple(n for n in one.places if n in done), one.mirrored)
        for one in sectors(protocol.pattern.places)
    ]
    means = {one.name: drawn[:, list(one.places)].mean(axis=1) for one in found if one.places}
    return [_sector(one, means) for one in found if one.places]


def _sector(one: SectorPlaces, means: dict[str, Floats]) -> Sector:
    across = means.get(one.mirrored) if one.name.startswith("upper") else None
    difference = None if across is None else _index(means[one.name] - across)
    return Sector(one.name, list(one.places), _index(means[one.name]), difference)


def _index(drawn: Floats) -> Index:
    return _indices(drawn[:, None])[0]


def _indices(drawn: Floats) -> list[Index]:
    """Of each column of draws."""
    ends = np.quantile(drawn, [0.025, 0.975], axis=0)
    rows = np.stack([drawn.mean(axis=0), *ends], axis=1).round(2) + 0.0
    return [Index(middle, (low, high)) for middle, low, high in rows.tolist()]
