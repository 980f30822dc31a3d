"""Numbers as a reader sees them: the same text beside a disc, at a whisker and in the table."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

from analysis.result import PlaceResult, Rate

MINUS = "\u2212"
NO_NUMBER = "\u2013"

GRADE_WORDS = {
    0: "within the limit",
    1: "under 4 dB below the limit",
    2: "4 to 8 dB below the limit",
    3: "over 8 dB below the limit",
    4: "not seen at full contrast",
}
NOT_FINISHED = "not finished"
NO_GRADE = "no grade is more likely than not"


def one_decimal(value: float) -> str:
    """A number with one decimal, halves away from zero, with a true minus sign.

    The unit stays with the caller.

    >>> one_decimal(1.65), one_decimal(-0.04), one_decimal(-3.25)
    ('1.7', '0.0', '−3.3')
    """
    rounded = Decimal(repr(float(value))).quantize(Decimal("0.1"), ROUND_HALF_UP)
    return str(rounded + 0 if rounded else abs(rounded)).replace("-", MINUS)


def is_finished(place: PlaceResult) -> bool:
    """Whether a place was tested to the end, so that it has an estimate."""
    return place.estimate_db is not None


def coordinates(place: PlaceResult) -> str:
    """Where a place lies, degrees right and up of the mark."""
    return f"{one_decimal(place.x_deg)}, {one_decimal(place.y_deg)}"


def level_text(place: PlaceResult) -> str:
    """A place's level in contrast dB as far as the answers reach.

    Seen every time it is "at least" the weakest contrast seen, not seen at full contrast it
    is below what the display can show, in between it is the estimate. A question mark says that
    the grade is less likely than not.
    """
    if place.estimate_db is None:
        return NO_NUMBER
    if place.bound == "at most":
        text = f"<{one_decimal(place.estimate_db)}"
    elif place.bound == "at least":
        text = f"≥{one_decimal(weakest_seen_db(place))}"
    else:
        text = one_decimal(place.estimate_db)
    return text + doubt_mark(place)


def weakest_seen_db(place: PlaceResult) -> float:
    """Level of the weakest contrast that was seen there, delivered contrast dB."""
    return max((a.level_db for a in place.answers if a.seen), default=place.interval_db[0])


def doubt_mark(place: PlaceResult) -> str:
    """A question mark where no grade is more likely than not."""
    return "?" if is_finished(place) and not place.grade_trusted else ""


def below_text(place: PlaceResult) -> str:
    """Depth below the limit in dB; open upwards where full contrast was not seen."""
    if place.below_limit_db is None:
        return NO_NUMBER
    sign = ">" if place.bound == "at most" else ""
    return sign + one_decimal(place.below_limit_db)


def interval_text(place: PlaceResult) -> str:
    """The 95 % interval in contrast dB."""
    low, high = place.interval_db
    return f"{one_decimal(low)} to {one_decimal(high)}"


def plain_grade(place: PlaceResult) -> str:
    """The grade in words."""
    if not is_finished(place):
        return NOT_FINISHED
    return NO_GRADE if place.grade is None else GRADE_WORDS[place.grade]


def grade_text(place: PlaceResult) -> str:
    """The grade in words, with its probability where it is doubtful."""
    words = plain_grade(place)
    if place.grade is None or place.grade_trusted or place.grade_probability is None:
        return words
    return f"{words}? (uncertain: {place.grade_probability:.0%})".replace("%", " %")


def rate_text(rate: Rate) -> str:
    """Wrong catch trials as a count with the 95 % interval of their share."""
    if rate.shown == 0:
        return "none shown"
    low, high = (f"{100 * end:.0f}" for end in rate.interval)
    return f"{rate.wrong} of {rate.shown} (95 %: {low}\u2013{high} %)"
