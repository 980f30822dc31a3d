"""The page of a new reference: what it is worth, the fit by place and age, codes to look at."""

from __future__ import annotations

from analysis.measured import Measured
from analysis.plain_page.page import Page, Part
from analysis.reference_build.build import Built
from analysis.reference_build.pictures import left_out_picture, place_pictures, profile_picture
from analysis.reference_build.tolerance import wilks_people
from analysis.reference_build.words import percent, percent_range, tolerance_sentence
from analysis.report.facts import Fact
from analysis.report.rows import Table


def reference_page(built: Built) -> Page:
    """The page as data; the same reference gives the same page."""
    return Page(
        subtitle="age limits from a lab's own healthy exams",
        heading=built.file.name,
        facts=_facts(built),
        warnings=_warnings(built),
        parts=(_worth(built), _places(built), _people(built), _method(built)),
    )


def _measured(built: Built) -> Measured:
    assert built.file.measured is not None
    return built.file.measured


def _facts(built: Built) -> tuple[Fact, ...]:
    file, measured = built.file, _measured(built)
    return (
        Fact("People", str(file.people)),
        Fact("Eyes", str(measured.eyes)),
        Fact("Exams", str(measured.exams)),
        Fact("Ages", f"{file.from_age_years} to {file.to_age_years} years"),
        Fact("Protocol", f"{measured.protocol}, {measured.pattern}"),
    )


def _warnings(built: Built) -> tuple[str, ...]:
    measured = _measured(built)
    found = [built.file.notice] if built.file.synthetic else []
    if measured.uncalibrated:
        found.append(f"Uncalibrated display in {measured.uncalibrated} of {measured.exams} exams")
    if built.file.people < wilks_people(0.99):
        found.append("The 1 % limit leans on pooling over places")
    return tuple(found)


def _worth(built: Built) -> Part:
    measured = _measured(built)
    sentences = tuple(tolerance_sentence(one, measured.confidence) for one in measured.tolerances)
    return Part(
        "worth",
        "How sure the limits are",
        (*sentences, _wilks_sentence(built)),
        (profile_picture(built), left_out_picture(built)),
        (_tolerance_table(measured),),
    )


def _wilks_sentence(built: Built) -> str:
    measured, needed = _measured(built), wilks_people(0.99)
    text = (
        f"Without any assumption, the lowest of {built.file.people} people at a place is a limit "
        f"that {percent(measured.wilks_content)} or more of all people pass, with 95 % confidence "
        f"(Wilks 1941)."
    )
    if built.file.people < needed:
        return f"{text} For 99 % this takes {needed} people, {needed - built.file.people} more."
    return text


def _tolerance_table(measured: Measured) -> Table:
    rows = tuple(
        (percent(one.share), percent(one.left_out), percent_range(one.interval))
        for one in measured.tolerances
    )
    heads = ("Limit", "Left out in turn: below it", "All healthy people, 95 % interval")
    return Table("tolerances", "What the limits are worth", heads, rows)


def _places(built: Built) -> Part:
    return Part(
        "places",
        "The fit by place and age",
        (
            "Level in dB over age in years, right eyes as dots, left eyes (mirrored) as rings. "
            "Solid line: median; dotted: 5 % limit; dashed: 1 % limit; a cross is a level below "
            "the 1 % limit when its person is left out of the fit.",
        ),
        place_pictures(built),
        (_place_table(built),),
    )


def _place_table(built: Built) -> Table:
    file, fit = built.file, built.fit
    ages = (file.from_age_years, round(fit.middle_age_years), file.to_age_years)
    heads = (
        "Place", "x, °", "y, °", "People", f"Median at {fit.middle_age_years:g}, dB",
        "Change in ten years, dB", "SD, dB", *(f"1 % limit at {age}, dB" for age in ages),
        "Left out: below", "At most below, 95 % sure",
    )  # fmt: skip
    limits = built.limits_db([float(age) for age in ages])
    rows = tuple(
        (
            str(number), f"{one.x_deg + 0:.1f}", f"{one.y_deg + 0:.1f}", str(one.people),
            f"{one.median_db:.1f}", f"{10 * one.change_db_per_year:+.2f}", f"{one.spread_db:.2f}",
            *(f"{limit:.1f}" for limit in limits[:, number]), percent(one.left_out_below),
            percent(one.at_most_share),
        )
        for number, one in enumerate(_measured(built).places)
    )  # fmt: skip
    return Table("places", "Places, written for the right eye", heads, rows)


def _people(built: Built) -> Part:
    odd, left_out = built.outliers, built.facts.left_out
    count = f"{len(odd)} of {len(built.sample)} people are"
    said = f"{count} unlike the others and worth a second look; none was removed for it."
    rows = tuple(
        (
            one.code, f"{one.age_years:g}", f"{one.mean_db:+.1f}", f"{one.worst_db:+.1f}",
            str(one.worst_place), str(_doubtful(built, one.code)), one.reason,
        )
        for one in odd
    )  # fmt: skip
    heads = (
        "Code", "Age", "Mean from the median, dB", "Worst place, dB", "Its number",
        "Wrong catch trials", "Why",
    )  # fmt: skip
    tables = [Table("outliers", "Outliers by code", heads, rows)] if odd else []
    if left_out:
        lines = tuple((line,) for line in left_out)
        tables.append(Table("not-used", "Eyes that were not used", ("What and why",), lines))
    return Part("people", "People", (said,), (), tuple(tables))


def _doubtful(built: Built, code: str) -> int:
    counts = built.sample.doubtful
    return counts[built.sample.codes.index(code)] if counts else 0


def _method(built: Built) -> Part:
    measured = _measured(built)
    return Part(
        "method",
        "How it was made",
        (
            measured.method,
            measured.pooling,
            "Of each person and eye the first complete exam counts. Intervals treat the places of "
            "a person as one cluster (Korn & Graubard 1998). At a single place the last column of "
            "the table takes deviations as normal (ISO 16269-6).",
        ),
    )
