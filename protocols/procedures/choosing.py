"""Where next: the rule that procedures without a preference among places share."""

from __future__ import annotations

import numpy as np

from protocols.draws import pick
from protocols.field import Floats
from protocols.procedures.interface import Bools, Ints


def any_open_place(finished: Bools, u: Floats, last_place: Ints) -> Ints:
    """An unfinished place but the last one shown, unless that is the only one left; (exams,).

    `finished` has shape (exams, places). Where all places are finished the answer is place 0.
    """
    open_places = ~finished
    elsewhere = open_places & (np.arange(finished.shape[-1]) != last_place[:, None])
    choosable = np.where(elsewhere.any(axis=-1, keepdims=True), elsewhere, open_places)
    return pick(u, choosable)


def answers_to_come(least: int, answers: Ints, done: Bools) -> Ints:
    """Fewest answers still to come, (exams,): up to `least` at each place, one where not done."""
    wanted = np.maximum(least - answers, 1)
    return np.asarray(np.where(done, 0, wanted).sum(axis=-1), np.int64)
