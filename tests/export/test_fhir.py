"""FHIR R4 Observations, read by two libraries made from HL7's published definitions.

Outside truths: fhirclient (R4) with strict reading; fhir.resources (R4B, whose Observation differs
from R4's in the kinds of subject alone; from memory), which also refuses two values of one choice.
Neither knows codes of required bindings, so these are checked here.
"""

from __future__ import annotations

import json
import re
import shutil
import statistics
from pathlib import Path
from typing import Any

import pytest
from fhir.resources.R4B.observation import Observation as TypedObservation
from fhirclient.models.fhirabstractbase import FHIRValidationError
from fhirclient.models.observation import Observation
from pydantic import ValidationError

from analysis.export.fhir.write import export_fhir
from analysis.export.shared import CAUTION
from analysis.grade import grade_folder
from protocols import RESEARCH_ONLY

STATUS = {
    "registered", "preliminary", "final", "amended", "corrected", "cancelled",
    "entered-in-error", "unknown",
}  # fmt: skip
"""ObservationStatus of R4, a required binding."""
ABSENT = {"unknown", "not-applicable"}
SCT = "http://snomed.info/sct"
ID = re.compile(r"[A-Za-z0-9\-.]{1,64}")
"""The type `id` of R4."""


def quiet(done: int, total: int) -> None:
    """No bar."""


@pytest.fixture(scope="module")
def folder(variety: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("fhir") / "out"
    covered = list(variety.values())
    made = export_fhir(covered, out, quiet)
    assert made == len(list(out.iterdir())) > len(covered)
    return out


@pytest.fixture(scope="module")
def found(folder: Path) -> dict[str, dict[str, Any]]:
    return {path.name: json.loads(path.read_text()) for path in sorted(folder.iterdir())}


def test_both_libraries_read_every_one(found: dict[str, dict[str, Any]]):
    for one in found.values():
        assert Observation(one, strict=True).status == "preliminary"
        assert TypedObservation.model_validate(one).status == "preliminary"


SPOILERS = {
    "an unknown key": {"statu": "preliminary"},
    "a wrong date": {"effectivePeriod": {"start": "2 January"}},
    "a word for a number": {"component": [{"valueQuantity": {"value": "much"}}]},
    "no code": {"code": None},
    "no status": {"status": None},
}


@pytest.mark.parametrize("what", SPOILERS)
def test_both_libraries_would_refuse(what: str, found: dict[str, dict[str, Any]]):
    one = next(iter(found.values())) | SPOILERS[what]
    one = {key: value for key, value in one.items() if value is not None}
    with pytest.raises(FHIRValidationError):
        Observation(one, strict=True)
    with pytest.raises(ValidationError):
        TypedObservation.model_validate(one)


def test_two_values_of_one_choice_are_refused(found: dict[str, dict[str, Any]]):
    one = next(iter(found.values())) | {"effectiveDateTime": "2030-01-02"}
    with pytest.raises(ValueError, match=r"(?i)effective"):
        TypedObservation.model_validate(one)


def test_required_bindings_and_types(found: dict[str, dict[str, Any]]):
    ids = [one["id"] for one in found.values()]
    assert len(set(ids)) == len(ids)
    assert all(ID.fullmatch(one) for one in ids)
    for one in found.values():
        assert one["status"] in STATUS
        assert one["text"]["status"] in {"generated", "extensions", "additional", "empty"}
        for component in one["component"]:
            assert ("valueQuantity" in component) != ("dataAbsentReason" in component)
            if "dataAbsentReason" in component:
                assert component["dataAbsentReason"]["coding"][0]["code"] in ABSENT


def test_codes_and_units(found: dict[str, dict[str, Any]]):
    """SNOMED CT and UCUM codes as the project's list of open standards has them."""
    for name, one in found.items():
        assert one["code"]["coding"][0]["system"] == SCT
        assert one["code"]["coding"][0]["code"] == "103752008"
        codes = [component["code"]["coding"][0]["code"] for component in one["component"]]
        assert codes == ["422859007", "421362004", "252129004"]
        site = {"right": "18944008", "left": "8966001"}[name.rpartition("_")[2].split(".")[0]]
        assert one["bodySite"]["coding"][0]["code"] == site
        units = ["dB", "dB", "s"]
        for component, unit in zip(one["component"], units, strict=True):
            value = component.get("valueQuantity")
            assert value is None or (value["system"], value["code"]) == (
                "http://unitsofmeasure.org",
                unit,
            )


def test_a_reader_meets_the_cautions(found: dict[str, dict[str, Any]]):
    for one in found.values():
        notes = [note["text"] for note in one["note"]]
        assert notes[:2] == [RESEARCH_ONLY, CAUTION]
        assert "contrast dB" in one["text"]["div"]
        assert RESEARCH_ONLY in one["text"]["div"]
    simulated = [one for one in found.values() if "A simulated participant answered." in str(one)]
    assert all(one["meta"]["security"][0]["code"] == "HTEST" for one in simulated)


def test_values_are_those_of_the_result(originals: dict[str, Path], tmp_path: Path):
    """Mean and spread of the deviations are the indices of result.json, and so they add up."""
    exam = shutil.copytree(originals["bayes-arc"], tmp_path / "exam")
    export_fhir([exam], tmp_path / "out", quiet)
    graded = grade_folder(exam)
    for eye in ("right", "left"):
        places = graded.eyes[eye].places
        deviations = [place.deviation.value_db for place in places]
        indices = graded.eyes[eye].indices
        one = json.loads((tmp_path / "out" / f"P-1_1_{eye}.json").read_text())
        mean, pattern, seconds = (part["valueQuantity"]["value"] for part in one["component"])
        assert (mean, pattern) == (indices.mean_deviation.value_db, indices.deviation_sd.value_db)
        assert mean == pytest.approx(sum(deviations) / 19, abs=0.01)
        assert pattern >= statistics.pstdev(deviations) - 0.01  # what is open adds to the spread
        assert seconds == graded.eyes[eye].seconds


def test_screening_and_unfinished_say_why_there_is_no_value(
    variety: dict[str, Path], tmp_path: Path
):
    reasons = {}
    for name in ("happy", "stopped-early"):
        export_fhir([variety[name]], tmp_path / name, quiet)
        path = sorted((tmp_path / name).iterdir())[0]
        reasons[name] = json.loads(path.read_text())["component"][0]["dataAbsentReason"]["text"]
    assert reasons == {
        "happy": "Screening measures no thresholds.",
        "stopped-early": "Not all places were tested to the end.",
    }


def test_the_period_is_that_of_the_eye(originals: dict[str, Path], tmp_path: Path):
    export_fhir([originals["bayes-arc"]], tmp_path / "out", quiet)
    left, right = (
        json.loads((tmp_path / "out" / f"P-1_1_{eye}.json").read_text())["effectivePeriod"]
        for eye in ("left", "right")
    )
    assert "2030-01-02T09:00:00" < left["start"] < left["end"] < right["start"] < right["end"]


def test_the_same_exam_gives_the_same_bytes(originals: dict[str, Path], tmp_path: Path):
    for name in ("one", "two"):
        export_fhir([originals["stairs"]], tmp_path / name, quiet)
    [path] = (tmp_path / "one").iterdir()
    assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes()
