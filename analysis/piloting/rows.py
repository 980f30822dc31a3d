"""The tables of a pilot's page."""

from __future__ import annotations

from collections.abc import Iterator
from math import sqrt

from analysis.piloting.result import PilotResult, Retest, VariantResult
from analysis.piloting.samples import agreement_pairs, paired_people
from analysis.piloting.words import NONE, number, percent, tagged, tags, told
from analysis.report.table import Table

CHANGE_DB = 1.0
"""Mean change over the field that a study is to find, and precision of agreement: half of it."""


def objectives_table(result: PilotResult) -> Table:
    """What variants are weighed by."""
    names = tags(list(result.objectives))
    by = {one.variant: ", ".join(names[k] for k in one.by) for one in result.dominated}
    heading = tagged(list(result.objectives))
    heads = (
        "Variant", "Mean seconds at the prevalence", "RMS error, dB",
        "Sensitivity at 95 % specificity and more, %", "Dominated by",
    )  # fmt: skip
    rows = tuple(
        (
            heading[label], told(found.seconds), told(found.rms_db, 2), percent(found.sensitivity),
            by.get(label, NONE),
        )
        for label, found in result.objectives.items()
    )  # fmt: skip
    return Table("objectives", "Cost and accuracy, with 95 % intervals", heads, rows)


def pairs_table(result: PilotResult) -> Table:
    """Differences of all pairs."""
    heads = ("Variant less another", "Seconds", "RMS error, dB", "Sensitivity, %", "Dominates")
    names = tags(list(result.objectives))
    rows = tuple(
        (
            f"{names[pair.variant]} less {names[pair.other]}", told(pair.difference.seconds),
            told(pair.difference.rms_db, 2), percent(pair.difference.sensitivity),
            "yes" if pair.dominates else "no",
        )
        for pair in result.pairs
    )  # fmt: skip
    return Table("pairs", "Differences, intervals for all pairs together", heads, rows)


def costs_table(result: PilotResult) -> Table:
    """Presentations and seconds."""
    heads = (
        "Variant", "People", "Presentations, median", "95th percentile", "Seconds, median",
        "95th percentile", "Seconds, mean",
    )  # fmt: skip
    rows = tuple(
        (
            variant.label, cost.group, told(cost.presentations.median, 0),
            told(cost.presentations.percentile_95, 0), told(cost.seconds.median),
            told(cost.seconds.percentile_95), told(cost.seconds.mean),
        )
        for variant in result.variants
        for cost in variant.costs
    )  # fmt: skip
    return Table("costs", "Presentations and seconds of an eye", heads, rows)


def depth_table(result: PilotResult) -> Table:
    """Errors by depth."""
    heads = (
        "Variant", "Loss at the place", "Estimates", "Bias, dB", "RMS error, dB", "Coverage, %",
    )  # fmt: skip
    rows = tuple(
        (
            variant.label, row.depth, f"{row.errors.places:,}", told(row.errors.bias_db, 2),
            told(row.errors.rms_db, 2), percent(row.errors.coverage),
        )
        for variant in result.variants
        for row in variant.by_depth
        if row.errors is not None
    )  # fmt: skip
    return Table("depth", "Error by depth of loss", heads, rows)


def shape_table(result: PilotResult) -> Table:
    """Errors and detection by shape of loss."""
    heads = (
        "Variant", "Shape of loss", "People", "Bias, dB", "RMS error, dB", "Coverage, %",
        "Found at 95 % specificity, %",
    )  # fmt: skip
    rows = tuple(
        (
            variant.label, row.shape.replace("_", " "), f"{row.people:,}",
            told(row.errors.bias_db, 2), told(row.errors.rms_db, 2), percent(row.errors.coverage),
            percent(row.found),
        )
        for variant in result.variants
        for row in variant.by_shape
        if row.errors is not None
    )  # fmt: skip
    return Table("shape", "Error by shape of loss", heads, rows)


def place_table(result: PilotResult) -> Table:
    """Errors by place."""
    heads = ("Variant", "x, °", "y, °", "Bias, dB", "RMS error, dB", "Coverage, %")
    rows = tuple(
        (
            variant.label, number(place.x_deg), number(place.y_deg),
            told(place.errors.bias_db, 2), told(place.errors.rms_db, 2),
            percent(place.errors.coverage),
        )
        for variant in result.variants
        for place in variant.by_place
    )  # fmt: skip
    return Table("place", "Error by place of a right eye", heads, rows)


def calls_table(result: PilotResult) -> Table:
    """What is said of places, by their true grade."""
    heads = (
        "Variant", "The place truly is", "Places", "Called below the limit, %",
        "Given that grade, %", "Given none, %",
    )  # fmt: skip
    rows = tuple(
        (
            variant.label, call.truth, f"{call.places:,}", percent(call.below),
            percent(call.right), percent(call.none),
        )
        for variant in result.variants
        for call in variant.calls
    )  # fmt: skip
    return Table("calls", "Grades of places against the truth", heads, rows)


def repeats_table(result: PilotResult) -> Table:
    """Spread of repeats."""
    heads = ("Variant", "Repeats", "SD at a place, dB", "Repeatability, dB", "SD of the mean, dB")
    rows = tuple(
        (
            variant.label, str(of.repeats), told(of.within_sd_db, 2),
            number(of.repeatability_db, 2), told(of.mean_within_sd_db, 2),
        )
        for variant, of in _retests(result)
    )  # fmt: skip
    return Table("repeats", "Spread of repeats within a person", heads, rows)


def operating_table(result: PilotResult) -> Table:
    """Operating points and predictive values."""
    heads = (
        "Variant", "Says loss", "Specificity, %", "Sensitivity, %",
        "Right where it says loss, %", "Right where it says none, %",
    )  # fmt: skip
    rows = tuple(
        (
            variant.label, rule.rule, percent(rule.specificity), percent(rule.sensitivity),
            percent(rule.positive_predictive_value), percent(rule.negative_predictive_value, 2),
        )
        for variant in result.variants
        for rule in variant.detection.operating
    )  # fmt: skip
    areas = tuple(
        (variant.label, "area under the ROC curve", NONE, percent(variant.detection.area), NONE,
         NONE)
        for variant in result.variants
    )  # fmt: skip
    return Table("operating", "Detection and what a result is worth", heads, (*areas, *rows))


def slips_table(result: PilotResult) -> Table:
    """Measures with slips."""
    heads = (
        "Variant", "Habit", "Rate, %", "Seconds, median", "Bias, dB", "RMS error, dB",
        "Coverage, %", "False alarms, %", "Sensitivity, %",
    )  # fmt: skip
    rows = tuple(
        (
            variant.label, row.habit, NONE if row.rate is None else f"{100 * row.rate:.3g}",
            told(row.seconds), told(row.errors.bias_db, 2), told(row.errors.rms_db, 2),
            percent(row.errors.coverage), percent(row.false_alarms), percent(row.sensitivity),
        )
        for variant in result.variants
        for row in variant.slips
    )  # fmt: skip
    return Table("slips", "Lapses and false presses", heads, rows)


def samples_table(result: PilotResult) -> Table:
    """People a study takes with each variant's spread of repeats of the field's mean."""
    heads = (
        "Variant", "SD of differences of the mean, dB",
        f"People for a mean change of {CHANGE_DB:g} dB (power 0.8, alpha 0.05)",
        f"People for limits of agreement to {CHANGE_DB / 2:g} dB",
    )  # fmt: skip
    rows = []
    for variant, of in _retests(result):
        sd = sqrt(2) * of.mean_within_sd_db.value
        people = paired_people(CHANGE_DB, sd), agreement_pairs(sd, CHANGE_DB / 2)
        rows.append((variant.label, number(sd, 2), *(str(count) for count in people)))
    return Table("samples", "Study sizes", heads, tuple(rows))


def _retests(result: PilotResult) -> Iterator[tuple[VariantResult, Retest]]:
    for variant in result.variants:
        if variant.retest is not None:
            yield variant, variant.retest


def variants_table(result: PilotResult) -> Table:
    """Where each variant's protocol is, to run it with."""
    heads = ("Variant", "Protocol file", "Pattern", "Places", "SHA-256")
    rows = tuple(
        (one.label, one.file, one.pattern, str(one.places), one.sha256) for one in result.variants
    )
    return Table("variants", "Protocol files of the variants", heads, rows)
