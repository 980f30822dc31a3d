"""The numbers of a pilot as tidy tables: one row an observation, intervals as columns."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from analysis.columns import csv_text
from analysis.piloting.result import Errors, Measure, Objectives, PilotResult, VariantResult

Row = dict[str, Any]
MEANINGS = {
    "variant": "label of the variant",
    "value": "the number; low and high are its 95 % Monte-Carlo interval",
    "low": "lower end of the 95 % Monte-Carlo interval",
    "high": "upper end of it",
    "quantity": "presentations or seconds of an eye, or which measure the value is",
    "statistic": "mean, median or percentile_95 over first exams",
    "group": "people without loss, with loss, or weighted to the lab's prevalence",
    "by": "all, place, depth or shape: what the errors are taken over",
    "which": "which depth or shape",
    "x_deg": "place of the right eye, degrees of visual angle, right positive",
    "y_deg": "the same, up positive",
    "places": "estimates behind the number",
    "people": "people behind the number",
    "rule": "rule that says loss or none",
    "false_alarms": "share of people without loss above the cut",
    "habit": "as drawn, lapses or false presses",
    "rate": "rate of that habit for everybody",
    "other": "the variant that is taken off",
    "dominates": "1 if the variant dominates the other",
    "repeats": "exams of each person",
    "truth": "true grade of the places, in words; quantity: share called below the limit, given "
    "that grade (right), given none",
}


def tables_of(result: PilotResult) -> dict[str, str]:
    """Each table's file name and CSV text."""
    rows: Mapping[str, list[Row]] = {
        "objectives": list(_objectives(result)),
        "pairs": list(_pairs(result)),
        "costs": list(_each(result, _costs)),
        "errors": list(_each(result, _errors)),
        "calls": list(_each(result, _calls)),
        "repeats": list(_each(result, _repeats)),
        "detection": list(_each(result, _detection)),
        "roc": list(_each(result, _roc)),
        "slips": list(_each(result, _slips)),
    }
    return {f"{name}.csv": csv_text(list(found[0]), found) for name, found in rows.items() if found}


def _each(result: PilotResult, rows: Any) -> Iterator[Row]:
    for variant in result.variants:
        for row in rows(variant):
            yield {"variant": variant.label, **row}


def _value(found: Measure) -> Row:
    return {"value": found.value, "low": found.low, "high": found.high}


def _three(found: Errors) -> Iterator[Row]:
    for name in ("bias_db", "rms_db", "coverage"):
        yield {"quantity": name, "places": found.places, **_value(getattr(found, name))}


def _objectives(result: PilotResult) -> Iterator[Row]:
    for label, found in result.objectives.items():
        for name in Objectives.__struct_fields__:
            yield {"variant": label, "quantity": name, **_value(getattr(found, name))}


def _pairs(result: PilotResult) -> Iterator[Row]:
    for pair in result.pairs:
        head = {"variant": pair.variant, "other": pair.other, "dominates": int(pair.dominates)}
        for name in Objectives.__struct_fields__:
            yield {**head, "quantity": name, **_value(getattr(pair.difference, name))}


def _costs(variant: VariantResult) -> Iterator[Row]:
    for cost in variant.costs:
        for quantity in ("presentations", "seconds"):
            for statistic in ("mean", "median", "percentile_95"):
                found = getattr(getattr(cost, quantity), statistic)
                head = {"group": cost.group, "people": cost.people, "quantity": quantity}
                yield {**head, "statistic": statistic, **_value(found)}


def _errors(variant: VariantResult) -> Iterator[Row]:
    nowhere = {"x_deg": None, "y_deg": None}
    everywhere: Row = {"by": "all", "which": "", **nowhere}
    heads: list[tuple[Row, Errors | None]] = [(everywhere, variant.errors)]
    for place in variant.by_place:
        where = {"x_deg": place.x_deg, "y_deg": place.y_deg}
        heads.append(({"by": "place", "which": "", **where}, place.errors))
    for depth in variant.by_depth:
        heads.append(({"by": "depth", "which": depth.depth, **nowhere}, depth.errors))
    for shape in variant.by_shape:
        heads.append(({"by": "shape", "which": shape.shape, **nowhere}, shape.errors))
    for head, errors in heads:
        if errors is not None:
            for row in _three(errors):
                yield {**head, **row}


def _calls(variant: VariantResult) -> Iterator[Row]:
    for call in variant.calls:
        for name in ("below", "right", "none"):
            head = {"truth": call.truth, "places": call.places, "quantity": name}
            yield {**head, **_value(getattr(call, name))}


def _repeats(variant: VariantResult) -> Iterator[Row]:
    if variant.retest is None:
        return
    head = {"repeats": variant.retest.repeats}
    everywhere = {"by": "all", "which": ""}
    for name in ("within_sd_db", "mean_within_sd_db"):
        yield {**head, **everywhere, "quantity": name, **_value(getattr(variant.retest, name))}
    for depth in variant.by_depth:
        if depth.within_sd_db is not None:
            where = {"by": "depth", "which": depth.depth}
            yield {**head, **where, "quantity": "within_sd_db", **_value(depth.within_sd_db)}


def _detection(variant: VariantResult) -> Iterator[Row]:
    found = variant.detection
    for name in ("area", "upper_area"):
        yield {"rule": "whole-field test", "quantity": name, **_value(getattr(found, name))}
    quantities = (
        "specificity", "sensitivity", "positive_predictive_value", "negative_predictive_value",
    )  # fmt: skip
    for rule in found.operating:
        for name in quantities:
            yield {"rule": rule.rule, "quantity": name, **_value(getattr(rule, name))}
    for shape in variant.by_shape:
        if shape.found is not None:
            name = f"whole-field test at 95 % specificity, {shape.shape}"
            yield {"rule": name, "quantity": "sensitivity", **_value(shape.found)}


def _roc(variant: VariantResult) -> Iterator[Row]:
    for point in variant.detection.roc:
        yield {
            "quantity": "sensitivity",
            "false_alarms": point.false_alarms,
            **_value(point.sensitivity),
        }


def _slips(variant: VariantResult) -> Iterator[Row]:
    for row in variant.slips:
        head = {"habit": row.habit, "rate": row.rate, "people": row.people}
        measures = {
            "median_seconds": row.seconds,
            "bias_db": row.errors.bias_db,
            "rms_db": row.errors.rms_db,
            "coverage": row.errors.coverage,
            "false_alarms": row.false_alarms,
            "sensitivity": row.sensitivity,
        }
        for name, found in measures.items():
            yield {**head, "quantity": name, **_value(found)}
