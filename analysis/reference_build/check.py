"""Does a reference hold for a new healthy sample? Counts below its limits, with intervals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.measured import Measured, Tolerance
from analysis.reference import Reference, quantile_db
from analysis.reference_build.sample import Facts, Sample
from analysis.reference_build.tolerance import clustered_share
from protocols.errors import InputError
from protocols.field import EYES, Floats, for_eye

LEAST_PEOPLE = 10
"""With fewer the interval of a 1 % limit reaches beyond 30 %: nothing could ever be found bad."""


@dataclass(frozen=True)
class Finding:
    """One limit against the new sample: share below with interval, and what the file states."""

    share: float
    below: int
    places: int
    people: int
    rate: float
    interval: tuple[float, float]
    stated: tuple[float, float]

    @property
    def holds(self) -> bool:
        """Whether the interval meets what the file states."""
        return self.interval[1] >= self.stated[0] and self.interval[0] <= self.stated[1]


@dataclass(frozen=True)
class Checked:
    """All limits that the file makes a statement of."""

    people: int
    eyes: int
    findings: tuple[Finding, ...]

    @property
    def holds(self) -> bool:
        """Whether every limit holds."""
        return all(one.holds for one in self.findings)


def check_reference(reference: Reference, sample: Sample, facts: Facts) -> Checked:
    """Count a new healthy sample below the limits of a measured reference.

    Raises InputError for a reference that was not measured, another protocol, ages outside the
    reference, or fewer than ten people.
    """
    measured = _measured(reference)
    if facts.protocol_sha256 != measured.protocol_sha256:
        raise InputError(
            "DIR", f"exams under {facts.protocol}, not the same file",
            f"exams under {measured.protocol}, the protocol the reference was measured with",
            "Examine the new people under that protocol.",
        )  # fmt: skip
    if len(sample) < LEAST_PEOPLE:
        raise InputError(
            "DIR", f"{len(sample)} people", f"{LEAST_PEOPLE} or more",
            f"Examine {LEAST_PEOPLE - len(sample)} more.",
        )  # fmt: skip
    _require_ages(reference, sample)
    findings = tuple(_finding(reference, sample, one) for one in measured.tolerances)
    return Checked(len(sample), sample.eyes, findings)


def _measured(reference: Reference) -> Measured:
    measured = reference.file.measured
    if measured is None:
        raise InputError(
            "reference", reference.file.name, "a reference that was measured",
            "Make one with: ripplefield reference build",
        )  # fmt: skip
    return measured


def _require_ages(reference: Reference, sample: Sample) -> None:
    low, high = reference.file.from_age_years, reference.file.to_age_years
    for code, age in zip(sample.codes, sample.age_years.tolist(), strict=True):
        if not low <= age <= high:
            raise InputError(
                "DIR", f"{code}, {age:g} years old",
                f"people of {low} to {high} years, the ages of {reference.file.name}",
                "Leave their exam out; the reference says nothing of that age.",
            )  # fmt: skip


def _finding(reference: Reference, sample: Sample, stated: Tolerance) -> Finding:
    below = (sample.level_db < _limits(reference, sample, stated.share)) & sample.known
    counts = below.sum(axis=(1, 2)).astype(float)
    found = clustered_share(counts, sample.known.sum(axis=(1, 2)).astype(float))
    return Finding(
        share=stated.share,
        below=int(below.sum()),
        places=int(sample.known.sum()),
        people=len(sample),
        rate=found.share,
        interval=(found.low, found.high),
        stated=stated.interval,
    )


def _limits(reference: Reference, sample: Sample, share: float) -> Floats:
    """Limits of each person, (people, eyes, places)."""
    places = {eye: [for_eye(place, eye) for place in sample.places] for eye in EYES}
    rows = [
        [quantile_db(reference, places[eye], int(age), share, eye) for eye in EYES]
        for age in sample.age_years
    ]
    return np.array(rows)
