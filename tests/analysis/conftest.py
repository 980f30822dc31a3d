"""Exams, their pages, and a real browser to look at them with."""

from __future__ import annotations

from pathlib import Path

import pytest
from page_exams import WEAK_AND_TIRED, house_protocol, make_exam

from analysis.grade import grade_folder
from analysis.report.page import write_report
from protocols.messages import Hold, SkipEye, Stop


@pytest.fixture(scope="session")
def exams(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Graded exams by name: very different ones."""
    top = tmp_path_factory.mktemp("exams")
    made = {
        "arc": make_exam(top / "arc", "arc-loss", code="P-001"),
        "doubtful": make_exam(
            top / "doubtful", "trigger-happy", code="P-002",
            asks={14: Hold("a knock"), 30: Hold("a pause")},
        ),
        "tired": make_exam(top / "tired", WEAK_AND_TIRED, code="LONG-CODE-0000000003"),
        "one-eye": make_exam(top / "one", WEAK_AND_TIRED, ("left",), "staircase-19", "P-004"),
        "dense": make_exam(
            top / "dense", WEAK_AND_TIRED, ("right",), house_protocol(top / "house"), "P-005"
        ),
        "stopped": make_exam(top / "stopped", "arc-loss", asks={20: Stop("tired")}),
        "skipped": make_exam(top / "skipped", "arc-loss", asks={12: SkipEye()}),
    }  # fmt: skip
    for folder in made.values():
        grade_folder(folder)
    return made


@pytest.fixture(scope="session")
def pages(exams: dict[str, Path]) -> dict[str, Path]:
    """The page of each exam, written into its folder."""
    return {name: write_report([f], f / "report.html") for name, f in exams.items()}
