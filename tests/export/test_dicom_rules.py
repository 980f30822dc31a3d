"""Twenty very different exams as DICOM, against the standard's table and a second, strict reader.

Outside truths: PS3.3 A.65 as listed in `opv_attributes.csv`; dciodvfy of dicom3tools (Debian).
"""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest
from opv_rules import problems, rules
from pydicom import dcmread, dcmwrite
from pydicom.dataset import Dataset

from analysis.export.dicom.eye import eyes_tested, mean_luminance
from analysis.export.dicom.objects import perimetry_file
from analysis.report.exam import read_exams

MANY = 20


@pytest.fixture(scope="module")
def files(variety: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A file an eye, by exam and eye."""
    assert len(variety) >= MANY
    folder, made = tmp_path_factory.mktemp("files"), {}
    for name, exam in variety.items():
        [shown] = read_exams([exam], None)
        for tested in eyes_tested(shown, mean_luminance(shown, 50.0)):
            path = made[f"{name} {tested.eye}"] = folder / f"{name}-{tested.eye}.dcm"
            dcmwrite(path, perimetry_file(tested), enforce_file_format=True)
    return made


def test_every_exam_gave_a_file(files: dict[str, Path], variety: dict[str, Path]):
    assert {name.split()[0] for name in files} == set(variety)
    assert len(files) > len(variety)


def test_the_table_is_obeyed(files: dict[str, Path]):
    wrong = {name: found for name, path in files.items() if (found := problems(dcmread(path)))}
    assert not wrong


def test_all_kinds_occur(files: dict[str, Path]):
    """The files differ in what the conditions hang on, so none of them holds by default."""
    read = [dcmread(path) for path in files.values()]
    assert {str(one.TestPointNormalsDataFlag) for one in read} == {"YES", "NO"}
    assert {"ScreeningTestModeCodeSequence" in one for one in read} == {True, False}
    assert {str(one.MeasurementLaterality) for one in read} == {"R", "L"}
    results = {str(p.StimulusResults) for one in read for p in one.VisualFieldTestPointSequence}
    assert results == {"SEEN", "NOT SEEN", "SEEN AT MAX"}
    flags = {str(one.VisualFieldCatchTrialSequence[0].FalseNegativesEstimateFlag) for one in read}
    assert flags == {"YES", "NO"}
    assert min(len(one.VisualFieldTestPointSequence) for one in read) == 1


def dciodvfy(path: Path) -> list[str]:
    """Lines that start with Error; its exit status tells nothing reliable."""
    done = subprocess.run(
        ["dciodvfy", str(path)], capture_output=True, text=True, timeout=60, check=False
    )
    said = (done.stdout + done.stderr).splitlines()
    assert any("Ophthalmic" in line or "PDF" in line for line in said), said
    return [line for line in said if line.startswith("Error")]


needs_dciodvfy = pytest.mark.skipif(
    shutil.which("dciodvfy") is None, reason="needs dciodvfy: apt-get install dicom3tools"
)


@needs_dciodvfy
def test_dciodvfy_finds_no_error(files: dict[str, Path]):
    assert {name: found for name, path in files.items() if (found := dciodvfy(path))} == {}


@needs_dciodvfy
def test_dciodvfy_would_find_one(files: dict[str, Path], tmp_path: Path):
    spoilt = dcmread(next(iter(files.values())))
    del spoilt.BackgroundLuminance
    dcmwrite(tmp_path / "spoilt.dcm", spoilt, enforce_file_format=True)
    assert dciodvfy(tmp_path / "spoilt.dcm")


@pytest.mark.parametrize("name", ["measured right", "screen right", "bayes right"])
def test_the_table_notices_every_missing_attribute(name: str, files: dict[str, Path]):
    """Each attribute at the top that is of type 1 or 2 is taken out of a good file in turn."""
    needed = {rule.keyword for rule in rules()[""] if rule.type in ("1", "2") and rule.usage == "M"}
    missed = []
    for keyword in needed:
        spoilt = dcmread(files[name])
        del spoilt[keyword]
        if not any(found.startswith(f"{keyword}: missing") for found in problems(spoilt)):
            missed.append(keyword)
    assert len(needed) > 30
    assert missed == []


def _unseen(one: Dataset) -> Dataset:
    return next(p for p in one.VisualFieldTestPointSequence if p.StimulusResults == "NOT SEEN")


def _no_sensitivity(one: Dataset) -> None:
    del _unseen(one).SensitivityValue


def _no_mean(one: Dataset) -> None:
    del one.VisualFieldMeanSensitivity


def _no_fixation_count(one: Dataset) -> None:
    del one.FixationSequence[0].PatientNotProperlyFixatedQuantity


def _wrong_vr(one: Dataset) -> None:
    one.add_new("StimulusArea", "DS", "38.5")


def _forbidden(one: Dataset) -> None:
    one.FovealSensitivity = 20.0


def _odd_word(one: Dataset) -> None:
    one.VisualFieldTestPointSequence[0].StimulusResults = "PERHAPS"


def _odd_shape(one: Dataset) -> None:
    one.VisualFieldShape = "DISC"


def _empty_normals(one: Dataset) -> None:
    one.TestPointNormalsSequence = []


def _other_eye(one: Dataset) -> None:
    one.OphthalmicPatientClinicalInformationLeftEyeSequence = (
        one.OphthalmicPatientClinicalInformationRightEyeSequence
    )


def _odd_colour(one: Dataset) -> None:
    one.StimulusColorCodeSequence[0].CodeValue = "1234"


def _two_colours(one: Dataset) -> None:
    one.StimulusColorCodeSequence = list(one.StimulusColorCodeSequence) * 2


def _empty_serial(one: Dataset) -> None:
    one.DeviceSerialNumber = ""


def _not_a_number(one: Dataset) -> None:
    one.MinimumSensitivityValue = float("nan")


def _stranger(one: Dataset) -> None:
    one.InstitutionName = "Somewhere"


SPOILERS = {
    _no_sensitivity: "SensitivityValue: missing, type 1C",
    _no_mean: "VisualFieldMeanSensitivity: missing, type 1C",
    _no_fixation_count: "PatientNotProperlyFixatedQuantity: missing, type 1C",
    _wrong_vr: "StimulusArea: VR DS, not FL",
    _forbidden: "FovealSensitivity: must be absent",
    _odd_word: "StimulusResults: 'PERHAPS' is not one of",
    _odd_shape: "VisualFieldShape: 'DISC' is not one of",
    _empty_normals: "TestPointNormalsSequence: empty, type 1C",
    _other_eye: "OphthalmicPatientClinicalInformationLeftEyeSequence: must be absent",
    _odd_colour: "StimulusColorCodeSequence: ('1234', 'SCT') is not in CID 4255",
    _two_colours: "StimulusColorCodeSequence: 2 items, not one",
    _empty_serial: "DeviceSerialNumber: empty, type 1",
    _not_a_number: "MinimumSensitivityValue: not a number",
    _stranger: "InstitutionName: not in the table under the root",
}


@pytest.mark.parametrize("spoil", SPOILERS, ids=lambda spoil: spoil.__name__)
def test_the_table_notices(spoil, files: dict[str, Path]):
    """What the second reader lets pass, and more, in a file compared with measured people."""
    one = dcmread(files["measured right"])
    spoil(one)
    assert any(found.startswith(SPOILERS[spoil]) for found in problems(one)), problems(one)


def test_screening_needs_its_mode(files: dict[str, Path]):
    one = dcmread(files["screen right"])
    del one.ScreeningTestModeCodeSequence
    assert "ScreeningTestModeCodeSequence: missing, type 1C" in problems(one)


