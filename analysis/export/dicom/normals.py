"""Comparison with people of the same age, where a reference of measured people was used.

A synthetic reference is no norm: then every flag says NO and nothing is compared.
"""

from __future__ import annotations

from pydicom.dataset import Dataset
from scipy.special import ndtr, ndtri

from analysis.export.deviation import place_deviation_db
from analysis.export.dicom.build import item, own_code
from analysis.export.dicom.eye import TestedEye
from analysis.reference import LIMIT_SHARE
from analysis.result import PlaceResult


def add_test_normals(made: Dataset, tested: TestedEye) -> None:
    """Flag, data set and algorithms of the comparison place by place."""
    if tested.deviation is None:
        made.TestPointNormalsDataFlag = "NO"
        return
    made.TestPointNormalsDataFlag = "YES"
    made.TestPointNormalsSequence = [_data_set(tested)]
    made.AgeCorrectedSensitivityDeviationAlgorithmSequence = [_algorithm(tested)]
    made.GeneralizedDefectSensitivityDeviationAlgorithmSequence = [_algorithm(tested)]


def add_place_normals(made: Dataset, tested: TestedEye, place: PlaceResult) -> None:
    """Deviation of a place from the mean of its age, and the share of people with a lower one.

    The share is that of a normal distribution through the reference's mean and its limit.
    """
    value = place_deviation_db(place)
    if tested.deviation is None or value is None:
        return
    spread = (place.limit_db - place.reference_mean_db) / float(ndtri(LIMIT_SHARE))
    made.VisualFieldTestPointNormalsSequence = [
        item(
            AgeCorrectedSensitivityDeviationValue=value,
            AgeCorrectedSensitivityDeviationProbabilityValue=100 * float(ndtr(value / spread)),
            GeneralizedDefectCorrectedSensitivityDeviationFlag="NO",
        )
    ]


def add_result_normals(made: Dataset, tested: TestedEye) -> None:
    """Mean and pattern of the deviations, without probabilities: none are known for them."""
    deviation = tested.deviation
    made.VisualFieldTestNormalsFlag = "NO" if deviation is None else "YES"
    if deviation is not None:
        made.ResultsNormalsSequence = [_data_set(tested)]
        made.ResultsNormalsSequence[0].update(
            item(
                GlobalDeviationFromNormal=deviation.mean_db,
                GlobalDeviationProbabilityNormalsFlag="NO",
                LocalizedDeviationFromNormal=deviation.pattern_db,
                LocalDeviationProbabilityNormalsFlag="NO",
            )
        )


def _data_set(tested: TestedEye) -> Dataset:
    reference = tested.shown.result.reference
    return item(
        DataSetName=f"age reference {reference.sha256[:16]}",
        DataSetVersion=reference.sha256[:16],
        DataSetSource="a laboratory's own measurements",
        DataSetDescription=f"{reference.people} people measured",
    )


def _algorithm(tested: TestedEye) -> Dataset:
    return item(
        AlgorithmFamilyCodeSequence=[own_code("AGEMEAN", "Deviation from the mean of an age")],
        AlgorithmName="expected sensitivity less mean of age and place",
        AlgorithmVersion=tested.shown.result.versions["ripplefield"],
    )
