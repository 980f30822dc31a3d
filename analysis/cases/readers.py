"""Two readers to hold the rules against: one who knows the truth, one who guesses."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analysis.cases.marking import Answer
from analysis.cases.questions import Choice, Question


def ideal_answers(questions: Sequence[Question]) -> dict[str, Answer]:
    """The answers of one who knows the truth."""
    return {
        question.key: min(question.right)
        if isinstance(question, Choice)
        else sorted(question.lost)
        for question in questions
    }


def random_answers(questions: Sequence[Question], rng: np.random.Generator) -> dict[str, Answer]:
    """The answers of one who takes any option alike and tosses a coin for each place."""
    return {question.key: _guess(question, rng) for question in questions}


def _guess(question: Question, rng: np.random.Generator) -> Answer:
    if isinstance(question, Choice):
        return question.options[int(rng.integers(len(question.options)))][0]
    return [int(number) for number in np.flatnonzero(rng.random(question.places) < 0.5)]
