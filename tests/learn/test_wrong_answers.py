"""Answers that cannot be marked: one clear line each."""

from __future__ import annotations

import pytest
from case_rigs import bundled

from analysis.cases.marking import mark_all
from analysis.cases.readers import ideal_answers
from protocols.errors import InputError

QUESTIONS = bundled("case-03").questions
WRONG = {
    "unknown question": (
        {"colour": "red"},
        'question: got "colour"; allowed: trust, habit, set_up, shape, places_right, places_left, '
        "depth, side, change, next. Answer the questions of this case.",
    ),
    "no answer": (
        {"trust": ""},
        "trust: got nothing; allowed: fine, care, not. Choose one answer.",
    ),
    "unknown option": (
        {"side": "both"},
        'side: got "both"; allowed: neither, right, left, alike, cannot. Choose one answer.',
    ),
    "places for a choice": (
        {"change": [1]},
        'change: got "[1]"; allowed: same, deeper, cannot. Choose one answer.',
    ),
    "no such place": (
        {"places_left": [3, 19]},
        'places_left: got "19"; allowed: place numbers from 0 to 18. Mark places of this eye.',
    ),
    "place in words": (
        {"places_left": "3, four"},
        'places_left: got "four"; allowed: place numbers from 0 to 18, none, or cannot. '
        "Write numbers with commas between.",
    ),
}


@pytest.mark.parametrize("name", WRONG)
def test_one_clear_line(name):
    changed, error = WRONG[name]
    with pytest.raises(InputError) as caught:
        mark_all(QUESTIONS, {**ideal_answers(QUESTIONS), **changed})
    assert str(caught.value) == error


def test_places_as_words_are_places():
    answers = ideal_answers(QUESTIONS)
    typed = {**answers, "places_right": ", ".join(map(str, answers["places_right"]))}
    assert mark_all(QUESTIONS, typed) == mark_all(QUESTIONS, answers)
    assert mark_all(QUESTIONS, {**answers, "places_left": "none"}).points == 10
