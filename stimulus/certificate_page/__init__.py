"""A display's certificate as a page an engineer would sign: pictures, numbers, what it supports.

Pictures are drawn with matplotlib in the shared look of `analysis.figures`; every picture's
numbers stand in a table beside it. No window is opened and `psychopy` is never imported.
"""
