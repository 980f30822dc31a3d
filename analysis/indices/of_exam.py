"""Indices of an eye of a recorded exam, put beside the results of its places."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np

from analysis.indices.facts import Indices
from analysis.indices.summary import Answers, PlaceIndex, indices
from analysis.load import ExamRecord
from analysis.result import PlaceResult


def answers_of(places: Sequence[PlaceResult], spread_db: float, floor_db: float) -> Answers:
    """The counting answers at the places of an eye, as arrays."""
    most = max((len(place.answers) for place in places), default=0)
    level_db = np.full((len(places), most), np.nan)
    seen = np.zeros((len(places), most), np.bool_)
    for row, place in enumerate(places):
        for column, answer in enumerate(place.answers):
            level_db[row, column], seen[row, column] = answer.level_db, answer.seen
    return Answers(
        level_db=level_db,
        seen=seen,
        means_db=np.array([place.reference_mean_db for place in places]),
        finished=np.array([place.estimate_db is not None for place in places]),
        spread_db=spread_db,
        floor_db=floor_db,
    )


def with_indices(
    exam: ExamRecord, places: Sequence[PlaceResult], answers: Answers
) -> tuple[Indices | None, list[PlaceResult]]:
    """Indices of the eye, None where no place was tested to the end, and places with theirs."""
    if not answers.finished.any():
        return None, list(places)
    found, by_place = indices(answers, exam.protocol)
    return found, [_with(place, by_place.get(place.number)) for place in places]


def _with(place: PlaceResult, found: PlaceIndex | None) -> PlaceResult:
    if found is None:
        return place
    return msgspec.structs.replace(
        place,
        deviation=found.deviation,
        pattern_deviation=found.pattern,
        evidence=found.evidence,
        stands=found.stands,
    )
