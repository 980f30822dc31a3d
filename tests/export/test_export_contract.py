"""Ripplefield's own exports under the contract of all exports."""

from __future__ import annotations

from analysis.export.bids.write import export_bids
from analysis.export.dicom.write import export_dicom
from analysis.export.fhir.write import export_fhir
from stimulus.contracts.export import ExportContract


def nobody(done: int, total: int) -> None:
    """Nobody watches."""


class TestBids(ExportContract):
    def export(self, folders, out):
        export_bids(folders, out, nobody)


class TestDicom(ExportContract):
    def export(self, folders, out):
        export_dicom(folders, out, nobody, 60.0)


class TestFhir(ExportContract):
    def export(self, folders, out):
        export_fhir(folders, out, nobody)
