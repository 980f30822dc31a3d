"""One eye of an exam, ready to become a file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from analysis.export.deviation import Deviation, eye_deviation
from analysis.export.shared import is_screening
from analysis.report.exam import Shown
from analysis.result import EyeResult, PlaceResult
from protocols.errors import InputError
from protocols.field import EYES, Eye


@dataclass(frozen=True)
class MeanLuminance:
    """Luminance of the grey background in cd/m2, and whether it was measured."""

    cd_m2: float
    measured: bool


@dataclass(frozen=True)
class TestedEye:
    """An eye with at least one place tested to its end."""

    shown: Shown
    eye: Eye
    found: EyeResult
    luminance: MeanLuminance

    @property
    def screening(self) -> bool:
        """Whether it was screened rather than measured."""
        return is_screening(self.shown.record)

    @property
    def places(self) -> list[PlaceResult]:
        """The places that came to their end."""
        return [place for place in self.found.places if place.estimate_db is not None]

    @property
    def deviation(self) -> Deviation | None:
        """Deviations from measured people.

        None when screening or unfinished, without people, or where their spread is not known.
        """
        reference = self.shown.result.reference
        if self.screening or reference.synthetic or reference.people < 1:
            return None
        if any(place.limit_db >= place.reference_mean_db for place in self.found.places):
            return None
        return eye_deviation(self.found)


def mean_luminance(shown: Shown, stated_cd_m2: float | None) -> MeanLuminance:
    """The measured luminance, else the stated one; raises InputError without either."""
    measured = shown.result.display.mean_luminance_cd_m2
    if measured is not None:
        return MeanLuminance(measured, measured=True)
    if stated_cd_m2 is None:
        raise InputError(
            f"mean luminance of exam {shown.result.exam.participant}",
            "",
            "a luminance in cd/m2, which DICOM demands; this display was not measured",
            "Run exams on a certified display, or state it: --mean-luminance CD_M2",
        )
    return MeanLuminance(stated_cd_m2, measured=False)


def eyes_tested(shown: Shown, luminance: MeanLuminance) -> Iterator[TestedEye]:
    """The eyes of an exam that have a place to tell of, the right one first."""
    for eye in EYES:
        if eye in shown.result.eyes:
            tested = TestedEye(shown, eye, shown.result.eyes[eye], luminance)
            if tested.places:
                yield tested
