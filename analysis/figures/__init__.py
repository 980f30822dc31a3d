"""Pictures of an exam, each in its own file: round field, intervals, time line, catch-trial rates.

A `draw_...` function draws on axes it is given, so that the page and the printed sheet share every
picture. Drawn with matplotlib's objects, never `pyplot`: no display, no window, no global figure.
Every colour is told by a shape or a word as well; everything reads in black and white.
"""
