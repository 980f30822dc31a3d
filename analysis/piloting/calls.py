"""What is said of each place against the truth: called below the limit, graded right, no grade."""

from __future__ import annotations

import numpy as np

from analysis.figures.words import GRADE_WORDS
from analysis.grading import DEPTH_EDGES_DB
from analysis.piloting.measures import clustered_share
from analysis.piloting.pieces import Examined
from analysis.piloting.result import Call
from protocols.field import Floats
from protocols.procedures.interface import Ints


def true_grades(sensitivity_db: Floats, limits_db: Floats, floor_db: float) -> Ints:
    """The grade that each place truly has, (people, places); delivered dB.

    >>> true_grades(np.array([[20.0, 17.0, 13.0, 9.0, 1.0]]), np.full((1, 5), 18.0), 1.6).tolist()
    [[0, 1, 2, 3, 4]]
    """
    below = limits_db - sensitivity_db
    grade = (below > 0).astype(np.int64)
    for edge in DEPTH_EDGES_DB:
        grade += below > edge
    return np.asarray(np.where(sensitivity_db < floor_db, max(GRADE_WORDS), grade))


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
