"""Measurements and results of a perimetry file: the places with what was seen there."""

from __future__ import annotations

import statistics

from pydicom.dataset import Dataset

from analysis.export.dicom.build import item
from analysis.export.dicom.eye import TestedEye
from analysis.export.dicom.normals import add_place_normals, add_result_normals, add_test_normals
from analysis.result import PlaceResult

ABOVE_FULL_DB = 1e-3
"""A level this far above the display's full contrast was not full contrast (levels are rounded)."""


def add_measurements(made: Dataset, tested: TestedEye) -> None:
    """Visual Field Static Perimetry Test Measurements.

    The centre's patch is wider than the fovea, so no foveal sensitivity is told; the blind spot is
    taken where it usually lies, so it is not localised.
    """
    made.MeasurementLaterality = "R" if tested.eye == "right" else "L"
    made.PresentedVisualStimuliDataFlag = "YES"
    made.NumberOfVisualStimuli = tested.found.presentations
    made.VisualFieldTestDuration = tested.found.seconds
    made.FovealSensitivityMeasured = "NO"
    made.FovealPointNormativeDataFlag = "NO"
    made.ScreeningBaselineMeasured = "NO"
    made.BlindSpotLocalized = "NO"
    made.MinimumSensitivityValue = tested.shown.result.display.full_contrast_delivered_db
    made.VisualFieldTestPointSequence = [_point(tested, place) for place in tested.places]
    add_test_normals(made, tested)


def add_results(made: Dataset, tested: TestedEye) -> None:
    """Visual Field Static Perimetry Test Results."""
    if not tested.screening:
        estimates = [place.estimate_db for place in tested.places if place.estimate_db is not None]
        made.VisualFieldMeanSensitivity = statistics.fmean(estimates)
    add_result_normals(made, tested)
    made.ShortTermFluctuationCalculated = "NO"
    made.ShortTermFluctuationProbabilityCalculated = "NO"
    made.CorrectedLocalizedDeviationFromNormalCalculated = "NO"
    made.CorrectedLocalizedDeviationFromNormalProbabilityCalculated = "NO"


def add_lens(made: Dataset, tested: TestedEye) -> None:
    """Ophthalmic Patient Clinical Information and Test Lens Parameters: nothing is recorded."""
    unknown = item(RefractiveParametersUsedOnPatientSequence=[], PupilSize=None, PupilDilated="")
    if tested.eye == "right":
        made.OphthalmicPatientClinicalInformationRightEyeSequence = [unknown]
    else:
        made.OphthalmicPatientClinicalInformationLeftEyeSequence = [unknown]


def _point(tested: TestedEye, place: PlaceResult) -> Dataset:
    full_db = tested.shown.result.display.full_contrast_delivered_db
    made = item(
        VisualFieldTestPointXCoordinate=place.x_deg,
        VisualFieldTestPointYCoordinate=place.y_deg,
        StimulusResults=_seen(place, full_db),
    )
    sensitivity = _faintest_seen_db(place) if tested.screening else place.estimate_db
    if sensitivity is not None:
        made.SensitivityValue = sensitivity
    if tested.screening and place.tries > 1:
        made.RetestStimulusSeen = "YES" if place.seen else "NO"
    add_place_normals(made, tested, place)
    return made


def _faintest_seen_db(place: PlaceResult) -> float | None:
    levels = [one.level_db for one in place.answers if one.seen and one.role == "place"]
    return max(levels, default=None)


def _seen(place: PlaceResult, full_contrast_db: float) -> str:
    faintest = _faintest_seen_db(place)
    if faintest is None:
        return "NOT SEEN"
    return "SEEN" if faintest > full_contrast_db + ABOVE_FULL_DB else "SEEN AT MAX"
