"""Two readers to hold the rules against: one who knows the truth, one who guesses."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analysis.cases.marking import Answer
from analysis.cases.questions import CANNOT, Choice, Question


def ideal_answers(questions: Sequence[Question]) -> dict[str, Answer]:
    """The answers of one who knows the truth."""
    return {question.key: _right(question) for question in questions}


def _right(question: Question) -> Answer:
    if isinstance(question, Choice):
        return min(question.right)
    return sorted(question.lost) if question.told else CANNOT


def random_answers(questions: Sequence[Question], rng: np.random.Generator) -> dict[str, Answer]:
    """The answers of one who guesses, as `analysis.cases.marking` states it."""
    return {question.key: _guess(question, rng) for question in questions}


def _guess(question: Question, rng: np.random.Generator) -> Answer:
    if isinstance(question, Choice):
        return question.options[int(rng.integers(len(question.options)))][0]
    if rng.random() < 0.5:
        return CANNOT
    return [int(number) for number in np.flatnonzero(rng.random(question.places) < 0.5)]
