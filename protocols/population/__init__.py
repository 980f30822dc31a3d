"""Invented populations: whole fields with a known truth, to try procedures on. Nobody was measured.

`draw.py` draws people with seeds; `healthy.py` is the hill of healthy eyes, `losses.py` what is
taken off it, `fibres.py` the course of nerve fibres that arc-shaped losses follow, `seeing.py` how
a person answers. Research only: nothing here describes any real group of people.
"""
