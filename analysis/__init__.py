"""What the answers mean: reference limits, grades, reliability, figures, reports.

Reads journals, never a window or a button; works on a machine with no display. Imports only
`protocols`.
"""
