"""From a folder to its result: the same bytes every time, each eye by itself, nothing made up."""

from __future__ import annotations

import csv
import hashlib
import json
import shutil
from dataclasses import replace

import pytest
from msgspec import structs
from records import record

from analysis.grade import grade_exam, grade_folder
from analysis.load import load_exam
from analysis.next_step import RARE, UNUSABLE_STEP, told_in_full
from analysis.reference import load_reference
from analysis.result import result_bytes
from protocols.errors import InputError
from protocols.field import Place
from protocols.journal import JOURNAL
from protocols.library import bundled_observer
from protocols.observer import (
    EyeModel,
    ObserverFile,
    Pressing,
    load_observer,
    sensitivity_db,
)
from stimulus.cli import run

DERIVED = ("result.json", "places.csv", "presentations.csv")


@pytest.fixture(scope="module")
def both(tmp_path_factory):
    """Both eyes of the observer with an arc of loss, practice included, graded."""
    folder = tmp_path_factory.mktemp("both") / "e"
    record(folder, "arc-loss", seed=8, eyes=("right", "left"), age_years=63, practice=True)
    return folder, grade_folder(folder)


def _bytes(folder):
    return {name: (folder / name).read_bytes() for name in DERIVED}


def test_a_copied_folder_gives_the_same_bytes(both, tmp_path):
    folder, _ = both
    for name in ("copy", "another place with another name"):
        shutil.copytree(folder, tmp_path / name)
        for derived in DERIVED:
            (tmp_path / name / derived).unlink()
        grade_folder(tmp_path / name)
        assert _bytes(tmp_path / name) == _bytes(folder)


def test_grading_again_changes_nothing_and_leaves_the_record_alone(both):
    folder, _ = both
    before, journal = _bytes(folder), (folder / JOURNAL).read_bytes()
    grade_folder(folder)
    assert _bytes(folder) == before
    assert (folder / JOURNAL).read_bytes() == journal


def test_the_same_seed_gives_the_same_bytes(both, tmp_path):
    record(tmp_path / "e", "arc-loss", seed=8, eyes=("right", "left"), age_years=63, practice=True)
    grade_folder(tmp_path / "e")
    assert _bytes(tmp_path / "e") == _bytes(both[0])


def test_one_more_answer_gives_other_bytes(both, tmp_path):
    """The comparison above can fail: another seed, another result."""
    record(tmp_path / "e", "arc-loss", seed=9, eyes=("right", "left"), age_years=63, practice=True)
    grade_folder(tmp_path / "e")
    assert _bytes(tmp_path / "e") != _bytes(both[0])


@pytest.mark.parametrize("eye", ["right", "left"])
def test_each_eye_has_all_its_places(both, eye):
    _, result = both
    found = result.eyes[eye]
    assert (found.status, len(found.places)) == ("complete", 19)
    assert [place.number for place in found.places] == list(range(19))
    assert sum(found.summary.by_grade) == found.summary.graded == 19
    assert found.summary.within_limit == found.summary.by_grade[0]


def test_the_left_eyes_places_mirror_the_right_eyes(both):
    _, result = both
    right, left = result.eyes["right"].places, result.eyes["left"].places
    assert [p.x_deg for p in left] == pytest.approx([-p.x_deg for p in right])
    assert [p.y_deg for p in left] == pytest.approx([p.y_deg for p in right])


def _truth(name, eye, place):
    where = Place(place.x_deg, place.y_deg)
    return sensitivity_db(load_observer(bundled_observer(name)), eye, where)


@pytest.mark.parametrize("eye", ["right", "left"])
def test_grades_follow_the_invented_truth(both, eye):
    """Deep loss is graded 4 where full contrast is out of reach by 3 spreads; a place 3 spreads

    above its limit is graded 0, but for lapses (1 in 100).
    """
    _, result = both
    floor = result.display.full_contrast_delivered_db
    wrong = []
    for place in result.eyes[eye].places:
        truth = _truth("arc-loss", eye, place)
        if truth < floor - 4.5 and place.grade != 4:
            wrong.append((place.number, truth, place.grade))
        if truth > place.limit_db + 4.5 and place.grade != 0:
            wrong.append((place.number, truth, place.grade))
    assert len(wrong) <= 1, wrong
    if eye == "right":
        assert result.eyes[eye].summary.by_grade[4] >= 3


def test_intervals_hold_the_invented_truth(tmp_path):
    """Healthy, arc and lone loss, two sittings each, both eyes; at least 90 % of places.

    A place whose truth lies under the scale (display's full contrast less 6 dB) counts by its end.
    """
    held = []
    for name, age in (("healthy", 45), ("arc-loss", 63), ("lone-loss", 52)):
        for seed in range(2):
            folder = tmp_path / f"{name}-{seed}"
            record(folder, name, seed=seed, eyes=("right", "left"), age_years=age)
            result = grade_folder(folder)
            bottom = result.display.full_contrast_delivered_db - 6
            for eye, found in result.eyes.items():
                for place in found.places:
                    truth = max(_truth(name, eye, place), bottom)
                    low, high = place.interval_db
                    held.append(low - 0.1 <= truth <= high + 0.1)
    print(f"95 % intervals hold the truth in {sum(held) / len(held):.1%} of {len(held)} places")
    assert sum(held) / len(held) > 0.9


def test_a_lone_loss_is_found_alone(tmp_path):
    record(tmp_path / "e", "lone-loss", seed=2, eyes=("left",), age_years=52)
    found = grade_folder(tmp_path / "e").eyes["left"]
    lost = [(p.x_deg, p.y_deg) for p in found.places if p.grade == 4]
    assert lost == [pytest.approx((-8.227, -4.75), abs=1e-3)]
    assert "not seen at full contrast" in found.sentence


def test_a_place_never_seen_is_at_most_the_displays_full_contrast(both):
    _, result = both
    floor = result.display.full_contrast_delivered_db
    unseen = [p for eye in result.eyes.values() for p in eye.places if p.grade == 4]
    assert unseen
    for place in unseen:
        assert (place.estimate_db, place.bound, place.seen) == (floor, "at most", False)
        assert place.tries == 3


def test_presses_of_a_trigger_happy_participant_show_in_the_rates(tmp_path):
    record(tmp_path / "e", "trigger-happy", seed=3, age_years=38)
    result = grade_folder(tmp_path / "e")
    found = result.eyes["right"]
    wrong = found.reliability.false_positive.wrong + found.reliability.anticipations
    assert wrong >= 2
    assert "Read with care" in found.sentence
    assert result.advice


def _cut(folder, target, presented):
    """A copy of a record that was killed after so many presentations."""
    shutil.copytree(folder, target)
    lines = (folder / JOURNAL).read_bytes().splitlines(keepends=True)
    at = [n for n, text in enumerate(lines) if b'"kind":"presented"' in text][presented]
    (target / JOURNAL).write_bytes(b"".join(lines[:at]))
    return target


def test_an_unfinished_exam_grades_what_is_finished_and_says_the_rest_is_not(both, tmp_path):
    result = grade_folder(_cut(both[0], tmp_path / "cut", 20))
    right, left = result.eyes["right"], result.eyes["left"]
    assert (right.status, left.status) == ("partial", "not begun")
    assert 0 < right.summary.graded < 19
    assert left.summary.graded == 0
    assert not result.exam.finished
    assert result.exam.reason == "the record ends without a close"
    for place in (*right.places, *left.places):
        if place.grade is None:
            assert (place.estimate_db, place.bound, place.below_limit_db) == (None, "unknown", None)
            assert not place.grade_trusted
    assert left.sentence.endswith("nothing can be said.")


def test_an_eye_tested_to_the_end_without_a_sure_grade_is_not_told_as_untested(tmp_path):
    """The decision procedure ends once a place is sure to lie below, however far below."""
    blind = ObserverFile(format=1, about="Sees nothing.", right=EyeModel(-20.0))
    record(tmp_path / "e", blind, "decide-19", seed=2)
    found = grade_folder(tmp_path / "e").eyes["right"]
    assert (found.status, found.summary.graded) == ("complete", 0)
    assert "no place has a sure grade" in found.sentence
    assert "17 and 18 are very likely below that level" in found.sentence
    assert found.next_step == RARE


@pytest.mark.parametrize("skips", [False, True])
def test_presses_all_the_time_are_told_even_where_no_place_was_finished(tmp_path, skips):
    masher = ObserverFile(format=1, about="Mashes.", right=EyeModel(50.0), pressing=Pressing(1.0))
    record(tmp_path / "e", masher, "bayes-19", seed=2)
    result = grade_folder(_cut(tmp_path / "e", tmp_path / "cut", 30))
    found = structs.replace(
        result.eyes["right"],
        status="skipped" if skips else "partial",
        sentence="Right eye: nothing.",
        places=[
            structs.replace(place, estimate_db=None, grade=None)
            for place in result.eyes["right"].places
        ],
        summary=structs.replace(result.eyes["right"].summary, graded=0),
    )
    told = told_in_full(found)
    assert found.trust.verdict == "result will not be usable"
    assert told.next_step == UNUSABLE_STEP
    assert "presses came at nothing" in told.sentence


def test_the_tables_hold_the_results_numbers(both):
    folder, result = both
    rows = list(csv.DictReader((folder / "places.csv").open()))
    places = [(eye, p) for eye, found in result.eyes.items() for p in found.places]
    assert len(rows) == len(places) == 38
    for row, (eye, place) in zip(rows, places, strict=True):
        assert (row["eye"], int(row["number"]), int(row["grade"])) == (
            eye, place.number, place.grade,
        )  # fmt: skip
        assert float(row["estimate_db"]) == place.estimate_db
    shown = list(csv.DictReader((folder / "presentations.csv").open()))
    assert len(shown) == len(load_exam(folder).trials) == result.timing.presentations
    assert sum(row["practice"] == "True" for row in shown) in (4, 8)


def test_everything_says_research_only_and_warns_of_the_unit(both):
    folder, _ = both
    result = json.loads((folder / "result.json").read_bytes())
    assert result["notice"].startswith("Research use only. This is not a diagnosis")
    assert "not the attenuation dB" in result["unit_note"]
    assert "SYNTHETIC" in result["reference"]["notice"]


def test_the_grade_command_writes_and_prints(both, tmp_path, capsys):
    shutil.copytree(both[0], tmp_path / "e")
    for name in DERIVED:
        (tmp_path / "e" / name).unlink()
    assert run(["grade", str(tmp_path / "e")]) == 0
    said = capsys.readouterr().out
    assert both[1].eyes["right"].sentence in said
    assert both[1].eyes["left"].sentence in said
    assert "Research use only" in said
    assert _bytes(tmp_path / "e") == _bytes(both[0])
    assert run(["grade", "--json", str(tmp_path / "e")]) == 0
    assert json.loads(capsys.readouterr().out) == json.loads(_bytes(both[0])["result.json"])


def test_the_grade_command_refuses_what_is_no_exam(tmp_path, capsys):
    for folder in (tmp_path, tmp_path / "nowhere"):
        assert run(["grade", str(folder)]) == 2
        said = capsys.readouterr().err
        assert said.startswith("error: ")
        assert f'got "{folder}"; allowed: a folder that holds ' in said
    assert not list(tmp_path.iterdir())


def test_a_changed_protocol_beside_the_journal_is_refused(both, tmp_path):
    shutil.copytree(both[0], tmp_path / "e")
    with open(tmp_path / "e" / "protocol.toml", "a") as file:
        file.write("# a word\n")
    with pytest.raises(InputError, match=r"protocol\.toml: got .*the one in the journal"):
        grade_folder(tmp_path / "e")


def test_the_page_takes_another_reference_too(both, tmp_path, capsys):
    """As `grade` does: limits 10 dB higher, and the page says whose they are."""
    shutil.copytree(both[0], tmp_path / "e")
    strict, text = tmp_path / "strict.toml", (both[0] / "reference.toml").read_text()
    strict.write_text(text.replace("centre_db = 27.0", "centre_db = 37.0"))
    assert run(["report", str(tmp_path / "e"), "--reference", str(strict)]) == 0
    page = (tmp_path / "e" / "report.html").read_text()
    sha256 = hashlib.sha256(strict.read_bytes()).hexdigest()
    assert sha256[:12] in page
    assert both[1].reference.sha256[:12] not in page
    limit = both[1].eyes["right"].places[0].limit_db + 10
    assert f"{limit:.1f}" in page


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("centre_db = 27.0", "centre_db = 0.0", "dB at place 0"),
        ("fall_db_per_deg = 0.15", "fall_db_per_deg = -3.0", "to 40 dB"),
        ("spread_db = 2.5", "spread_db = 0.001", "got 0.001; allowed: a number 0.1 to 10"),
    ],
)
def test_a_reference_far_off_the_scale_is_refused(both, tmp_path, capsys, old, new, said):
    shutil.copytree(both[0], tmp_path / "e")
    (tmp_path / "odd.toml").write_text(load_reference().text.replace(old, new))
    assert run(["grade", str(tmp_path / "e"), "--reference", str(tmp_path / "odd.toml")]) == 2
    assert said in capsys.readouterr().err
    assert _bytes(tmp_path / "e") == _bytes(both[0])


def test_a_certificate_has_no_reference_to_be_graded_by(tmp_path, capsys):
    assert run(["report", str(tmp_path / "screen.json"), "--reference", "mine.toml"]) == 2
    assert "--reference" in capsys.readouterr().err


def test_light_that_could_not_be_judged_is_not_counted_as_within(both):
    """ITU-R BT.1702 speaks of cd/m2: without a measured luminance a patch may be unknown."""
    exam = load_exam(both[0])
    unknown = [
        replace(trial, shown=structs.replace(trial.shown, over_bt1702=None))
        if number == 3 else trial
        for number, trial in enumerate(exam.trials)
    ]  # fmt: skip
    assert grade_exam(exam, load_reference()).safety.over_bt1702 == sum(
        bool(trial.shown.over_bt1702) for trial in exam.trials
    )
    result = grade_exam(replace(exam, trials=tuple(unknown)), load_reference())
    assert result.safety.over_bt1702 is None
    assert b'"over_bt1702": null' in result_bytes(result)


def test_another_reference_grades_anew(both, tmp_path, capsys):
    """A reference 10 dB more demanding leaves fewer places within the limit."""
    shutil.copytree(both[0], tmp_path / "e")
    strict = tmp_path / "strict.toml"
    strict.write_text(
        (both[0] / "reference.toml").read_text().replace("centre_db = 27.0", "centre_db = 37.0")
    )
    assert run(["grade", "--reference", str(strict), str(tmp_path / "e")]) == 0
    again = json.loads((tmp_path / "e" / "result.json").read_bytes())
    assert again["reference"]["sha256"] != both[1].reference.sha256
    within = again["eyes"]["right"]["places"][0]["limit_db"]
    assert within == pytest.approx(both[1].eyes["right"].places[0].limit_db + 10)
