"""The page of a comparison."""

from __future__ import annotations

from analysis.compare import Comparison, EyeVisits
from analysis.compare_pictures import (
    agreement_picture,
    means_picture,
    pairs_picture,
    trends_picture,
)
from analysis.compare_rows import pairs_table, places_table, visits_table
from analysis.compare_words import asymmetry_sentences, visit_sentences
from analysis.plain_page.page import Page, Part, Picture
from analysis.report.facts import Fact, date_text


def comparison_page(found: Comparison) -> Page:
    """The page as data; the same exams give the same page."""
    return Page(
        subtitle="eyes and visits compared",
        heading=found.participant,
        facts=_facts(found),
        warnings=_warnings(found),
        parts=(*_eyes_part(found), *(_visits_part(eye) for eye in found.eyes), _method()),
    )


def _facts(found: Comparison) -> tuple[Fact, ...]:
    first, last = found.visits[0], found.visits[-1]
    days = {date_text(visit.record.entries[0].utc) for visit in (first, last)}
    return (
        Fact("Exams", str(len(found.visits))),
        Fact("Age", f"{last.result.exam.age_years} years"),
        Fact("From", date_text(first.record.entries[0].utc)),
        *((Fact("To", date_text(last.record.entries[0].utc)),) if len(days) > 1 else ()),
        Fact("Protocol", f"{found.protocol}, {found.pattern}"),
    )


def _warnings(found: Comparison) -> tuple[str, ...]:
    told = ["Simulated participant: no person was examined."] if found.simulated else []
    if found.synthetic:
        told.append(found.reference_notice)
    return (*told, *found.notes)


def _eyes_part(found: Comparison) -> tuple[Part, ...]:
    if found.asymmetry is None:
        return ()
    of = " and ".join(found.asymmetry_of)
    return (
        Part(
            "eyes",
            "The two eyes",
            (*asymmetry_sentences(found.asymmetry), f"From {of}."),
            (pairs_picture(found.asymmetry),),
            (pairs_table(found.asymmetry),),
        ),
    )


def _visits_part(eye: EyeVisits) -> Part:
    return Part(
        f"visits-{eye.eye}",
        f"{eye.eye.capitalize()} eye over visits",
        tuple(visit_sentences(eye)),
        tuple(_visit_pictures(eye)),
        (visits_table(eye), places_table(eye)),
    )


def _visit_pictures(eye: EyeVisits) -> list[Picture]:
    shown = [means_picture(eye)]
    if eye.change is not None:
        shown.append(trends_picture(eye, eye.change))
    if eye.agreement is not None:
        shown.append(agreement_picture(eye, eye.agreement))
    return shown


def _method() -> Part:
    return Part(
        "method",
        "How it was worked out",
        (
            "Levels are the exams' estimates in delivered contrast dB; intervals of differences "
            "come from the posteriors of both. General differences and steps: sign-flip test over "
            "places. Change over visits: permutation of pointwise regression (O'Leary 2012), the "
            "fields moved as wholes. Pairs that stand out: false-discovery rate 5 % (Benjamini & "
            "Hochberg 1995). Agreement: Bland & Altman 1986.",
            "The tests ask whether answers differ between eyes or visits, not whether that is "
            "rare among healthy people.",
        ),
    )
