"""The two kinds of file: perimetry of one eye, and the printed sheet of an exam."""

from __future__ import annotations

from collections.abc import Sequence

from pydicom.dataset import Dataset
from pydicom.uid import (
    EncapsulatedPDFStorage,
    OphthalmicVisualFieldStaticPerimetryMeasurementsStorage,
)

from analysis.export.dicom.build import date_text, finish, item, time_text
from analysis.export.dicom.common import common
from analysis.export.dicom.eye import TestedEye
from analysis.export.dicom.measurements import add_lens, add_measurements, add_results
from analysis.export.dicom.parameters import add_parameters, add_reliability
from analysis.export.dicom.series import DESCRIPTION, add_series
from analysis.export.shared import shareable
from analysis.export.source import moment_of
from analysis.report.exam import Shown
from analysis.report.sheet import sheets_pdf


def perimetry_file(tested: TestedEye) -> Dataset:
    """Ophthalmic Visual Field Static Perimetry Measurements of one eye (PS3.3 A.65)."""
    perimetry = OphthalmicVisualFieldStaticPerimetryMeasurementsStorage
    stated = repr(tested.luminance)
    made = common(tested.shown, perimetry, tested.eye, stated)
    add_series(made, tested)
    add_parameters(made, tested)
    add_reliability(made, tested)
    add_measurements(made, tested)
    add_results(made, tested)
    add_lens(made, tested)
    return finish(made)


def sheet_file(shown: Shown, sources: Sequence[Dataset]) -> Dataset:
    """Encapsulated PDF (PS3.3 A.45.1) of the sheet, naming the perimetry files it stands beside."""
    beside = " ".join(str(one.SOPInstanceUID) for one in sources)
    made = common(shown, EncapsulatedPDFStorage, "sheet", beside)
    pdf = sheets_pdf([shareable(shown)])
    ended = moment_of(shown.result.exam.ended_utc)
    made.Modality = "DOC"
    made.SeriesNumber = 3
    made.SeriesDescription = DESCRIPTION
    made.InstanceNumber = 1
    made.ConversionType = "WSD"
    made.ContentDate = date_text(ended)
    made.ContentTime = time_text(ended)
    made.AcquisitionDateTime = date_text(ended) + time_text(ended)
    made.BurnedInAnnotation = "YES"
    made.DocumentTitle = "Research perimetry: sheet of one exam; no diagnosis"
    made.ConceptNameCodeSequence = []
    made.SourceInstanceSequence = [
        item(ReferencedSOPClassUID=one.SOPClassUID, ReferencedSOPInstanceUID=one.SOPInstanceUID)
        for one in sources
    ]
    made.MIMETypeOfEncapsulatedDocument = "application/pdf"
    made.EncapsulatedDocument = pdf + b"\0" * (len(pdf) % 2)
    made.EncapsulatedDocumentLength = len(pdf)
    return finish(made)
