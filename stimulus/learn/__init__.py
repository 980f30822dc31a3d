"""Teaching cases: `ripplefield learn`. Pages, text mode, and the record for a teacher.

`room.py` joins a case with protocol, reference and an ideal display; `sessions.py` holds what a
student did and answered; `text.py` is the terminal, `site.py` and `pages.py` the browser,
`taking_part.py` the real window. What a case is stands in `protocols.cases`, what answers are
worth in `analysis.cases`. All people are invented. Research only.
"""
