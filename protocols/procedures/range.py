"""The range of levels that procedures work in, contrast dB."""

FULL_DB = 0.0
"""Full contrast, the strongest level there is."""

UPPER_DB = 40.0
"""Nobody sees contrast of 1 %: the faintest level worth showing."""
