"""The page of an exam, for a screen and for paper. It describes answers, it never diagnoses.

`page` writes it; `pictures` draws, `facts` and `rows` word the numbers, `sheet` lays out the PDF.
Templates and style sheet lie in `templates/`. Nothing is loaded from outside and no script runs.
"""
