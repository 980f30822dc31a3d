"""Measuring a display step by step into a certificate: `ripplefield calibrate`.

`bench.py` says what a bench with a display and instruments can do; `simulated_bench.py` and
`window_bench.py` are the two there are. The latter's rooms: `given.py` and `sizes.py` what the
command line gives, `card_outline.py`, `blind_spot.py`, `by_eye.py` and `answers.py` for a person at
the screen, `grid.py` and `terminal.py` for an operator with a meter, `flips.py`,
`step_sequence.py` and `rig.py` for time, `shapes.py` what they show. `kept.py` names the files
that a step keeps until the certificate holds it.

`steps.py` turns what a bench measures into parts of the certificate by the functions of
`calibration`; `job.py` runs steps, writes the certificate after each, and shows progress. Nothing
here fits or judges: that is `calibration`'s.
"""
