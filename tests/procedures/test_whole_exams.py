"""Protocols that measure thresholds run as whole exams: files, words, records, grades."""

from __future__ import annotations

import json
from datetime import datetime, timezone
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from analysis.grade import grade_folder
from analysis.load import load_exam
from analysis.reference import load_reference
from protocols.errors import InputError
from protocols.exam import open_exam, take
from protocols.explain import implied, in_words
from protocols.library import bundled_protocols, load_protocol, parse_protocol
from protocols.messages import Answered, Begin, Done, Present
from protocols.observer import EyeModel, ObserverFile, Pressing, Seeing
from protocols.plan import ExamPlan
from protocols.protocol import protocol_schema
from protocols.replay import plan_from, replay
from stimulus.opening import Sitting
from stimulus.virtual_exam import run_virtual_exam

HEAD = 'format = 1\nname = "mine"\nabout = "For a test."\npattern = "rings19"\n[procedure]\n'
THRESHOLDS = ("staircase-19", "bayes-19")
BEGAN = datetime(2026, 1, 1, tzinfo=timezone.utc)
NO_SLIPS = ObserverFile(
    format=1,
    about="invented: no slips, a healthy right eye and a left one with loss everywhere",
    right=EyeModel(25.0, 0.1),
    left=EyeModel(7.0, 0.1),
    seeing=Seeing(1.5, 0.0),
    pressing=Pressing(0.0),
)


def _parsed(procedure: str):
    return parse_protocol(HEAD + procedure, "mine.toml", Path())


MISTAKES = [
    (
        'kind = "bayes"\ntries = 3\n',
        "mine.toml, procedure.tries: got \"an unknown key\"; allowed: end_sd_db, false_press_rate, "
        "grid_step_db, lapse_rate, least, most, placement, prior_above_limit_db, prior_floor, "
        "prior_sd_db, spread_db.",
    ),
    (
        'kind = "staircase"\nsteps = [4.0]\n',
        "allowed: averaged, fainter_ratio, first_above_limit_db, most, reversals, seen_in_a_row, "
        "steps_db. Did you mean steps_db?",
    ),
    (
        'kind = "bayes"\nplacement = "best"\n',
        'procedure.placement: got "best"; allowed: entropy or mean or mode or variance. Change it.',
    ),
    (
        'kind = "bayes"\nlapse_rate = 0.0\n',
        "procedure.lapse_rate: got 0; allowed: a number 0.001 to 0.4. Change it; the unit is a sh",
    ),
    (
        'kind = "bayes"\nmost = 1\n',
        "procedure.most: got \"1\"; allowed: least and up, 2. Allow more answers or ask for less",
    ),
    (
        'kind = "staircase"\naveraged = 3\n',
        'procedure.averaged: got "3"; allowed: up to reversals, 2. Average fewer or ask for more',
    ),
    (
        'kind = "staircase"\nsteps_db = [4.0, 0.0]\n',
        "procedure.steps_db[1]: got 0; allowed: a number 0.1 to 20. Change it; the unit is contras",
    ),
    (
        'kind = "quest-plus"\nsecond = "lapse"\nsecond_values = [0.1, 0.9]\n',
        'procedure.second_values: got "0.9"; allowed: 0.001 to 0.4 where second is lapse. Leave it',
    ),
    (
        'kind = "rising"\nstep_db = 0.5\n',
        "procedure.step_db: got 0.5; allowed: a number 1 to 20. Change it; the unit is contrast dB",
    ),
]


@pytest.mark.parametrize(("procedure", "said"), MISTAKES)
def test_a_mistake_is_answered_by_the_procedure_it_is_in(procedure, said):
    with pytest.raises(InputError) as refused:
        _parsed(procedure)
    assert said in str(refused.value)


@pytest.mark.parametrize("kind", ["rising", "staircase", "bayes", "quest-plus"])
def test_a_kind_alone_is_a_protocol_and_fits_the_schema(kind):
    protocol = _parsed(f'kind = "{kind}"\n')
    jsonschema.validate(
        {"format": 1, "name": "mine", "about": "x", "pattern": "rings19",
         "procedure": {"kind": kind}},
        protocol_schema(),
    )  # fmt: skip
    assert protocol.settings.procedure.__struct_config__.tag == kind
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(
            {"format": 1, "name": "mine", "about": "x", "pattern": "rings19",
             "procedure": {"kind": kind, "more": 1}},
            protocol_schema(),
        )  # fmt: skip


@pytest.mark.parametrize(
    ("procedure", "words"),
    [
        ('kind = "staircase"\n', "fainter after 1 seen in a row, stronger after one unseen, in"),
        ('kind = "staircase"\nfainter_ratio = 0.5\n', "(0.5 times that towards fainter)"),
        ('kind = "bayes"\nplacement = "mean"\n', "at the mean of what its answers leave likely"),
        ('kind = "quest-plus"\n', "for threshold and slope together, until its SD is down to 2.5"),
    ],
)
def test_the_rule_is_said_in_words(procedure, words):
    assert words in in_words(_parsed(procedure))


def _answered(protocol, sees) -> int:
    """Presentations of an exam of one eye in which `sees` decides."""
    plan = ExamPlan(protocol, ("right",), {"right": (18.0,) * 19}, 4, skip_practice=True)
    state = take(plan, open_exam(plan), Begin())
    while not isinstance(state.action, Done):
        assert isinstance(state.action, Present)
        shown = state.action.presentation
        verdict = "seen" if sees(shown) else "not_seen"
        state = take(plan, state, Answered(shown.index, verdict))
    assert state.action.reason == "finished"
    return state.index


@pytest.mark.parametrize("name", THRESHOLDS)
def test_every_exam_is_as_long_as_the_words_say(name):
    protocol = load_protocol(name)
    counts = implied(protocol)
    assert name in bundled_protocols()
    dice = np.random.default_rng(1)
    for sees in (
        lambda shown: False,
        lambda shown: shown.role in ("place", "full_contrast"),
        lambda shown: shown.role != "blank" and bool(dice.random() < 0.5),
        lambda shown: shown.level_db is not None and shown.level_db < 22,
    ):
        assert counts.fewest - 3 <= _answered(protocol, sees) <= counts.most


def _recorded(folder: Path, name: str):
    sitting = Sitting("T-001", 45, ("right", "left"), 11, False, "now", True, "test", "AB")
    return run_virtual_exam(
        folder, load_protocol(name), load_reference(), sitting, NO_SLIPS, BEGAN
    )


@pytest.mark.parametrize("name", THRESHOLDS)
def test_a_record_replays_to_the_state_it_was_made_from(name, tmp_path):
    state = _recorded(tmp_path / "e", name)
    exam = load_exam(tmp_path / "e")
    again = replay(plan_from(exam.opened, exam.protocol), [e.event for e in exam.entries])
    assert again.phase == state.phase == "finished"
    for mine, theirs in zip(state.eyes, again.eyes, strict=True):
        for field in mine.procedure.__dataclass_fields__:
            one, other = getattr(mine.procedure, field), getattr(theirs.procedure, field)
            assert np.array_equal(one, other, equal_nan=one.dtype.kind == "f"), field


@pytest.mark.parametrize("name", THRESHOLDS)
def test_grades_follow_the_thresholds(name, tmp_path):
    _recorded(tmp_path / "e", name)
    result = grade_folder(tmp_path / "e")
    first = (tmp_path / "e" / "result.json").read_bytes()
    grade_folder(tmp_path / "e")
    assert (tmp_path / "e" / "result.json").read_bytes() == first
    assert json.loads(first)["exam"]["procedure"] == name.split("-")[0]
    right, left = result.eyes["right"], result.eyes["left"]
    assert right.status == left.status == "complete"
    for eye, best, truth in ((right, 0, 23.5), (left, 3, 5.5)):
        told = [place.grade for place in eye.places if place.grade is not None]
        assert len(told) >= 17
        assert told.count(best) >= 0.8 * len(told)
        errors = [place.estimate_db - truth for place in eye.places]
        assert abs(np.mean(errors)) < 1.0
        assert np.std(errors) < 3.0
        for place in eye.places:
            assert place.grade is None or place.grade_probability >= 0.5


def test_a_place_that_was_not_brought_to_its_end_gets_no_grade(tmp_path):
    _recorded(tmp_path / "e", "bayes-19")
    journal = tmp_path / "e" / "journal.jsonl"
    lines = journal.read_bytes().splitlines(keepends=True)
    journal.write_bytes(b"".join(lines[:60]))
    result = grade_folder(tmp_path / "e")
    right = result.eyes["right"]
    assert right.status == "partial"
    asked_once = [place for place in right.places if place.tries <= 1]
    assert asked_once
    assert all(place.grade is None and place.estimate_db is None for place in asked_once)
    assert any(place.tries == 1 for place in asked_once)
    assert result.eyes["left"].status == "not begun"
