"""The table of places under the contract of all exports."""

from __future__ import annotations

from analysis.export.plugged import export_plugged
from protocols.plugins import find
from stimulus.contracts.export import ExportContract


class TestPlaces(ExportContract):
    def export(self, folders, out):
        export_plugged(find("export", "places", ()), folders, out, lambda done, total: None)
