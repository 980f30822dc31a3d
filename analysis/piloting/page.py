"""The page of a pilot."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.piloting.methods import methods
from analysis.piloting.pictures import (
    MOST_SMALL,
    depth_picture,
    field_picture,
    pareto_pictures,
    roc_picture,
    slips_picture,
    small_pictures,
    times_picture,
)
from analysis.piloting.plan import PlanFile
from analysis.piloting.result import PilotResult
from analysis.piloting.rows import (
    calls_table,
    costs_table,
    depth_table,
    objectives_table,
    operating_table,
    pairs_table,
    place_table,
    repeats_table,
    samples_table,
    shape_table,
    slips_table,
    variants_table,
)
from analysis.piloting.words import dominated_sentences, naming_sentence, order_sentences
from analysis.plain_page.page import Page, Part
from analysis.report.facts import Fact


def pilot_page(result: PilotResult, plan: PlanFile) -> Page:
    """The page as data; the same pilot gives the same page."""
    parts = (_conclusions(result), _costs(result), _errors(result), _places(result))
    return Page(
        subtitle="protocols compared on simulated people",
        heading=result.name,
        facts=_facts(result),
        warnings=(result.simulated, result.origin.reference_notice),
        parts=(*parts, _repeats(result), _detection(result), *_slips(result), _samples(result),
               *_methods(result, plan)),
    )  # fmt: skip


def _facts(result: PilotResult) -> tuple[Fact, ...]:
    return (
        Fact("People", f"{result.people:,}, of them {result.people_with_loss:,} with loss"),
        Fact("Exams", f"{result.exams:,}"),
        Fact("Variants", str(len(result.variants))),
        Fact("Prevalence in the lab", f"{100 * result.prevalence:.3g} %"),
        Fact("Seed", str(result.seed)),
    )


def _conclusions(result: PilotResult) -> Part:
    about = (result.about,) if result.about else ()
    found = (*dominated_sentences(result), *order_sentences(result), naming_sentence(result))
    return Part(
        "conclusions",
        "Cost against accuracy",
        tuple(sentence for sentence in (*about, *found) if sentence),
        pareto_pictures(result),
        (objectives_table(result), pairs_table(result)),
    )


def _costs(result: PilotResult) -> Part:
    return Part(
        "costs",
        "What an exam costs",
        ("One eye, without practice and rests.",),
        (times_picture(result),),
        (costs_table(result),),
    )


def _errors(result: PilotResult) -> Part:
    return Part(
        "errors",
        "Error by depth and shape of loss",
        (
            "Loss in dB below the person's own healthy level: under 0.5, to 4, to 8, to 16, over "
            "16, and more than full contrast shows. Solid line and dots: RMS error; dashed line "
            f"and diamonds: bias, above 0 where estimates are too good.{_few(result)}",
        ),
        small_pictures(result, depth_picture),
        (depth_table(result), shape_table(result)),
    )


def _places(result: PilotResult) -> Part:
    return Part(
        "places",
        "Error by place",
        ("RMS error in dB at each place of a right eye; rings are 10 and 20 degrees.",),
        small_pictures(result, field_picture),
        (place_table(result),),
    )


def _few(result: PilotResult) -> str:
    many = len(result.variants) > MOST_SMALL
    return f" Pictures are of the first {MOST_SMALL} variants, tables of all." if many else ""


def _repeats(result: PilotResult) -> Part:
    if result.repeats == 1:
        return Part("repeats", "Spread of repeats", ("Everybody was examined once.",))
    return Part(
        "repeats",
        "Spread of repeats",
        ("Exams of the same person one after the other, with no true change between them.",),
        (),
        (repeats_table(result),),
    )


def _detection(result: PilotResult) -> Part:
    return Part(
        "detection",
        "Telling loss from none",
        (
            "The whole-field test weighs loss of any shape against none. Predictive values are "
            f"for the lab's own prevalence, {100 * result.prevalence:.3g} %: the share of people "
            "with loss among those called so, and without among those not. Screening protocols are "
            "judged by the same measures as threshold ones; what they say place by place is in the "
            "last table.",
        ),
        small_pictures(result, roc_picture),
        (operating_table(result), calls_table(result)),
    )


def _slips(result: PilotResult) -> tuple[Part, ...]:
    if not any(variant.slips for variant in result.variants):
        return ()
    return (
        Part(
            "slips",
            "Lapses and false presses",
            (
                "Everybody slips at one rate. Solid line and dots: lapses; dashed line and "
                "diamonds: false presses. False alarms and sensitivity in the table are at the "
                "cut that gives 95 % specificity with people as drawn.",
            ),
            small_pictures(result, slips_picture),
            (slips_table(result),),
        ),
    )


def _samples(result: PilotResult) -> Part:
    said = (
        "How many people the lab's own study takes if its spread is that of this pilot. Real "
        "people vary more from day to day: take these as lower bounds. Other questions: "
        "ripplefield samples --help."
    )
    if result.repeats == 1:
        return Part("samples", "People the lab's study takes", (f"{said} Needs repeats.",))
    table = samples_table(result)
    return Part("samples", "People the lab's study takes", (said,), (), (table,))


def _methods(result: PilotResult, plan: PlanFile) -> Sequence[Part]:
    origin = result.origin
    versions = ", ".join(f"{name} {number}" for name, number in origin.versions.items())
    return (
        Part("method", "Methods, to be adapted", methods(result, plan)),
        Part(
            "again",
            "The same again",
            (
                *origin.commands,
                f"Seed {result.seed}; plan {origin.plan}, SHA-256 {origin.plan_sha256}; "
                f"reference {origin.reference}, SHA-256 {origin.reference_sha256}; {versions}. "
                "The same plan, seed and versions give the same bytes on any number of processes.",
            ),
            (),
            (variants_table(result),),
        ),
    )
