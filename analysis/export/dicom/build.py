"""Small parts that every DICOM object is built of: codes, items, moments, UIDs, file head."""

from __future__ import annotations

import math
from datetime import datetime
from typing import Any

from pydicom.dataset import Dataset, FileMetaDataset
from pydicom.uid import UID, ExplicitVRLittleEndian

from analysis.export.shared import stable_uuid
from protocols import __version__
from protocols.errors import InputError

OWN_CODES = "99RIPPLE"


def item(**attributes: Any) -> Dataset:
    """A data set with these attributes, by keyword."""
    made = Dataset()
    for keyword, value in attributes.items():
        setattr(made, keyword, value)
    return made


def code(value: str, scheme: str, meaning: str) -> Dataset:
    """One coded entry."""
    return item(CodeValue=value, CodingSchemeDesignator=scheme, CodeMeaning=meaning)


def own_code(value: str, meaning: str) -> Dataset:
    """A coded entry of this project's own scheme."""
    return code(value, OWN_CODES, meaning)


def uid(*parts: str) -> UID:
    """A UID made from a name-based UUID (PS3.5 B.2): the same parts, the same UID."""
    return UID(f"2.25.{stable_uuid('dicom', *parts).int}")


def date_text(moment: datetime) -> str:
    """A day as DA."""
    return f"{moment:%Y%m%d}"


def time_text(moment: datetime) -> str:
    """A time of day as TM."""
    return f"{moment:%H%M%S.%f}"


def finish(dataset: Dataset) -> Dataset:
    """Add the file head; raises InputError for a number that is none."""
    _require_numbers(dataset)
    meta = FileMetaDataset()
    meta.MediaStorageSOPClassUID = dataset.SOPClassUID
    meta.MediaStorageSOPInstanceUID = dataset.SOPInstanceUID
    meta.TransferSyntaxUID = ExplicitVRLittleEndian
    meta.ImplementationClassUID = uid("implementation")
    meta.ImplementationVersionName = f"RIPPLE_{__version__}"[:16]
    dataset.file_meta = meta
    return dataset


def _require_numbers(dataset: Dataset) -> None:
    for element in dataset.iterall():
        values = element.value if element.VM > 1 else [element.value]
        for value in values if element.VR in ("FL", "FD", "DS") else ():
            if value is not None and not math.isfinite(value):
                raise InputError(
                    element.keyword,
                    value,
                    "a finite number",
                    "Run ripplefield verify on the folder; the record cannot be right.",
                )
