"""From a healthy sample to a reference file with statements of how sure its limits are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import msgspec
import numpy as np

from analysis.measured import Depth, Measured, MeasuredPlace, Tolerance
from analysis.reference import LIMIT_SHARE, ReferenceFile
from analysis.reference_build.fit import METHOD, POOLING, Fit, fit_levels
from analysis.reference_build.left_out import Watch, left_out_below
from analysis.reference_build.outliers import Outlier, outliers
from analysis.reference_build.sample import Facts, Sample
from analysis.reference_build.tolerance import (
    CONFIDENCE,
    at_most_share,
    clustered_share,
    wilks_content,
    wilks_people,
)
from protocols.errors import InputError
from protocols.field import Floats, Place
from protocols.files import convert
from protocols.procedures.interface import Bools

LEAST_PEOPLE = wilks_people(0.95)
"""Below this not even a 5 % limit can be stated with 95 % confidence (Wilks 1941): 59 people."""
LEAST_AGE_SPAN = 10
STATED_SHARES = (LIMIT_SHARE, 0.05)
"""Shares whose limits get a tolerance statement and a leave-one-out check."""


@dataclass(frozen=True)
class Built:
    """A new reference with all that its page shows.

    `below` says which levels lie below the limits of `STATED_SHARES` when their person is left
    out of the fit, (shares, people, eyes, places).
    """

    file: ReferenceFile
    sample: Sample
    facts: Facts
    fit: Fit
    below: Bools
    outliers: tuple[Outlier, ...]

    def limits_db(self, age_years: Sequence[float]) -> Floats:
        """The 1 % limits at these ages, (ages, places)."""
        ages = np.array(age_years)
        return self.fit.levels_db(ages, self.sample.eccentricity_deg, LIMIT_SHARE)


def build_reference(
    sample: Sample, facts: Facts, name: str, watch: Watch = lambda done, total: None
) -> Built:
    """Build it; raises InputError for too few people or too narrow a range of ages."""
    require_enough(sample)
    fit = fit_levels(sample)
    below = left_out_below(sample, fit, STATED_SHARES, watch)
    odd = outliers(sample, fit)
    file = _file(sample, facts, fit, name, _measured(sample, facts, fit, below, odd))
    _require_readable(file)
    return Built(file, sample, facts, fit, below, odd)


def require_enough(sample: Sample) -> None:
    """Raise InputError unless there are people enough, of ages enough, at every place."""
    people = int(sample.known.any(axis=1).sum(axis=0).min()) if len(sample) else 0
    if people < LEAST_PEOPLE:
        raise InputError(
            "DIR",
            f"{people} healthy people with a complete eye",
            f"{LEAST_PEOPLE} or more; with fewer not even a 5 % limit is 95 % sure (Wilks 1941), "
            f"and a 1 % limit that leans on no other place takes {wilks_people(0.99)}",
            f"Examine {LEAST_PEOPLE - people} more.",
        )
    span = float(np.ptp(sample.age_years))
    if span < LEAST_AGE_SPAN:
        raise InputError(
            "DIR", f"people whose ages span {span:g} years", f"{LEAST_AGE_SPAN} years or more",
            "Examine younger or older people too; a change with age cannot be told from these.",
        )  # fmt: skip


def _require_spread(place: Place, spread_db: float) -> None:
    """A place where everybody has the same level has no limit that a share of them lies below."""
    if round(spread_db, 4) == 0:
        raise InputError(
            "DIR", f"the same level of all people at x {place.x_deg:g}, y {place.y_deg:g} degrees",
            "levels that differ between people", "Look whether the display or the protocol keeps "
            "everybody at its end there; no age limit can be told from these.",
        )  # fmt: skip


def _require_readable(file: ReferenceFile) -> None:
    """Levels far from any that a reference may hold are told before it is written."""
    try:
        convert(ReferenceFile, msgspec.to_builtins(file), "the reference of these exams")
    except InputError as error:
        raise InputError(
            error.parameter, error.given, error.allowed,
            "Look whether all these exams are of healthy people under one display.",
        ) from None  # fmt: skip


def tolerance(sample: Sample, share: float, left_out: Bools) -> Tolerance:
    """What the limit of a share is worth: who lies below it, each person left out of the fit.

    Counts of those in the fit would flatter it: their share is always the one asked for.
    """
    counts = (left_out & sample.known).sum(axis=(1, 2)).astype(float)
    found = clustered_share(counts, sample.known.sum(axis=(1, 2)).astype(float))
    return Tolerance(
        share=share,
        left_out=round(found.share, 5),
        interval=(round(found.low, 5), round(found.high, 5)),
    )


def _measured(
    sample: Sample, facts: Facts, fit: Fit, below: Bools, odd: Sequence[Outlier]
) -> Measured:
    return Measured(
        method=METHOD,
        pooling=POOLING,
        protocol=facts.protocol,
        protocol_sha256=facts.protocol_sha256,
        procedure=facts.procedure,
        pattern=facts.pattern,
        exams=facts.exams,
        eyes=sample.eyes,
        uncalibrated=facts.uncalibrated,
        confidence=CONFIDENCE,
        middle_age_years=fit.middle_age_years,
        middle_eccentricity_deg=round(fit.middle_eccentricity_deg, 6),
        wilks_content=round(wilks_content(len(sample)), 5),
        outliers=[one.code for one in odd],
        places=[_place(sample, fit, below[0], number) for number in range(len(sample.places))],
        depths=_ordered(fit.depths),
        tolerances=[
            tolerance(sample, share, below[k]) for k, share in enumerate(STATED_SHARES)
        ],
    )


def _ordered(depths: Sequence[Depth]) -> list[Depth]:
    return sorted(depths, key=lambda depth: depth.share)


def _place(sample: Sample, fit: Fit, below: Bools, number: int) -> MeasuredPlace:
    place, known = sample.places[number], sample.known[:, :, number]
    medians = fit.medians_db(sample.age_years)[:, number, None]
    rest = (sample.level_db[:, :, number] - medians)[known]
    spread, people = float(rest.std(ddof=1)), int(known.any(axis=1).sum())
    _require_spread(place, spread)
    middle = np.array([fit.middle_age_years])
    limit = fit.levels_db(middle, sample.eccentricity_deg, LIMIT_SHARE)[0, number]
    factor = float(fit.median_db[number] - limit) / spread
    return MeasuredPlace(
        x_deg=round(place.x_deg, 6),
        y_deg=round(place.y_deg, 6),
        median_db=round(float(fit.median_db[number]), 4),
        change_db_per_year=round(float(fit.change_db_per_year[number]), 6),
        spread_db=round(spread, 4),
        people=people,
        left_out_below=round(float(below[:, :, number][known].mean()), 5),
        at_most_share=round(at_most_share(people, factor), 5),
    )


def _file(
    sample: Sample, facts: Facts, fit: Fit, name: str, measured: Measured
) -> ReferenceFile:
    centre, fall, loss = _trend(sample, fit)
    rest = sample.level_db - fit.medians_db(sample.age_years)[:, None, :]
    return ReferenceFile(
        format=1,
        name=name,
        about=_about(sample, facts),
        notice=_notice(sample, facts),
        synthetic=facts.simulated,
        people=len(sample),
        from_age_years=int(np.ceil(sample.age_years.min())),
        to_age_years=int(np.floor(sample.age_years.max())),
        centre_db=round(centre, 4),
        fall_db_per_deg=round(fall, 5),
        loss_db_per_year=round(loss, 5),
        spread_db=round(float(np.nanstd(rest, ddof=1)), 4),
        measured=measured,
    )


def _trend(sample: Sample, fit: Fit) -> tuple[float, float, float]:
    """Centre at 20 years, fall a degree and loss a year: the medians in three numbers."""
    at_twenty = fit.medians_db(np.array([20.0]))[0]
    away: Floats = sample.eccentricity_deg
    line = np.column_stack([np.ones_like(away), away])
    centre, slope = np.linalg.lstsq(line, at_twenty, rcond=None)[0]
    return float(centre), float(-slope), float(-fit.change_db_per_year.mean())


def _about(sample: Sample, facts: Facts) -> str:
    kind = "simulated" if facts.simulated else "healthy"
    return (
        f"Age limits from {len(sample)} {kind} people, {sample.eyes} eyes, {facts.exams} exams "
        f"under {facts.protocol}. Levels in delivered contrast dB."
    )


def _notice(sample: Sample, facts: Facts) -> str:
    if facts.simulated:
        return (
            f"SYNTHETIC REFERENCE: made of {facts.exams} simulated exams, no person was measured. "
            "Do not draw conclusions."
        )
    text = f"Research reference of {len(sample)} people of one laboratory, not a standard."
    if facts.uncalibrated:
        return f"{text} {facts.uncalibrated} of {facts.exams} exams had an uncalibrated display."
    return text
