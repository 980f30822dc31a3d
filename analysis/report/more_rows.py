"""Indices of the whole field and reliability of the answers, as rows of text."""

from __future__ import annotations

from analysis.figures.words import NO_NUMBER, one_decimal
from analysis.indices.facts import Index, Indices
from analysis.report.table import Table
from analysis.verdict.facts import RateEstimate, TimeCheck, Trust


def index_text(index: Index | None) -> str:
    """A number in dB with its interval.

    >>> index_text(Index(-1.25, (-2.0, -0.5)))
    '−1.3 (−2.0 to −0.5)'
    """
    if index is None:
        return NO_NUMBER
    low, high = (one_decimal(end) for end in index.interval_db)
    return f"{one_decimal(index.value_db)} ({low} to {high})"


def field_tables(found: Indices | None) -> tuple[Table, ...]:
    """The whole field and its sectors; none where nothing was tested to the end."""
    return () if found is None else (_whole(found), _sectors(found))


def _whole(found: Indices) -> Table:
    halves = found.halves
    rows = [
        ("Mean deviation, dB", index_text(found.mean_deviation)),
        ("Spread of deviations (SD), with what the answers leave open, dB",
         index_text(found.deviation_sd)),
        (f"General level ({found.general_percentile}th percentile), dB",
         index_text(found.general_level)),
        ("Whole-field test", found.whole_field.words),
        ("Places that stand at a false-discovery rate of "
         f"{100 * found.false_discovery_rate:.0f} %", f"{found.standing} of {found.places}"),
    ]  # fmt: skip
    if halves is not None:
        rows.append((f"Upper less lower half, {halves.pairs} mirrored pairs, dB",
                     f"{index_text(halves.difference)}, p = {halves.p:.3g}"))  # fmt: skip
    return Table("field-indices", "Whole field", ("Index", "Value with 95 % interval"),
                 tuple(rows))  # fmt: skip


def _sectors(found: Indices) -> Table:
    heads = ("Nerve-fibre sector", "Places", "Mean deviation, dB", "Less the lower sector, dB")
    rows = tuple(
        (one.name, ", ".join(map(str, one.places)), index_text(one.deviation),
         index_text(one.above_less_below))
        for one in found.sectors
    )  # fmt: skip
    return Table("sectors", "Sectors of an assumed course of nerve fibres", heads, rows)


def trust_tables(found: Trust | None) -> tuple[Table, ...]:
    """Rates, times and drift, and what slips could have changed; none where nothing was said."""
    return () if found is None else (_trust(found), _what_if(found))


def _trust(found: Trust) -> Table:
    rows = [
        ("Live verdict", found.verdict, found.verdict_words),
        _rate("Presses that nothing caused", found.false_presses),
        _rate("Gaze off the mark", found.gaze),
        _rate("Visible targets missed", found.misses),
        ("Response time", _time(found.times), found.times.words),
    ]
    if found.drift is not None:
        low, high = (one_decimal(end) for end in found.drift.interval)
        value = f"{one_decimal(found.drift.db_per_min)} ({low} to {high}) dB a minute"
        rows.append(("Drift of sensitivity", value, found.drift.words))
    heads = ("Reliability", "Value with 95 % interval", "In words")
    return Table("trust", "How far the answers can be trusted", heads, tuple(rows))


def _rate(name: str, found: RateEstimate) -> tuple[str, str, str]:
    low, high = (100 * end for end in found.interval)
    return name, f"{100 * found.rate:.0f} % ({low:.0f} to {high:.0f} %)", found.words


def _time(found: TimeCheck) -> str:
    if found.median_s is None:
        return NO_NUMBER
    if found.interval_s is None:
        return f"{found.median_s:.2f} s"
    low, high = found.interval_s
    return f"{found.median_s:.2f} s ({low:.2f} to {high:.2f} s)"


def _what_if(found: Trust) -> Table:
    heads = ("If", "Rate", "Flagged that stay", "Within, but in doubt", "In words")
    rows = tuple(
        (one.slip, f"{100 * one.rate:.0f} %", f"{one.stay} of {one.flagged}",
         f"{one.doubtful} of {one.within}", one.words)
        for one in found.what_if
    )  # fmt: skip
    return Table("what-if", "What slips could have changed", heads, rows)
