"""All answers at each place as one likelihood on the grid, kept for each kind of attention."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from protocols.field import Floats
from protocols.procedures.interface import Bools, Ints
from protocols.procedures.joint.attention import KINDS, press_chance
from protocols.procedures.joint.scale import EXTRA_LOSS, GRID_DB


@dataclass(frozen=True)
class Answers:
    """by_kind (exams, places, kinds, grid); plain and extra (exams, places, grid); looks

    (exams, places). `plain` is the likelihood of a sensitivity, averaged over kinds; `extra` that
    of a sensitivity from which an extra loss is still to be taken.
    """

    by_kind: Floats
    plain: Floats
    extra: Floats
    looks: Ints


def fresh(exams: int, places: int) -> Answers:
    """No answers yet: everything is as likely."""
    grid = len(GRID_DB)
    flat = np.ones((exams, places, grid))
    return Answers(
        np.ones((exams, places, KINDS, grid)), flat, flat, np.zeros((exams, places), np.int64)
    )


def heard(
    answers: Answers, shares: Floats, place: Ints, level_db: Floats, seen: Bools
) -> Answers:
    """With one more answer in each exam; shares of the kinds (exams, kinds)."""
    row = np.arange(len(place))
    press = press_chance(level_db)
    here = answers.by_kind[row, place] * np.where(seen[:, None, None], press, 1 - press)
    here /= here.max(axis=(1, 2), keepdims=True)
    plain = (shares[:, None, :] @ here)[:, 0]
    by_kind, looks = answers.by_kind.copy(), answers.looks.copy()
    plains, extras = answers.plain.copy(), answers.extra.copy()
    by_kind[row, place] = here
    plains[row, place] = plain
    extras[row, place] = with_extra(plain[:, None, :])[:, 0]
    looks[row, place] += 1
    return Answers(by_kind, plains, extras, looks)


def reweighed(answers: Answers, shares: Floats) -> Answers:
    """The same answers under other shares of the kinds. Shares of shape (exams, kinds)."""
    plain = (shares[:, None, None, :] @ answers.by_kind)[:, :, 0]
    return Answers(answers.by_kind, plain, with_extra(plain), answers.looks)


def with_extra(plain: Floats) -> Floats:
    """Likelihood (exams, places, grid) seen from before the extra loss."""
    return np.asarray(plain @ EXTRA_LOSS.T)
