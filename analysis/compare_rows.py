"""The numbers of a comparison as tables of text, and as plain data for JSON."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from analysis.compare import Comparison, EyeVisits
from analysis.compare_words import p_text, sentences, signed, signed_range, span_text, trend_text
from analysis.report.rows import Table
from analysis.symmetry import Asymmetry
from protocols import RESEARCH_ONLY


def pairs_table(found: Asymmetry) -> Table:
    """Mirrored pairs, the largest difference first."""
    heads = (
        "Pair", "x of the right eye, °", "y, °", "Right, dB", "Left, dB", "Left less right, dB",
        "95 % interval, dB", "p", "p adjusted", "Stands out",
    )  # fmt: skip
    ordered = sorted(found.pairs, key=lambda pair: (-abs(pair.difference_db), pair.number))
    rows = tuple(
        (
            str(pair.number), signed(pair.x_deg), signed(pair.y_deg), f"{pair.right_db:.1f}",
            f"{pair.left_db:.1f}", signed(pair.difference_db), signed_range(pair.interval_db),
            p_text(pair.p), p_text(pair.p_adjusted), "yes" if pair.stands_out else "no",
        )
        for pair in ordered
    )  # fmt: skip
    return Table("pairs", "Mirrored pairs, the largest difference first", heads, rows)


def visits_table(eye: EyeVisits) -> Table:
    """Visits of an eye with the mean level."""
    heads = ("Visit", "Exam", "After the first", "Mean level, dB")
    rows = tuple(
        (str(number), folder, span_text(years), f"{mean:.1f}")
        for number, (folder, years, mean) in enumerate(
            zip(eye.folders, eye.years, eye.mean_db, strict=True), start=1
        )
    )
    return Table("visits", f"Visits of the {eye.eye} eye", heads, rows)


def places_table(eye: EyeVisits) -> Table:
    """Places of an eye: first and last visit, step, and trend where there is one."""
    heads = ["Place", "First, dB", "Last, dB", "Step, dB", "95 % interval, dB", "p"]
    trends = {} if eye.change is None else {one.number: one for one in eye.change.trends}
    if trends:
        heads += ["Trend, dB a year (95 % interval)", "p of the trend"]
    rows = []
    for place in eye.steps:
        cells = [
            str(place.number), f"{place.first_db:.1f}", f"{place.last_db:.1f}",
            signed(place.step.difference_db), signed_range(place.step.interval_db),
            p_text(place.step.p),
        ]  # fmt: skip
        if trends:
            cells += [trend_text(trends[place.number]), p_text(trends[place.number].p)]
        rows.append(tuple(cells))
    return Table("places", f"Places of the {eye.eye} eye", tuple(heads), tuple(rows))


def tables(found: Comparison) -> list[Table]:
    """Every table."""
    made = [] if found.asymmetry is None else [pairs_table(found.asymmetry)]
    for eye in found.eyes:
        made += [visits_table(eye), places_table(eye)]
    return made


def as_data(found: Comparison) -> dict[str, Any]:
    """The comparison as plain data; units end the keys."""
    return {
        "notice": RESEARCH_ONLY,
        "participant": found.participant,
        "protocol": found.protocol,
        "pattern": found.pattern,
        "simulated": found.simulated,
        "reference_notice": found.reference_notice,
        "notes": list(found.notes),
        "exams": [
            {
                "exam": visit.folder,
                "opened_utc": visit.record.entries[0].utc,
                "years": visit.years,
                "journal_sha256": visit.record.journal_sha256,
            }
            for visit in found.visits
        ],
        "sentences": sentences(found),
        "asymmetry": None if found.asymmetry is None else asdict(found.asymmetry),
        "asymmetry_of": list(found.asymmetry_of),
        "eyes": {eye.eye: asdict(eye) for eye in found.eyes},
    }
