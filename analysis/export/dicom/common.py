"""Modules that perimetry and document share: patient, study, equipment, SOP common."""

from __future__ import annotations

from pydicom.dataset import Dataset

from analysis.export.dicom.build import date_text, time_text, uid
from analysis.export.source import moment_of
from analysis.report.exam import Shown
from protocols import __version__

MANUFACTURER = "Ripplefield contributors"
MODEL = "Ripplefield research perimeter"
STUDY = "Research perimetry, experimental, no diagnosis"


def common(shown: Shown, sop_class: str, what: str, stated: str = "") -> Dataset:
    """A data set with what all files of an exam have; `what` tells its objects apart.

    `stated` is what is in the file and not in the record: other words give another UID.
    """
    made = Dataset()
    made.SpecificCharacterSet = "ISO_IR 192"
    made.SOPClassUID = sop_class
    made.SOPInstanceUID = uid(*_birth(shown), "instance", what, stated)
    made.SeriesInstanceUID = uid(shown.result.journal_sha256, "series", what)
    made.TimezoneOffsetFromUTC = "+0000"
    _patient(made, shown)
    _study(made, shown)
    _equipment(made, shown)
    return made


def _birth(shown: Shown) -> tuple[str, ...]:
    """All that decides a file's content, so that another content has another UID."""
    result = shown.result
    return result.journal_sha256, result.reference.sha256, __version__


def _patient(made: Dataset, shown: Shown) -> None:
    """A code and an age; what the standard lets be empty is empty."""
    exam = shown.result.exam
    made.PatientName = exam.participant
    made.PatientID = exam.participant
    made.PatientBirthDate = ""
    made.PatientSex = ""
    made.PatientAge = f"{exam.age_years:03}Y"


def _study(made: Dataset, shown: Shown) -> None:
    moment = moment_of(shown.result.exam.opened_utc)
    made.StudyInstanceUID = uid(shown.result.journal_sha256, "study")
    made.StudyDate = date_text(moment)
    made.StudyTime = time_text(moment)
    made.ReferringPhysicianName = ""
    made.StudyID = shown.result.journal_sha256[:16]
    made.AccessionNumber = ""
    made.StudyDescription = STUDY


def _equipment(made: Dataset, shown: Shown) -> None:
    certificate = shown.result.display.certificate_sha256
    made.Manufacturer = MANUFACTURER
    made.ManufacturerModelName = MODEL
    made.DeviceSerialNumber = f"certificate {certificate[:16]}" if certificate else "no certificate"
    made.SoftwareVersions = shown.result.versions["ripplefield"]
