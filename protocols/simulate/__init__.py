"""Thousands of exams at once: the examination machine on arrays with the exam as leading axis.

`watchers.py` who answers, `machine.py` the rules of running, `outcome.py` what comes out,
`observers.py` the table of observers, `chunks.py` exams as pieces of work, `workers.py` who does
them, `cluster.py` the same on a Dask cluster, `results.py` and `parts.py` the table of results.

Rules, schedule, procedures and draws are those of `protocols.exam`: an exam here shows and gets
what the machine would show and a simulated participant answer for the same seed.
"""
