"""The thin shell: window, buttons, the runner that joins them to the exam, and the command line.

Everything that touches a screen, a device or an operator lives here; rules and meaning do not.
Only `window.py` and the drawing files beside it import `psychopy`, and only when they are used.
"""
