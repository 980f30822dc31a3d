"""`ripplefield doctor`: tries out what exams need of this machine, and says what mends it.

`finding.py` is what each trial found; `software.py`, `display.py`, `timing.py`, `storage.py`,
`devices.py` and `extras.py` hold the trials; whatever could crash runs in a program of its own,
`window_program.py`, `priority_program.py` and `speed_program.py`. `examine.py` runs them all.

Only the standard library is imported before a trial begins: a half-installed machine is what it
is for.
"""
