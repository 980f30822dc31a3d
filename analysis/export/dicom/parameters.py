"""Test parameters and reliability of a perimetry file."""

from __future__ import annotations

import math

from pydicom.dataset import Dataset

from analysis.export.dicom.build import code, item
from analysis.export.dicom.eye import TestedEye
from analysis.result import Rate


def add_parameters(made: Dataset, tested: TestedEye) -> None:
    """Visual Field Static Perimetry Test Parameters.

    The extent is the least disc about fixation that holds every patch. The greatest luminance is
    that of a bar at full contrast, L0 * (1 + greatest contrast); the area is the whole patch's.
    """
    record = tested.shown.record
    stimulus = record.protocol.settings.stimulus
    reach = max(place.eccentricity_deg for place in record.protocol.pattern.places)
    extent = 2 * (reach + stimulus.outer_radius_deg)
    white = code("371251000", "SCT", "White")
    mean = tested.luminance.cd_m2
    made.VisualFieldHorizontalExtent = extent
    made.VisualFieldVerticalExtent = extent
    made.VisualFieldShape = "CIRCLE"
    if tested.screening:
        made.ScreeningTestModeCodeSequence = [code("111838", "DCM", "Age corrected")]
    made.MaximumStimulusLuminance = mean * (1 + record.display.greatest_contrast)
    made.BackgroundLuminance = mean
    made.StimulusColorCodeSequence = [white]
    made.BackgroundIlluminationColorCodeSequence = [white]
    made.StimulusArea = math.pi * stimulus.outer_radius_deg**2
    made.StimulusPresentationTime = 1000 * stimulus.duration_s


def add_reliability(made: Dataset, tested: TestedEye) -> None:
    """Visual Field Static Perimetry Test Reliability: counts; what is too many is not said."""
    made.FixationSequence = [_fixation(tested.found.reliability.fixation)]
    made.VisualFieldCatchTrialSequence = [_catch_trials(tested)]
    made.CommentsOnPatientPerformanceOfVisualField = tested.found.sentence


def _fixation(rate: Rate) -> Dataset:
    return item(
        FixationMonitoringCodeSequence=[code("111844", "DCM", "Blind Spot Monitoring")],
        FixationCheckedQuantity=rate.shown,
        PatientNotProperlyFixatedQuantity=rate.wrong,
        ExcessiveFixationLossesDataFlag="NO",
    )


def _catch_trials(tested: TestedEye) -> Dataset:
    rates = tested.found.reliability
    missed, false = rates.false_negative, rates.false_positive
    made = item(
        CatchTrialsDataFlag="YES",
        NegativeCatchTrialsQuantity=missed.shown,
        FalseNegativesQuantity=missed.wrong,
        FalseNegativesEstimateFlag=_yes_no(missed.rate is not None),
        ExcessiveFalseNegativesDataFlag="NO",
        PositiveCatchTrialsQuantity=false.shown,
        FalsePositivesQuantity=false.wrong,
        FalsePositivesEstimateFlag=_yes_no(false.rate is not None),
        ExcessiveFalsePositivesDataFlag="NO",
    )
    if missed.rate is not None:
        made.FalseNegativesEstimate = 100 * missed.rate
    if false.rate is not None:
        made.FalsePositivesEstimate = 100 * false.rate
    return made


def _yes_no(value: bool) -> str:
    return "YES" if value else "NO"
