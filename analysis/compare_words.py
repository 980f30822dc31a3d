"""A comparison in plain words. It describes answers, it never diagnoses."""

from __future__ import annotations

from analysis.agreement import Agreement, Learning
from analysis.change import LEAST_VISITS, Change, Trend
from analysis.compare import Comparison, EyeVisits
from analysis.symmetry import Asymmetry

SURE_P = 0.05


def sentences(found: Comparison) -> list[str]:
    """Everything found, a sentence each."""
    said = [] if found.asymmetry is None else asymmetry_sentences(found.asymmetry)
    for eye in found.eyes:
        said += visit_sentences(eye)
    return said


def asymmetry_sentences(found: Asymmetry) -> list[str]:
    """The two eyes beside each other."""
    return [_eyes_sentence(found), _pairs_sentence(found)]


def _eyes_sentence(found: Asymmetry) -> str:
    mean = (
        f"mean of left less right {signed(found.mean_db)} dB "
        f"(95 % interval {signed_range(found.interval_db)}) over {len(found.pairs)} mirrored pairs"
    )
    if found.test.p >= SURE_P:
        return f"Eyes: no general difference shows; {mean}, {p_is(found.test.p)}."
    lower = "left" if found.mean_db < 0 else "right"
    return f"Eyes: the {lower} eye is lower in general; {mean}, {p_is(found.test.p)}."


def _pairs_sentence(found: Asymmetry) -> str:
    out = [pair for pair in found.pairs if pair.stands_out]
    if not out:
        return "Eyes: no single pair of places stands out."
    where = "; ".join(
        f"place {pair.number}: {signed(pair.difference_db)} dB "
        f"({signed_range(pair.interval_db)})"
        for pair in out
    )
    verb = "pair stands" if len(out) == 1 else "pairs stand"
    return f"Eyes: {len(out)} {verb} out, left less right: {where}."


def visit_sentences(eye: EyeVisits) -> list[str]:
    """One eye over its visits."""
    said = [_step_sentence(eye)]
    if eye.change is not None:
        said.append(f"{_name(eye)}: {change_sentence(eye.change)}")
    elif len(eye.years) >= LEAST_VISITS:
        said.append(
            f"{_name(eye)}: no trend a year is told of {len(eye.years)} visits within "
            f"{span_text(eye.years[-1] - eye.years[0])}; a week is the least."
        )
    if eye.learning is not None and eye.learning.flagged:
        said.append(f"{_name(eye)}: {learning_sentence(eye.learning)}")
    if eye.change_without_first is not None:
        text = change_sentence(eye.change_without_first)
        said.append(f"{_name(eye)}, without the first visit: {text}")
    if eye.agreement is not None:
        said.append(f"{_name(eye)}: {agreement_sentence(eye.agreement)}")
    return said


def _name(eye: EyeVisits) -> str:
    return f"{eye.eye.capitalize()} eye"


def _step_sentence(eye: EyeVisits) -> str:
    mean = (
        f"{signed(eye.step_mean_db)} dB (95 % interval {signed_range(eye.step_interval_db)}) "
        f"over {len(eye.numbers)} places, {p_is(eye.test.p)}"
    )
    if eye.test.p >= SURE_P:
        return f"{_name(eye)}: no general step from the first to the last visit shows; {mean}."
    way = "lower" if eye.step_mean_db < 0 else "higher"
    return f"{_name(eye)}: {way} at the last visit than at the first; {mean}."


def change_sentence(found: Change) -> str:
    """Whether the field changed over the visits, and how fast."""
    trend = (
        f"mean trend {signed(found.mean_trend.db_per_year)} dB a year (95 % interval "
        f"{signed_range(found.mean_trend.interval_db_per_year)}) over {span_text(found.years)}"
    )
    kind = "all" if found.exact else "random"
    orders = f"{kind} {found.arrangements} orders of {found.visits} visits"
    if found.least_p > SURE_P:
        least = f"{found.visits} visits cannot show a change (least {p_is(found.least_p)})"
        return f"{least}; {trend}."
    for way, p in (("lower", found.p_loss), ("higher", found.p_gain)):
        if p < SURE_P:
            return f"the field got {way} over the visits, {p_is(p)}; {trend}; {orders}."
    both = f"{p_is(found.p_loss)} for loss, {p_is(found.p_gain)} for gain"
    return f"no change over the visits shows, {both}; {trend}; {orders}."


def learning_sentence(found: Learning) -> str:
    """That practice may have helped."""
    return (
        f"practice may have helped: the second visit was {found.gain_db:.1f} dB higher than the "
        f"first (95 % interval {signed_range(found.interval_db)}, {p_is(found.p)}). Judge "
        "change from the second visit on."
    )


def agreement_sentence(found: Agreement) -> str:
    """Limits of agreement between the first two visits."""
    return (
        f"second less first visit by places: mean {signed(found.mean)} dB "
        f"({signed_range(found.mean_interval)}), SD {found.sd:.1f} dB, limits of agreement "
        f"{signed(found.low)} ({signed_range(found.low_interval)}) to {signed(found.high)} "
        f"({signed_range(found.high_interval)}) dB; places of one eye are not independent."
    )


def trend_text(trend: Trend) -> str:
    """A place's trend with its interval."""
    return f"{signed(trend.db_per_year)} ({signed_range(trend.interval_db_per_year)})"


def span_text(years: float) -> str:
    """A span of time in the unit that suits it.

    >>> span_text(2.0), span_text(0.25), span_text(0.01), span_text(0.0002)
    ('2.0 years', '3.0 months', '4 days', '1.8 hours')
    """
    if years >= 1:
        return f"{years:.1f} years"
    if years >= 1 / 6:
        return f"{12 * years:.1f} months"
    if years < 1 / 365.25:
        return f"{24 * 365.25 * years:.1f} hours"
    days = round(365.25 * years)
    return f"{days} day" if days == 1 else f"{days} days"


def signed(value: float) -> str:
    """One decimal with a sign.

    The unit stays with the caller.

    >>> signed(-0.04), signed(1.25)
    ('0.0', '+1.2')
    """
    text = f"{value:+.1f}"
    return "0.0" if text in ("+0.0", "-0.0") else text


def signed_range(interval: tuple[float, float]) -> str:
    """An interval with signs. The unit stays with the caller."""
    return f"{signed(interval[0])} to {signed(interval[1])}"


def p_text(p: float) -> str:
    """A probability with two digits that tell, never 0.

    >>> p_text(0.00001), p_text(0.0123), p_text(0.5)
    ('<0.0001', '0.012', '0.50')
    """
    if p < 0.0001:
        return "<0.0001"
    return f"{p:.2f}" if p >= 0.095 else f"{p:.2g}"


def p_is(p: float) -> str:
    """A probability within a sentence.

    >>> p_is(0.012), p_is(0.00001)
    ('p = 0.012', 'p < 0.0001')
    """
    return "p < 0.0001" if p < 0.0001 else f"p = {p_text(p)}"
