"""What is said of each place against the truth: called below the limit, graded right, no grade."""

from __future__ import annotations

import numpy as np

from analysis.figures.words import GRADE_WORDS
from analysis.piloting.measures import clustered_share
from analysis.piloting.pieces import Examined
from analysis.piloting.result import Call
from protocols.procedures.interface import Ints


def calls_of(exams: Examined, truth: Ints) -> list[Call]:
    """Calls by true grade, those grades that anybody has; `truth` has shape (people, places)."""
    told = exams.grade
    found = []
    for grade, words in GRADE_WORDS.items():
        of = np.broadcast_to((truth == grade)[:, None, :], told.shape)
        if of.any():
            shares = [clustered_share(said, of) for said in (told >= 1, told == grade, told < 0)]
            found.append(Call(words, int(of.sum()), *shares))
    return found
