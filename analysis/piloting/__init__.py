"""Piloting: protocols compared on an invented population, before a lab books people.

`plan` what is asked, `variants` the protocols with their grids, `crowd` who is examined, `pieces`
exams as pieces of work, `levels` what a result would say of them, `run` all of them; `measures`,
`costs`, `errors`, `calls`, `detection`, `robustness` what the exams show, `rivals` who is
dominated; `evaluate` puts it into `result`, `tables`, `pictures` and `page` show it, `words` and
`methods` say it; `samples` how many people a lab's own study takes. Pure: no screen, no command
line. Everybody here is invented: a pilot says how protocols compare, never what people are like.
"""
