"""What DICOM files say: the same as the result, cautions first, nobody's name, the sheet beside."""

from __future__ import annotations

import io
import shutil
import subprocess
from pathlib import Path

import pytest
from export_rigs import both, in_a_window, of_person, recast, said
from pydicom import Dataset, dcmread
from scipy.stats import norm
from test_dicom_rules import dciodvfy, needs_dciodvfy

from analysis.export.dicom.write import export_dicom
from analysis.export.shared import CAUTION
from analysis.grade import grade_folder
from analysis.result import Result
from protocols import RESEARCH_ONLY


def quiet(done: int, total: int) -> None:
    """No bar."""


@pytest.fixture(scope="module")
def exported(variety: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Files of three exams of three participants, by their names."""
    folder = tmp_path_factory.mktemp("dicom")
    exams = {"measured": "P-10", "screen": "P-11", "stopped-early": "P-12"}
    made = [
        recast(variety[name], folder / name, of_person(code, day))
        for day, (name, code) in enumerate(exams.items())
    ]
    files = export_dicom(made, folder / "out", quiet, 50.0)
    assert sorted(files) == sorted((folder / "out").iterdir())
    return {path.name: path for path in files} | {name: folder / name for name in exams}


def read(exported: dict[str, Path], name: str) -> Dataset:
    return dcmread(exported[name])


def result_of(exported: dict[str, Path], name: str, tmp_path: Path) -> Result:
    return grade_folder(shutil.copytree(exported[name], tmp_path / name))


def test_one_file_an_eye_and_the_sheet(exported: dict[str, Path]):
    assert {name for name in exported if name.endswith(".dcm")} == {
        "P-10_1_right.dcm", "P-10_1_left.dcm", "P-10_1_sheet.dcm",
        "P-11_1_right.dcm", "P-11_1_left.dcm", "P-11_1_sheet.dcm",
        "P-12_1_left.dcm", "P-12_1_sheet.dcm",
    }, "the stopped exam never came to its second eye"  # fmt: skip


def test_points_are_the_places_of_the_result(exported: dict[str, Path], tmp_path: Path):
    result = result_of(exported, "measured", tmp_path)
    for eye, letter in (("right", "R"), ("left", "L")):
        one = read(exported, f"P-10_1_{eye}.dcm")
        assert one.MeasurementLaterality == letter
        points, places = one.VisualFieldTestPointSequence, result.eyes[eye].places
        for point, place in zip(points, places, strict=True):
            assert point.VisualFieldTestPointXCoordinate == pytest.approx(place.x_deg, abs=1e-5)
            assert point.VisualFieldTestPointYCoordinate == pytest.approx(place.y_deg, abs=1e-5)
            assert point.SensitivityValue == pytest.approx(place.estimate_db, abs=1e-5)
            assert (point.StimulusResults == "NOT SEEN") == (not place.seen)
        mean = sum(place.estimate_db for place in places) / len(places)
        assert one.VisualFieldMeanSensitivity == pytest.approx(mean, abs=1e-5)
        assert one.VisualFieldTestDuration == pytest.approx(result.eyes[eye].seconds, abs=1e-3)
        assert one.NumberOfVisualStimuli == result.eyes[eye].presentations


def test_light_and_target(exported: dict[str, Path]):
    """Hand values: a 7 degree disc has 38.48 square degrees; rings end at 20 + 3.5 degrees."""
    one = read(exported, "P-10_1_right.dcm")
    assert one.BackgroundLuminance == pytest.approx(61.5)
    assert one.MaximumStimulusLuminance == pytest.approx(123.0)
    assert one.StimulusArea == pytest.approx(38.4845, abs=1e-3)
    assert one.StimulusPresentationTime == pytest.approx(600.0)
    assert one.VisualFieldHorizontalExtent == pytest.approx(47.0, abs=1e-4)
    assert one.MinimumSensitivityValue == pytest.approx(1.6499, abs=1e-3)  # hold 0.8270 at 3 frames


def test_catch_trials_are_the_results(exported: dict[str, Path], tmp_path: Path):
    result = result_of(exported, "screen", tmp_path)
    for eye, found in result.eyes.items():
        one, rates = read(exported, f"P-11_1_{eye}.dcm"), found.reliability
        fixation, catch = one.FixationSequence[0], one.VisualFieldCatchTrialSequence[0]
        assert fixation.FixationCheckedQuantity == rates.fixation.shown
        assert fixation.PatientNotProperlyFixatedQuantity == rates.fixation.wrong
        assert catch.NegativeCatchTrialsQuantity == rates.false_negative.shown
        assert catch.FalseNegativesQuantity == rates.false_negative.wrong
        assert catch.PositiveCatchTrialsQuantity == rates.false_positive.shown
        assert catch.FalsePositivesQuantity == rates.false_positive.wrong
        share = 100 * rates.false_positive.wrong / rates.false_positive.shown
        assert catch.FalsePositivesEstimate == pytest.approx(share, abs=1e-4)


def test_screening_tells_the_faintest_level_seen(exported: dict[str, Path], tmp_path: Path):
    result = result_of(exported, "screen", tmp_path)
    one = read(exported, "P-11_1_right.dcm")
    for point, place in zip(
        one.VisualFieldTestPointSequence, result.eyes["right"].places, strict=True
    ):
        seen = [a.level_db for a in place.answers if a.seen and a.role == "place"]
        assert ("SensitivityValue" in point) == bool(seen)
        if seen:
            assert point.SensitivityValue == pytest.approx(max(seen), abs=1e-4)
    assert "a threshold was not measured" in one.CommentsOnThePerformedProcedureStep
    assert "VisualFieldMeanSensitivity" not in one


def test_deviations_from_measured_people(exported: dict[str, Path], tmp_path: Path):
    """Share below by scipy's own normal distribution, spread from the 1 % limit."""
    result = result_of(exported, "measured", tmp_path)
    one, places = read(exported, "P-10_1_right.dcm"), result.eyes["right"].places
    deviations = [place.deviation.value_db for place in places]
    indices, told = result.eyes["right"].indices, one.ResultsNormalsSequence[0]
    mean_db, spread_db = indices.mean_deviation.value_db, indices.deviation_sd.value_db
    assert told.GlobalDeviationFromNormal == pytest.approx(mean_db, abs=1e-5)  # four-byte floats
    assert told.LocalizedDeviationFromNormal == pytest.approx(spread_db, abs=1e-5)
    assert told.GlobalDeviationFromNormal == pytest.approx(sum(deviations) / 19, abs=0.01)
    estimates = [place.estimate_db - place.reference_mean_db for place in places]
    assert told.GlobalDeviationFromNormal == pytest.approx(sum(estimates) / 19, abs=1.0)
    for point, place, deviation in zip(
        one.VisualFieldTestPointSequence, places, deviations, strict=True
    ):
        normals = point.VisualFieldTestPointNormalsSequence[0]
        assert normals.AgeCorrectedSensitivityDeviationValue == pytest.approx(deviation, abs=1e-4)
        spread = (place.reference_mean_db - place.limit_db) / norm.isf(0.01)
        share = 100 * norm.cdf(deviation, scale=spread)
        told_share = normals.AgeCorrectedSensitivityDeviationProbabilityValue
        assert told_share == pytest.approx(share, rel=1e-3, abs=1e-6)


def test_a_reader_meets_the_cautions(exported: dict[str, Path]):
    for name, path in exported.items():
        if name.endswith(".dcm"):
            one = dcmread(path)
            assert one.SeriesDescription == (
                "EXPERIMENTAL: contrast dB, not attenuation dB; no diagnosis"
            )
            assert "no diagnosis" in one.StudyDescription
            if one.Modality == "OPV":
                comments = one.CommentsOnThePerformedProcedureStep
                assert comments.startswith(f"{RESEARCH_ONLY} {CAUTION}")
    stated = read(exported, "P-11_1_right.dcm").CommentsOnThePerformedProcedureStep
    assert "Mean luminance was stated at export, not measured." in stated
    measured = read(exported, "P-10_1_right.dcm").CommentsOnThePerformedProcedureStep
    assert "stated" not in measured
    stopped = read(exported, "P-12_1_left.dcm").CommentsOnThePerformedProcedureStep
    assert "were not tested to the end and are left out." in stopped


def test_of_a_person_there_is_a_code_and_an_age(exported: dict[str, Path]):
    for name, path in exported.items():
        if name.endswith(".dcm"):
            one, code = dcmread(path), name.partition("_")[0]
            assert (str(one.PatientName), one.PatientID) == (code, code)
            assert one.PatientAge == ("045Y" if code == "P-11" else "063Y")
            assert not one.PatientBirthDate
            assert not one.PatientSex
            assert not one.ReferringPhysicianName


def pdf_text(one: Dataset) -> str:
    pdf = one.EncapsulatedDocument[: one.EncapsulatedDocumentLength]
    assert pdf.startswith(b"%PDF")
    assert pdf.rstrip().endswith(b"%%EOF")
    done = subprocess.run(["pdftotext", "-", "-"], input=pdf, capture_output=True, check=True)
    return " ".join(done.stdout.decode().split())


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="needs apt-get install poppler-utils")
def test_the_sheet_beside_reads_as_a_page(exported: dict[str, Path]):
    one = read(exported, "P-10_1_sheet.dcm")
    text = pdf_text(one)
    assert RESEARCH_ONLY in text
    assert "Ripplefield exam P-10" in text
    assert "left out of exports" in text
    assert one.MIMETypeOfEncapsulatedDocument == "application/pdf"
    eyes = {read(exported, f"P-10_1_{eye}.dcm").SOPInstanceUID for eye in ("right", "left")}
    assert {item.ReferencedSOPInstanceUID for item in one.SourceInstanceSequence} == eyes


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="needs apt-get install poppler-utils")
def test_no_name_planted_in_a_record_comes_out(originals: dict[str, Path], tmp_path: Path):
    """A name in the command line, the button's file and the operator's initials stays inside."""

    def planted(lines):
        lines = in_a_window(lines)
        for line in lines:
            if line["kind"] == "opened":
                line["data"]["command"] = "ripplefield run --out /home/nomen/nescio"
                line["data"]["button"]["name"] = "simulated:/home/nomen/nescio.toml"
            if line["kind"] == "caution":
                line["data"]["confirmed_by"] = "ZQX"
        return lines

    exam = recast(originals["stairs"], tmp_path / "exam", planted)
    files = export_dicom([exam], tmp_path / "out", quiet)
    for path in files:
        one = dcmread(path)
        text = str(one) + (pdf_text(one) if one.Modality == "DOC" else "")
        assert not [word for word in ("nomen", "nescio", "ZQX") if word in text], path.name


@needs_dciodvfy
def test_dciodvfy_finds_no_error_in_sheets(exported: dict[str, Path]):
    for name, path in exported.items():
        if name.endswith("sheet.dcm"):
            assert dciodvfy(path) == []


@needs_dciodvfy
def test_dciodvfy_finds_no_error_whatever_a_protocol_is_called(
    originals: dict[str, Path], tmp_path: Path
):
    change = both(in_a_window, said("opened", protocol="a\tname of\nours"))
    for path in export_dicom([recast(originals["stairs"], tmp_path / "e", change)],
                             tmp_path / "out", quiet):  # fmt: skip
        assert dciodvfy(path) == []


def test_uids_hang_together(exported: dict[str, Path]):
    files = [dcmread(path) for name, path in exported.items() if name.endswith(".dcm")]
    instances = [one.SOPInstanceUID for one in files]
    assert len(set(instances)) == len(files)
    assert len({one.SeriesInstanceUID for one in files}) == len(files)
    by_person = {one.PatientID: one.StudyInstanceUID for one in files}
    assert len(set(by_person.values())) == 3
    for one in files:
        assert one.StudyInstanceUID == by_person[one.PatientID]
        assert one.SOPInstanceUID.is_valid
        assert one.SOPInstanceUID.startswith("2.25.")


def test_same_exam_same_bytes_and_other_content_other_uid(
    originals: dict[str, Path], tmp_path: Path
):
    def made(name: str, stated_cd_m2: float) -> dict[str, bytes]:
        files = export_dicom([originals["lone"]], tmp_path / name, quiet, stated_cd_m2)
        return {path.name: path.read_bytes() for path in files}

    one, two, other = made("one", 50.0), made("two", 50.0), made("other", 60.0)
    assert one == two
    first, changed = (
        dcmread(io.BytesIO(files["P-1_1_right.dcm"])).SOPInstanceUID for files in (one, other)
    )
    assert first != changed
