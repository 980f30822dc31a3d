"""The indices of an eye, from its answers: every number with its interval."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from math import log
from typing import NamedTuple

import numpy as np
from scipy.special import ndtri

from analysis.flips import sign_flip
from analysis.indices.calibration import p_of
from analysis.indices.facts import Halves, Index, Indices, Sector, WholeField
from analysis.indices.joint import BEARING, field_draws
from analysis.indices.likelihood import USUAL, Slips, curves, heard, scaled
from analysis.indices.model import SHARED
from analysis.indices.quantiles import row_quantiles
from analysis.indices.ratio import log_ratios
from analysis.indices.sectors import SectorPlaces, mirrored_pairs, sectors
from analysis.multiplicity import FALSE_DISCOVERY_RATE, WARY, discoveries, evidence
from protocols.field import Floats
from protocols.library import Protocol
from protocols.procedures.interface import Bools, Ints

GENERAL_PERCENTILE = 75
"""The general level is the deviation that a quarter of the places exceed: high, so that loss in

part of a field does not move it; less where the spread from place to place alone puts that
percentile, so that it is 0 for a field at the reference mean. Which percentile is our choice.
"""
ASSUMPTIONS = (
    "Deviations are from the reference mean of that age; what lies below full contrast counts as "
    "full contrast. Half of the variance between healthy "
    "people is taken to be common to all places of a field. Intervals are 95 %, from 1000 fields "
    "drawn from what the answers leave open. The spread of deviations (SD) has in it what the "
    "answers leave open at each place: it lies above the true one, most where places had few "
    "answers, and its interval need not hold that. Sectors follow an assumed course of nerve "
    "fibres."
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
        noticed = self._widening if slips.widens else self._even
        return scaled(heard(noticed, self.level_db, self.seen, slips))

    @cached_property
    def _even(self) -> Floats:
        return curves(self.level_db, self.means_db, widens=False)

    @cached_property
    def _widening(self) -> Floats:
        return curves(self.level_db, self.means_db, widens=True)


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
    p = evidence(answers.likelihoods(WARY), answers.spread_db)[tested]
    stands = discoveries(p)
    layout = _layout(tested, protocol)
    columns = _columns(drawn, layout, answers.spread_db)
    at = dict(zip(columns, _indices(columns.values()), strict=True))
    by_place = {
        int(number): PlaceIndex(
            at["place", number], at["pattern", number], round(float(p[k]), 6), bool(stands[k])
        )
        for k, number in enumerate(tested)
    }
    found = Indices(
        places=len(tested),
        mean_deviation=at["mean", ""],
        deviation_sd=at["sd", ""],
        general_level=at["level", ""],
        general_percentile=GENERAL_PERCENTILE,
        whole_field=whole_field(answers, protocol),
        halves=_halves(drawn, layout, at),
        sectors=_sectors(layout, at),
        false_discovery_rate=FALSE_DISCOVERY_RATE,
        standing=int(stands.sum()),
        assumptions=ASSUMPTIONS,
    )
    return found, by_place


Name = tuple[str, object]
"""What an index is of: a kind, and which place or sector of that kind."""


class _Layout(NamedTuple):
    """Numbers of tested places, of upper ones and those that mirror them, and their sectors."""

    tested: Ints
    upper: list[int]
    lower: list[int]
    sectors: list[SectorPlaces]


def _layout(tested: Ints, protocol: Protocol) -> _Layout:
    """What is known of the tested places; sectors that have any."""
    done, places = set(tested.tolist()), protocol.pattern.places
    pairs = [pair for pair in mirrored_pairs(places) if done.issuperset(pair)]
    here = [
        SectorPlaces(one.name, tuple(n for n in one.places if n in done), one.mirrored)
        for one in sectors(places)
    ]
    return _Layout(
        tested,
        [upper for upper, _ in pairs],
        [lower for _, lower in pairs],
        [one for one in here if one.places],
    )


def _columns(drawn: Floats, layout: _Layout, spread_db: float) -> dict[Name, Floats]:
    """Draws of everything an index is given of, each (draws,)."""
    of_tested = drawn[:, layout.tested]
    level = _general_level(of_tested, spread_db)
    columns: dict[Name, Floats] = {
        ("mean", ""): of_tested.mean(axis=1),
        ("sd", ""): of_tested.std(axis=1),
        ("level", ""): level,
    }
    columns |= {("place", n): drawn[:, n] for n in layout.tested}
    columns |= {("pattern", n): drawn[:, n] - level for n in layout.tested}
    if layout.upper:
        columns["halves", ""] = _across(drawn, layout).mean(axis=1)
    means = {one.name: drawn[:, list(one.places)].mean(axis=1) for one in layout.sectors}
    columns |= {("sector", name): mean for name, mean in means.items()}
    columns |= {
        ("across", one.name): means[one.name] - means[one.mirrored]
        for one in layout.sectors
        if one.name.startswith("upper") and one.mirrored in means
    }
    return columns


def _across(drawn: Floats, layout: _Layout) -> Floats:
    """Upper less lower places, (draws, pairs)."""
    return np.asarray(drawn[:, layout.upper] - drawn[:, layout.lower])


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
    return np.asarray(row_quantiles(drawn, [GENERAL_PERCENTILE / 100])[0] - usual)


def _halves(drawn: Floats, layout: _Layout, at: Mapping[Name, Index]) -> Halves | None:
    if not layout.upper:
        return None
    p = sign_flip(_across(drawn, layout).mean(axis=0)).p
    return Halves(len(layout.upper), at["halves", ""], round(p, 6))


def _sectors(layout: _Layout, at: Mapping[Name, Index]) -> list[Sector]:
    return [
        Sector(
            one.name, list(one.places), at["sector", one.name], at.get(("across", one.name))
        )
        for one in layout.sectors
    ]


def _indices(columns: Iterable[Floats]) -> list[Index]:
    """Of each column of draws."""
    rows = np.stack(list(columns))
    low, high = row_quantiles(rows, [0.025, 0.975])
    found = np.stack([rows.mean(axis=1), low, high], axis=1).round(2) + 0.0
    return [Index(middle, (bottom, top)) for middle, bottom, top in found.tolist()]
