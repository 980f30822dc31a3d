"""Procedures: how the next level is chosen and what the answers say about sensitivity.

One file each behind one small interface (`interface.py`); all are pure and work on arrays whose
leading axis is the exam, so one exam and a million run the same code.
"""
