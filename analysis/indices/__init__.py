"""Indices of a whole field: mean deviation and its spread, pattern, halves, sectors, and one test.

All rest on the likelihoods of the places (`likelihood.py`), so that every procedure is treated
alike. `joint.py` draws whole fields that the answers leave possible, `whole_field.py` weighs loss
of any shape against none, `sectors.py` maps halves and sectors, `summary.py` puts them together.
Nothing here draws, reads files of an exam or knows of a display.
"""
