"""An exam entered for the wrong eye, graded as the eye that was tested in truth.

The true eye saw the same screen: degrees as seen stay, temporal becomes nasal. The limits follow
from the mirror law of the visual field: what the right eye reaches at (x, y), the left reaches at
(-x, y) (the project's own coordinates, design section 2; common usage in perimetry).
"""

from __future__ import annotations

import json

import pytest
from records import record

from analysis.grade import grade_folder
from analysis.load import load_exam
from analysis.reference import limits_db, load_reference
from analysis.report.page import exam_articles
from analysis.result import Result
from protocols.errors import InputError
from protocols.field import Place
from protocols.files import decode_toml
from protocols.library import load_protocol
from protocols.observer import ObserverFile
from stimulus.station.corrections import correct
from stimulus.station.index import Index
from stimulus.unfinished import load_record

LOSS = """
format = 1
about = "Invented: nothing seen in a disc at the left of the screen."
age_years = 45

[[right.losses]]
shape = "disc"
x_deg = -16.0
y_deg = 8.0
radius_deg = 9.0
depth_db = 45.0

[[left.losses]]
shape = "disc"
x_deg = -16.0
y_deg = 8.0
radius_deg = 9.0
depth_db = 45.0
"""


def observer() -> ObserverFile:
    """Loses the same part of the screen with either eye."""
    return decode_toml(ObserverFile, LOSS, "loss.toml", "observer")


def graded(folder) -> Result:
    return grade_folder(folder)


def deep(result: Result, eye: str) -> set[tuple[float, float]]:
    return {(p.x_deg, p.y_deg) for p in result.eyes[eye].places if p.grade == 4}


@pytest.mark.parametrize(("entered", "true"), [("right", "left"), ("left", "right")])
def test_places_stay_where_they_were_seen_and_limits_are_the_true_eyes(tmp_path, entered, true):
    folder = tmp_path / "e"
    record(folder, observer(), seed=5, eyes=(entered,))
    before = graded(folder)
    correct(folder, "eye", true, "AB")
    after = graded(folder)
    assert set(after.eyes) == {true}
    assert deep(after, true) == deep(before, entered) != set()
    assert all(x < 0 for x, _ in deep(after, true))
    reference = load_reference()
    for place in after.eyes[true].places:
        here = Place(place.x_deg, place.y_deg)
        mirrored = Place(-place.x_deg, place.y_deg)
        assert place.limit_db == pytest.approx(
            float(limits_db(reference, [here], 45, true)[0]), abs=1e-4
        )
        assert place.limit_db == pytest.approx(
            float(limits_db(reference, [mirrored], 45, entered)[0]), abs=1e-4
        )


def test_grades_are_those_of_an_exam_entered_rightly(tmp_path):
    """Two exams of one true left eye; grades by another draw of places and answers may differ at

    a limit, so depth (unseen at full contrast or not) is compared, which may not.
    """
    record(tmp_path / "wrong", observer(), seed=5, eyes=("right",))
    correct(tmp_path / "wrong", "eye", "left", "AB")
    record(tmp_path / "right", observer(), seed=6, eyes=("left",))
    put_right, entered_right = graded(tmp_path / "wrong"), graded(tmp_path / "right")
    assert deep(put_right, "left") == deep(entered_right, "left")


def test_targets_beside_the_true_blind_spot_say_nothing_of_the_gaze(tmp_path):
    folder = tmp_path / "e"
    record(folder, observer(), seed=5, eyes=("right",))
    assert graded(folder).eyes["right"].reliability.fixation.shown >= 3
    correct(folder, "eye", "left", "AB")
    after = graded(folder)
    rates = after.eyes["left"].reliability
    assert (rates.fixation.shown, rates.fixation.rate) == (0, None)
    assert rates.false_positive.shown >= 3
    assert "was not checked" in after.eyes["left"].sentence
    assert after.eyes["left"].trust.gaze.exposures == 0


def test_the_report_and_the_result_say_that_it_was_corrected(tmp_path):
    folder = tmp_path / "e"
    record(folder, observer(), seed=5, eyes=("right",))
    correct(folder, "eye", "left", "AB")
    said = "Corrected after the exam: eye was right, is left (by AB)."
    assert json.loads((folder / "result.json").read_text())["corrections"] == [said]
    page = exam_articles([folder])
    assert said in page
    assert "Left eye" in page
    assert "Right eye:" not in page


def test_both_eyes_swapped_and_taken_back(tmp_path):
    folder = tmp_path / "exams" / "e"
    folder.parent.mkdir()
    record(folder, observer(), seed=5, eyes=("right", "left"))
    before = graded(folder)
    correct(folder, "eye", "left and right swapped", "AB")
    swapped = graded(folder)
    assert deep(swapped, "left") == deep(before, "right")
    assert deep(swapped, "right") == deep(before, "left")
    assert Index(tmp_path).of("e").eye_corrected
    correct(folder, "eye", "as entered", "AB")
    back = graded(folder)
    assert back.eyes == before.eyes
    assert len(back.corrections) == 2
    assert not Index(tmp_path).of("e").eye_corrected


@pytest.mark.parametrize("protocol", ["screen-17", "staircase-19", "bayes-19", "joint-19"])
def test_every_kind_of_protocol_is_put_right(tmp_path, protocol):
    """screen-17 has no mirror image of itself: the places left out are nasal for the true eye."""
    folder = tmp_path / "e"
    record(folder, observer(), protocol, seed=5, eyes=("right",))
    entered = graded(folder).eyes["right"].places
    correct(folder, "eye", "left", "AB")
    places = load_exam(folder).protocol.pattern.for_eye("left")
    shown = load_protocol(protocol).pattern.for_eye("right")
    for put, was in zip(places, shown, strict=True):
        assert (put.x_deg, put.y_deg) == pytest.approx((was.x_deg, was.y_deg))
    put_right = graded(folder).eyes["left"].places
    unseen = [(p.tries, p.seen) for p in put_right]
    assert unseen == [(p.tries, p.seen) for p in entered]


def test_what_cannot_be_the_true_eye_is_refused_and_nothing_goes_on_with_the_wrong_one(tmp_path):
    one, two = tmp_path / "one", tmp_path / "two"
    record(one, observer(), seed=5, eyes=("right",))
    record(two, observer(), seed=5, eyes=("right", "left"))
    with pytest.raises(InputError, match="allowed: right, left"):
        correct(one, "eye", "left and right swapped", "AB")
    with pytest.raises(InputError, match="allowed: left and right swapped, as entered"):
        correct(two, "eye", "left", "AB")
    with pytest.raises(InputError, match="something else than right"):
        correct(one, "eye", "right", "AB")
    correct(one, "eye", "left", "AB")
    with pytest.raises(InputError, match="corrected by AB; start a new exam"):
        load_record(one)
