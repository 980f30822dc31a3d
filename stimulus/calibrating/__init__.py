"""Measuring a display step by step into a certificate: `ripplefield calibrate`.

`bench.py` says what a bench with a display and instruments can do; `simulated_bench.py` and
`window_bench.py` are the two there are. `steps.py` turns what a bench measures into parts of the
certificate by the functions of `calibration`; `job.py` runs steps, writes the certificate after
each, and shows progress. Nothing here fits or judges: that is `calibration`'s.
"""
