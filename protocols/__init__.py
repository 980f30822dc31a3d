"""The pure core: what is shown, where, in which order, and how it is recorded.

Visual-field coordinates, patterns, the grating as numbers, contrast levels, procedures, catch
trials, the examination state machine, typed events, the journal, and simulated participants.

Nothing here opens a window, reads a button or knows what an answer means; nothing here imports
`calibration`, `analysis` or `stimulus`.
"""

__version__ = "0.1.0"

RESEARCH_ONLY = (
    "Research use only. This is not a diagnosis: local rules and licensed practice decide."
)
