"""Exams in formats that other programs read: BIDS, DICOM and FHIR.

Reads records that verify, writes a new folder or nothing. A code and an age are all that is said of
a person; nothing here decides anything about one.
"""
