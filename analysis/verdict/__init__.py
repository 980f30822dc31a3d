"""How far the answers can be trusted, after the exam and with intervals.

`presses.py` models presses that nothing caused, `rates.py` gaze and attention, `times.py` response
times against those expected by age and their drift, `drift.py` drift of sensitivity, `what_if.py`
how far slips could have changed the grades, `trust.py` puts them together. The live verdict is in
`protocols.verdict`, since the exam itself must act on it.
"""
