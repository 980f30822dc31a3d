"""Series of a perimetry file: what was done, by which protocol, and what its numbers are not."""

from __future__ import annotations

from pydicom.dataset import Dataset

from analysis.export.dicom.build import code, date_text, item, own_code, time_text
from analysis.export.dicom.eye import TestedEye
from analysis.export.shared import CAUTION
from analysis.export.source import moment_of
from protocols import RESEARCH_ONLY

DESCRIPTION = "EXPERIMENTAL: contrast dB, not attenuation dB; no diagnosis"
STATED = "Mean luminance was stated at export, not measured."
SCREENED = (
    "Screening: a sensitivity is the faintest level that was seen, a threshold was not measured."
)


def add_series(made: Dataset, tested: TestedEye) -> None:
    """General Series and the Visual Field Static Perimetry Measurements Series module."""
    made.Modality = "OPV"
    made.SeriesNumber = 1 if tested.eye == "right" else 2
    made.SeriesDescription = DESCRIPTION
    made.InstanceNumber = 1
    exam = tested.shown.result.exam
    began, ended = moment_of(exam.opened_utc), moment_of(exam.ended_utc)
    made.PerformedProcedureStepID = tested.shown.result.journal_sha256[:16]
    made.PerformedProcedureStepStartDate = date_text(began)
    made.PerformedProcedureStepStartTime = time_text(began)
    made.PerformedProcedureStepEndDate = date_text(ended)
    made.PerformedProcedureStepEndTime = time_text(ended)
    made.PerformedProcedureStepDescription = DESCRIPTION
    made.CommentsOnThePerformedProcedureStep = _comments(tested)
    made.PerformedProtocolCodeSequence = [_protocol(tested)]


def purpose(tested: TestedEye) -> Dataset:
    """The coded purpose (CID 4256)."""
    if tested.screening:
        return code("360156006", "SCT", "Screening")
    return code("261004008", "SCT", "Diagnostic")


def _comments(tested: TestedEye) -> str:
    left_out = len(tested.found.places) - len(tested.places)
    said = [RESEARCH_ONLY, CAUTION]
    said += [SCREENED] if tested.screening else []
    said += [] if tested.luminance.measured else [STATED]
    said += [f"{left_out} places were not tested to the end and are left out."] if left_out else []
    said += ["A simulated participant answered."] if tested.shown.result.exam.simulated else []
    return " ".join(said)


def _protocol(tested: TestedEye) -> Dataset:
    exam = tested.shown.result.exam
    return item(
        CodeValue=exam.protocol_sha256[:16],
        CodingSchemeDesignator="99RIPPLE",
        CodeMeaning="Ripplefield protocol, by its SHA-256",
        ProtocolContextSequence=[_context(tested), _text("PROTOCOL", "Protocol", exam.protocol)],
    )


def _context(tested: TestedEye) -> Dataset:
    said = _coded(tested)
    said.ContentItemModifierSequence = [_coded(tested)]
    return said


def _coded(tested: TestedEye) -> Dataset:
    return item(
        ValueType="CODE",
        ConceptNameCodeSequence=[own_code("PURPOSE", "Purpose of the test")],
        ConceptCodeSequence=[purpose(tested)],
    )


def _text(value: str, meaning: str, text: str) -> Dataset:
    """A text; tabs and other control characters, which DICOM does not take, become spaces."""
    return item(
        ValueType="TEXT",
        ConceptNameCodeSequence=[own_code(value, meaning)],
        TextValue="".join(sign if sign.isprintable() else " " for sign in text),
    )
