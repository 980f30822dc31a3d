"""What somebody who took part is asked of their own exam: the hidden truth is what they did."""

from __future__ import annotations

from analysis.cases.questions import Choice, Options
from analysis.result import EyeResult, PlaceResult, Rate

COUNTS: Options = (("0", "At none"), ("1", "At one"), ("2", "At two or more"))
MISSED: Options = (("0", "None"), ("1", "One"), ("2", "Two or more"))
SEEN: Options = (
    ("few", "Fewer than half"),
    ("most", "Half to nine in ten"),
    ("nearly", "More than nine in ten"),
)
HALF: Options = (
    ("upper", "The upper half"), ("lower", "The lower half"), ("alike", "Both alike"),
)  # fmt: skip


def own_questions(eye: EyeResult) -> tuple[Choice, ...]:
    """Questions on one eye's own result."""
    found = eye.reliability
    return (
        _counted("blanks", "At how many presentations of nothing did you press?", COUNTS,
                 found.false_positive, "Pressed at"),
        _counted("strong", "How many strong targets did you miss where a weaker one was seen?",
                 MISSED, found.false_negative, "Missed"),
        _first(eye.places),
        _half(eye.places),
    )  # fmt: skip


def _counted(key: str, asks: str, options: Options, rate: Rate, verb: str) -> Choice:
    right = frozenset({str(min(rate.wrong, 2))})
    return Choice(key, asks, options, right, f"{verb} {rate.wrong} of {rate.shown}.")


def _first(places: list[PlaceResult]) -> Choice:
    tried = [place for place in places if place.answers]
    seen = sum(place.answers[0].seen for place in tried)
    share = seen / len(tried) if tried else 0.0
    right = "few" if share < 0.5 else ("most" if share <= 0.9 else "nearly")
    asks = "At how many places did you see the very first target?"
    return Choice("first", asks, SEEN, frozenset({right}), f"At {seen} of {len(tried)} places.")


def _half(places: list[PlaceResult]) -> Choice:
    upper, lower = (
        sum(place.grade or 0 for place in places if sign * place.y_deg > 0.5) for sign in (1, -1)
    )
    right = "alike" if upper == lower else ("upper" if upper > lower else "lower")
    why = f"Grades summed: upper half {upper}, lower half {lower}."
    return Choice("half", "Which half of the field did worse?", HALF, frozenset({right}), why)
