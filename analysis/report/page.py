"""The page of one or several exams: a single file that reads on a screen and prints on one sheet.

The same folders give the same bytes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from analysis.figures.key import NOTES
from analysis.figures.session import session_of
from analysis.reference import Reference
from analysis.report import facts, pictures, rows, scheme
from analysis.report.exam import Shown, read_exams
from analysis.report.sheet import sheets_pdf
from analysis.report.templating import templates
from analysis.result import EyeResult
from protocols import RESEARCH_ONLY
from protocols.errors import InputError
from protocols.field import Eye
from protocols.write import write_whole


@dataclass(frozen=True)
class EyeView:
    """One eye as the template shows it."""

    eye: Eye
    anchor: str
    sentence: str
    summary: str
    next_step: str
    pictures: tuple[pictures.Picture, ...]
    tables: tuple[rows.Table, ...]

    @property
    def name(self) -> str:
        """How the sentence begins; empty if it does not begin with the eye's name."""
        name = f"{self.eye.capitalize()} eye:"
        return name if self.sentence.startswith(name) else ""


@dataclass(frozen=True)
class ExamView:
    """One exam as the template shows it."""

    anchor: str
    participant: str
    began: str
    head: tuple[facts.Fact, ...]
    warnings: tuple[str, ...]
    eyes: tuple[EyeView, ...]
    key: tuple[pictures.KeySign, ...]
    groups: tuple[facts.Group, ...]

    @property
    def side_by_side(self) -> bool:
        """Whether two eyes have pictures to be set beside each other."""
        return sum(bool(eye.pictures) for eye in self.eyes) > 1


def report_page(folders: Sequence[Path], reference: Reference | None = None) -> str:
    """The page of the exams in these folders as HTML; raises InputError for a folder without."""
    exams = read_exams(folders, reference)
    return templates("analysis.report").get_template("page.html.j2").render(
        exams=[_exam_view(shown, number) for number, shown in enumerate(exams, start=1)],
        research_only=RESEARCH_ONLY,
        key_notes=NOTES,
        light=scheme.declarations(dark=False),
        dark=scheme.declarations(dark=True),
    )


def exam_articles(folders: Sequence[Path]) -> str:
    """The exams alone as HTML, for a page that brings `page.css` and the scheme's colours itself.

    Raises InputError for a folder that holds no exam.
    """
    exams = read_exams(folders, None)
    template = templates("analysis.report").get_template("exam.html.j2")
    return "\n".join(
        template.render(
            exam=_exam_view(shown, number), research_only=RESEARCH_ONLY, key_notes=NOTES
        )
        for number, shown in enumerate(exams, start=1)
    )


def write_report(
    folders: Sequence[Path], out: Path, reference: Reference | None = None
) -> Path:
    """Write the page as .html or, one sheet an exam, as .pdf; returns the path.

    Raises InputError for another suffix, a folder that is not there, or one without an exam.
    """
    if out.suffix.lower() not in (".html", ".pdf"):
        raise InputError(
            "--out", str(out), "a name that ends in .html or .pdf", "Rename the page."
        )
    if not out.parent.is_dir():
        raise InputError(
            "--out", str(out), "a name in a folder that exists", "Make the folder first."
        )
    if out.suffix.lower() == ".pdf":
        content = sheets_pdf(read_exams(folders, reference))
    else:
        content = report_page(folders, reference).encode()
    write_whole(out, content)
    return out


def _exam_view(shown: Shown, number: int) -> ExamView:
    anchor = f"exam-{number}"
    return ExamView(
        anchor=anchor,
        participant=shown.result.exam.participant,
        began=facts.date_text(shown.result.exam.opened_utc),
        head=facts.head_facts(shown),
        warnings=facts.warnings(shown.result),
        eyes=tuple(_eye_view(shown, eye, found, anchor) for eye, found in shown.eyes),
        key=pictures.key_signs(f"{anchor}-key"),
        groups=facts.groups(shown),
    )


def _eye_view(shown: Shown, eye: Eye, found: EyeResult, exam: str) -> EyeView:
    anchor = f"{exam}-{eye}"
    session = session_of(shown.record, eye)
    drawn: tuple[pictures.Picture, ...] = ()
    if session is not None:
        drawn = (
            pictures.field_picture(f"{anchor}-field", eye, found.places),
            pictures.intervals_picture(f"{anchor}-intervals", eye, found.places),
            pictures.reliability_picture(f"{anchor}-reliability", eye, found.reliability),
            pictures.timeline_picture(f"{anchor}-timeline", eye, session),
        )
    tables = () if session is None else rows.tables(found, shown.record.of_eye(eye), session)
    said = (found.sentence, facts.eye_facts(found), found.next_step)
    return EyeView(eye, anchor, *said, drawn, tables)
