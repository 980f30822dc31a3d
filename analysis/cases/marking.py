"""Points: full ones for a right answer, none for a wrong one; places by the mean of two shares.

Places marked rightly are counted as the mean of the share of lost places that were marked and the
share of whole places that were not, so that marking all or none earns half; where nothing can be
told, saying so earns the point and marking places none. Guessing therefore has a chance score that
is known exactly. A guesser takes any option alike; asked for places, a coin decides whether they
say that it cannot be told, and then one coin a place.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import sqrt

import msgspec

from analysis.cases.questions import (
    CANNOT,
    CANNOT_BE_TOLD,
    Choice,
    Places,
    Question,
    place_numbers,
)
from protocols.errors import InputError

Answer = str | list[int]
Z_95 = 1.959963984540054


class Marked(msgspec.Struct, frozen=True):
    """One question with the answer beside the truth, and why."""

    key: str
    asks: str
    given: str
    truth: str
    why: str
    points: float
    of: float


class Score(msgspec.Struct, frozen=True):
    """Points of all questions; `chance` is the mean share of points that guessing earns, and

    `chance_interval` the range of shares in which 95 % of single guessers fall (normal
    approximation, not cut at 0); both None where nothing is guessed.
    """

    points: float
    of: float
    marks: list[Marked]
    chance: float | None = None
    chance_interval: tuple[float, float] | None = None

    @property
    def share(self) -> float:
        """Share of all points."""
        return self.points / self.of if self.of else 0.0


def mark_all(questions: Sequence[Question], answers: Mapping[str, Answer]) -> Score:
    """Mark answers by question key; raises InputError for one missing, unknown, or not allowed."""
    unknown = sorted(set(answers) - {question.key for question in questions})
    if unknown:
        known = ", ".join(question.key for question in questions)
        raise InputError("question", unknown[0], known, "Answer the questions of this case.")
    marks = [_marked(question, answers.get(question.key, "")) for question in questions]
    mean, spread = chance(questions)
    return Score(
        points=round(sum(mark.points for mark in marks), 4),
        of=sum(mark.of for mark in marks),
        marks=marks,
        chance=round(mean, 4),
        chance_interval=(round(mean - Z_95 * spread, 4), round(mean + Z_95 * spread, 4)),
    )


def _marked(question: Question, answer: Answer) -> Marked:
    return _choice(question, answer) if isinstance(question, Choice) else _places(question, answer)


def _choice(question: Choice, answer: Answer) -> Marked:
    allowed = [key for key, _ in question.options]
    if not isinstance(answer, str) or answer not in allowed:
        raise InputError(question.key, str(answer), ", ".join(allowed), "Choose one answer.")
    truth = " or ".join(question.words(key) for key, _ in question.options if key in question.right)
    return Marked(
        key=question.key,
        asks=question.asks,
        given=question.words(answer),
        truth=truth,
        why=question.why,
        points=float(question.points * (answer in question.right)),
        of=float(question.points),
    )


def _places(question: Places, answer: Answer) -> Marked:
    cannot = answer == CANNOT
    marked = frozenset() if cannot else frozenset(_numbers(question, answer))
    share = places_share(question, marked) if question.told else 1.0
    return Marked(
        key=question.key,
        asks=question.asks,
        given=CANNOT_BE_TOLD[1] if cannot else place_numbers(marked),
        truth=place_numbers(question.lost) if question.told else CANNOT_BE_TOLD[1],
        why=question.why,
        points=round(question.points * share * (cannot != question.told), 4),
        of=float(question.points),
    )


def _numbers(question: Places, answer: Answer) -> list[int]:
    found = answer if isinstance(answer, list) else _split(question, answer)
    wrong = [number for number in found if not 0 <= number < question.places]
    if wrong:
        allowed = f"place numbers from 0 to {question.places - 1}"
        raise InputError(question.key, str(wrong[0]), allowed, "Mark places of this eye.")
    return found


def _split(question: Places, answer: str) -> list[int]:
    """Numbers from text such as 3, 4, 11; "none" and nothing at all are no place."""
    words = [] if answer.strip() in ("", "none") else answer.replace(",", " ").split()
    wrong = [word for word in words if not word.isdecimal()]
    if wrong:
        allowed = f"place numbers from 0 to {question.places - 1}, none, or {CANNOT}"
        raise InputError(question.key, wrong[0], allowed, "Write numbers with commas between.")
    return [int(word) for word in words]


def places_share(question: Places, marked: frozenset[int]) -> float:
    """Mean of the shares of lost places marked and of whole places left unmarked."""
    shares = []
    if question.lost:
        shares.append(len(question.lost & marked) / len(question.lost))
    if question.whole:
        shares.append(1 - len(question.whole & marked) / len(question.whole))
    return sum(shares) / len(shares) if shares else 1.0


def chance(questions: Sequence[Question]) -> tuple[float, float]:
    """Mean and SD of the share of points of one who guesses every answer, as told above."""
    of = sum(question.points for question in questions)
    mean = sum(question.points * _chance(question)[0] for question in questions)
    variance = sum(question.points**2 * _chance(question)[1] for question in questions)
    return mean / of, sqrt(variance) / of


def _chance(question: Question) -> tuple[float, float]:
    """Mean and variance of the share of one question."""
    if isinstance(question, Choice):
        p = len(question.right) / len(question.options)
        return p, p * (1 - p)
    if not question.told:
        return 0.5, 0.25
    mean, variance = _marked_by_coins(question)
    return mean / 2, (variance + mean**2) / 2 - (mean / 2) ** 2


def _marked_by_coins(question: Places) -> tuple[float, float]:
    """Mean and variance of the share of one who tosses a coin for each place."""
    counts = [len(group) for group in (question.lost, question.whole) if group]
    if not counts:
        return 1.0, 0.0
    return 0.5, sum(0.25 / count for count in counts) / len(counts) ** 2
