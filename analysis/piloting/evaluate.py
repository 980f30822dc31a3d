"""From a pilot's finished exams to its result."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial

import msgspec
import numpy as np

from analysis.grading import true_grades
from analysis.indices.simulated import reference_levels_db
from analysis.piloting.calls import calls_of
from analysis.piloting.costs import costs_of
from analysis.piloting.crowd import AS_DRAWN, Crowd, Habit, at_places
from analysis.piloting.detection import detection_of, found_by_shape
from analysis.piloting.errors import (
    Truth,
    by_depth,
    by_place,
    by_shape,
    errors_of,
    retest_of,
    truth_of,
)
from analysis.piloting.measures import clustered_share
from analysis.piloting.pieces import Examined, floor_of
from analysis.piloting.result import Measure, Origin, PilotResult, VariantResult
from analysis.piloting.rivals import Weighed, contest, dominated_of, orders_of, pairs_of
from analysis.piloting.robustness import slips_of
from analysis.piloting.run import Pilot, examined
from analysis.piloting.variants import Variant
from analysis.reference import load_reference
from protocols import RESEARCH_ONLY
from protocols.migrate import current
from protocols.population.draw import Population
from protocols.procedures.interface import Bools, Ints
from protocols.simulate.parts import Kept

NOBODY = "No person was examined: everybody here and every answer is simulated."


@dataclass(frozen=True)
class Draft:
    """A variant's results but for detection, which is weighed together with all others."""

    weighed: Weighed
    graded: Ints
    finish: Callable[..., VariantResult]


def evaluate(pilot: Pilot, kept: Kept, origin: Origin) -> PilotResult:
    """The result of a pilot whose pieces are all finished."""
    plan, everybody = pilot.plan, pilot.crowd.everybody()
    lossy = everybody.lossy
    drafts = [
        draft_of(variant, found, *truth_for(variant, pilot.crowd, everybody), plan.prevalence)
        for variant, found in zip(pilot.variants, examined(pilot, kept), strict=True)
    ]
    labels = [variant.label for variant in pilot.variants]
    found = contest([draft.weighed for draft in drafts], lossy, plan.prevalence, plan.seed)
    pairs, objectives = pairs_of(found, plan.margins), found.objectives()
    return PilotResult(
        format=current("pilot"),  # type: ignore[arg-type]
        notice=RESEARCH_ONLY,
        simulated=NOBODY,
        name=plan.name,
        about=plan.about,
        seed=plan.seed,
        people=plan.people,
        people_with_loss=int(lossy.sum()),
        repeats=plan.repeats,
        exams=sum(piece.count * piece.repeats for piece in pilot.pieces()),
        prevalence=plan.prevalence,
        margins=msgspec.to_builtins(plan.margins),
        origin=origin,
        dominated=dominated_of(pairs, labels),
        orders=orders_of(found),
        objectives=objectives,
        pairs=pairs,
        variants=[
            finished(draft, lossy, plan.prevalence, objectives[draft.weighed.label].sensitivity)
            for draft in drafts
        ],
    )


def truth_for(variant: Variant, crowd: Crowd, everybody: Population) -> tuple[Truth, Ints]:
    """Truth at a variant's places, and true grades (people, places)."""
    places, floor = variant.protocol.pattern.places, floor_of(variant.protocol)
    people = at_places(everybody, crowd.columns(variant.protocol.pattern))
    _, limits = reference_levels_db(people, places, load_reference())
    truth = truth_of(people.sensitivity_db, people.healthy_db, people.shape, floor)
    return truth, true_grades(people.sensitivity_db, limits, floor)


def draft_of(
    variant: Variant, found: Mapping[Habit, Examined], truth: Truth, grades: Ints, prevalence: float
) -> Draft:
    """A variant's results but for detection; true grades (people, places)."""
    exams, lossy = found[AS_DRAWN], truth.lossy
    errors = errors_of(exams, truth, np.ones(truth.level_db.shape, np.bool_))
    assert errors is not None
    score = exams.ratio[:, 0]
    unfinished = ~np.isfinite(exams.estimate_db)
    finish = partial(
        VariantResult,
        label=variant.label,
        of=variant.of,
        changes=dict(variant.changes),
        file=f"variants/{variant.file}",
        sha256=variant.protocol.sha256,
        pattern=variant.protocol.pattern.name,
        places=len(variant.protocol.pattern.places),
        stopped=clustered_share(exams.stopped, np.ones_like(exams.stopped)),
        unfinished=clustered_share(unfinished, np.ones_like(unfinished)),
        costs=costs_of(exams, lossy, prevalence),
        errors=errors,
        by_place=by_place(exams, truth, variant.protocol.pattern.places),
        by_depth=by_depth(exams, truth),
        by_shape=by_shape(exams, truth, found_by_shape(score, truth.shape, lossy)),
        calls=calls_of(exams, grades),
        retest=retest_of(exams, truth),
        slips=slips_of(found, truth),
    )
    graded = (exams.grade[:, 0] >= 1).sum(axis=1)
    return Draft(weighed_of(variant.label, exams, truth), graded, finish)


def weighed_of(label: str, exams: Examined, truth: Truth) -> Weighed:
    """What a variant is weighed by."""
    known = np.isfinite(exams.estimate_db)
    squares = np.where(known, exams.estimate_db - truth.level_db[:, None, :], 0.0) ** 2
    return Weighed(
        label=label,
        seconds=exams.seconds.mean(axis=1),
        squares=squares.sum(axis=(1, 2), dtype=float),
        counts=known.sum(axis=(1, 2)).astype(float),
        score=exams.ratio,
    )


def finished(draft: Draft, lossy: Bools, prevalence: float, upper: Measure) -> VariantResult:
    """A variant's results with detection; `lossy` has shape (people,)."""
    score = draft.weighed.score[:, 0]
    return draft.finish(detection=detection_of(score, draft.graded, lossy, prevalence, upper))
