"""Shares and statements in words."""

from __future__ import annotations

from analysis.measured import Tolerance


def percent(share: float) -> str:
    """A share as a percentage with two digits that tell.

    >>> percent(0.01), percent(0.01234), percent(0.985)
    ('1 %', '1.2 %', '98.5 %')
    """
    return f"{round(100 * share, 1):g} %"


def percent_range(interval: tuple[float, float]) -> str:
    """An interval of shares.

    >>> percent_range((0.005, 0.0184))
    '0.5 to 1.8 %'
    """
    low, high = (f"{round(100 * end, 1):g}" for end in interval)
    return f"{low} to {high} %"


def tolerance_sentence(one: Tolerance, confidence: float) -> str:
    """What a limit is worth, in a sentence."""
    return (
        f"Of healthy people's places {percent_range(one.interval)} lie below the "
        f"{percent(one.share)} limit ({percent(confidence)} interval); of the people measured, "
        f"each left out of the fit in turn, it was {percent(one.left_out)}."
    )
