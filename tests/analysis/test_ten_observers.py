"""The page of ten very different people: its numbers agree, nothing overlaps, its words are true.

What is hidden in each stands in `ten_observers.py`; what the words must say is worked out from
that, not from a result.
"""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from page_exams import make_exam
from ten_observers import TEN
from test_figures import (  # noqa: F401  the same tests, on the exams of this file
    drawn,
    results,
    test_intervals_are_sorted_by_deviation_and_reach_as_far_as_the_result_says,
    test_levels_beside_the_discs_are_those_of_the_result,
)
from test_report_page import (  # noqa: F401
    DIAGNOSES,
    test_no_word_touches_another_or_leaves_its_picture,
    test_the_tables_agree_with_result_json,
)

from analysis.grade import grade_folder
from analysis.next_step import CHANCE, NOTHING, RARE, UNLIKE, UNUSABLE_STEP
from analysis.report.page import write_report
from analysis.result import EyeResult, PlaceResult, Result
from protocols.field import Eye, Place
from protocols.observer import sensitivity_db

CAREFUL = [name for name in TEN if name not in ("trigger-happy", "wandering", "tired")]
NOISE_DB = 6.0
"""What a reading near the limit may be off by: about two interval half-widths of one place."""


@pytest.fixture(scope="module")
def exams(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    top = tmp_path_factory.mktemp("ten")
    made = {}
    for number, (name, (person, protocol)) in enumerate(TEN.items(), start=1):
        made[name] = make_exam(top / name, person, protocol=protocol, code=f"T-{number:03}")
        grade_folder(made[name])
    return made


@pytest.fixture(scope="module")
def pages(exams: dict[str, Path]) -> dict[str, Path]:
    return {name: write_report([folder], folder / "page.html") for name, folder in exams.items()}


@pytest.fixture(scope="module")
def eyes(exams: dict[str, Path]) -> dict[str, dict[str, EyeResult]]:
    return {
        name: msgspec.json.decode((folder / "result.json").read_bytes(), type=Result).eyes
        for name, folder in exams.items()
    }


def _truth_below_limit_db(name: str, eye: Eye, place: PlaceResult) -> float:
    truth = sensitivity_db(TEN[name][0], eye, Place(place.x_deg, place.y_deg))
    return place.limit_db - truth


@pytest.mark.parametrize("name", CAREFUL)
def test_what_is_called_lost_is_lost_and_what_is_called_seen_is_seen(eyes, name: str) -> None:
    for eye, found in eyes[name].items():
        for place in found.places:
            below = _truth_below_limit_db(name, eye, place)
            if place.grade:
                assert below > -NOISE_DB, (name, eye, place.number)
            if place.grade == 0:
                assert below < NOISE_DB, (name, eye, place.number)


def test_each_eye_is_told_its_next_step(eyes) -> None:
    steps = {
        f"{name} {eye}": found.next_step
        for name, both in eyes.items()
        for eye, found in both.items()
    }
    lost = ("arc-upper right", "arc-lower left", "very-old right", "very-old left")
    assert {steps[one] for one in lost} == {RARE}
    small = ("isolated right", "nasal-step right", "diffuse right", "diffuse left")
    assert {steps[one] for one in small} <= {CHANCE, UNLIKE, RARE}
    whole = ("healthy right", "healthy left", "arc-upper left", "arc-lower right", "isolated left")
    assert {steps[one] for one in whole} == {NOTHING}
    assert {steps[f"trigger-happy {eye}"] for eye in ("right", "left")} == {UNUSABLE_STEP}


def test_where_the_loss_lies_is_told(eyes) -> None:
    assert "all lie in the upper half" in eyes["arc-upper"]["right"].sentence
    assert "all lie in the lower half" in eyes["arc-lower"]["left"].sentence
    assert "up and to the left" in eyes["nasal-step"]["right"].sentence
    assert "Place 6 is very likely below that level" in eyes["isolated"]["right"].sentence


def test_answers_that_cannot_be_used_are_said_so_beside_the_finding(eyes) -> None:
    """One press in four came at nothing; catch trials alone need not show it."""
    for found in eyes["trigger-happy"].values():
        _, doubt = found.sentence.split("Read with care: ")
        assert "presses came at nothing" in doubt


def test_a_slip_that_was_seen_is_kept_in_mind(eyes) -> None:
    wrong = [found for found in eyes["wandering"].values() if found.reliability.fixation.wrong]
    assert wrong
    for found in wrong:
        assert "blind spot" in found.next_step or "left the mark" in found.sentence


def test_places_are_told_to_the_last(eyes) -> None:
    """Every place is within, below or undecided, and the sentence leaves none of them out."""
    for found in (found for both in eyes.values() for found in both.values()):
        undecided = [one.number for one in found.places if one.grade is None]
        assert all(str(number) in found.sentence for number in undecided)
        if not undecided:
            assert "not sure" not in found.sentence


def test_every_step_stands_on_the_page_and_names_no_disease(eyes, pages) -> None:
    for name, both in eyes.items():
        text = pages[name].read_text()
        for found in both.values():
            assert found.next_step.startswith("Next: ")
            assert f'<p class="next">{found.next_step}</p>' in text
            assert not any(word in found.next_step.lower() for word in DIAGNOSES)
