"""The rules of running on arrays: many exams of one eye each, a presentation at a time in all.

This says what `choose.py`, `progress.py`, `exam.py` and `virtual.py` say for one exam, without
practice, rest or holds; a test holds the two together, presentation by presentation.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Generic, TypeVar

import numpy as np

from protocols.catch import BLANK, FULL_CONTRAST, PLACE, Needs, eye_done, next_roles
from protocols.draws import Stream, bounded_exponential, pick, uniform
from protocols.field import Floats
from protocols.levels import contrast_from_db
from protocols.library import Protocol
from protocols.observer import Reaction
from protocols.procedures.build import build_procedure
from protocols.procedures.interface import NOBODY, Bools, Ints, Procedure
from protocols.procedures.rows import rows_of
from protocols.protocol import ProtocolFile
from protocols.simulate.outcome import Outcome
from protocols.simulate.watchers import (
    ANTICIPATION,
    SEEN,
    Watchers,
    chance_of_seeing,
    presses,
    verdicts,
    windows_s,
)

S = TypeVar("S")
REACTION = Reaction()
GONE_SHARE = 0.125
"""Share of ended exams among those carried along from which the rest moves closer together."""


@dataclass(frozen=True)
class Rig(Generic[S]):
    """What all exams of a run share; `delivery` is delivered over nominal contrast."""

    settings: ProtocolFile
    procedure: Procedure[S]
    delivery: float
    times: Reaction = REACTION


def rig_for(protocol: Protocol, delivery: float) -> Rig[Any]:
    """The rig of a protocol on a display. `delivery` is delivered over nominal contrast."""
    procedure = build_procedure(protocol.settings.procedure, protocol.pattern.places)
    return Rig(protocol.settings, procedure, delivery)


@dataclass(frozen=True)
class Live(Generic[S]):
    """Exams in progress: numbers in the outcome, seeds, who answers, and how far each has come."""

    number: Ints
    seeds: Ints
    watchers: Watchers
    procedure: S
    weaker_seen: Bools
    catch_shown: Ints
    catch_wrong: Ints
    last_role: Ints
    last_place: Ints
    now_s: Floats
    going: Bools


@dataclass(frozen=True)
class Shown:
    """One presentation in each exam: role, place (-1 none), nominal level, contrast (0 blank)."""

    role: Ints
    place: Ints
    level_db: Floats
    contrast: Floats


def run_exams(rig: Rig[S], limits_db: Floats, watchers: Watchers, seeds: Ints) -> Outcome:
    """Run exams to their end; nominal limits (exams, places), seeds (exams,)."""
    most = rig.settings.stop.presentations_per_eye
    exams, places = limits_db.shape
    live = _opened(rig, limits_db, watchers, seeds)
    belief = rig.procedure.field_belief(live.procedure)
    grid_db = np.zeros(0) if belief is None else belief[0]
    outcome = Outcome.empty(exams, places, most, grid_db)
    needs = _needs(rig, live, 0)
    for index in range(most):
        live, presentation, verdict, onset_s = _step(rig, live, needs, index)
        _record(outcome, live, index, presentation, verdict, onset_s)
        needs = _needs(rig, live, index + 1)
        live = replace(live, going=live.going & ~eye_done(needs) & (index + 1 < most))
        if not live.going.any():
            break
        if (~live.going).mean() >= GONE_SHARE:
            _settle(rig, outcome, rows_of(live, ~live.going))
            live = rows_of(live, live.going)
            needs = _needs(rig, live, index + 1)
    _settle(rig, outcome, live)
    return _finished(outcome, most)


def _opened(rig: Rig[S], limits_db: Floats, watchers: Watchers, seeds: Ints) -> Live[S]:
    exams, places = limits_db.shape
    return Live(
        number=np.arange(exams),
        seeds=seeds,
        watchers=watchers,
        procedure=rig.procedure.start(limits_db),
        weaker_seen=np.zeros((exams, places), np.bool_),
        catch_shown=np.zeros((exams, 3), np.int64),
        catch_wrong=np.zeros((exams, 3), np.int64),
        last_role=np.full(exams, -1),
        last_place=np.full(exams, -1),
        now_s=np.zeros(exams),
        going=np.ones(exams, np.bool_),
    )


def _needs(rig: Rig[S], live: Live[S], count: int) -> Needs:
    asked = rig.settings.catch_trials
    least = np.array([asked.blind_spot, asked.blank, asked.full_contrast])
    return Needs(
        still_needed=least - live.catch_shown,
        places_left=rig.procedure.left(live.procedure),
        full_possible=np.asarray(live.weaker_seen.any(axis=-1)),
        count=np.full(len(live.number), count),
        last_role=live.last_role,
        early=asked.blind_spot_early - live.catch_shown[:, 0],
    )


def _step(
    rig: Rig[S], live: Live[S], needs: Needs, index: int
) -> tuple[Live[S], Shown, Ints, Floats]:
    """State after one presentation, what was shown, verdicts, onsets in seconds."""
    shown = _chosen(rig, live, needs, index)
    settings, accept = rig.settings, rig.settings.answering
    grating = (shown.role == PLACE) | (shown.role == FULL_CONTRAST)
    delivered = shown.contrast * rig.delivery
    p = chance_of_seeing(live.watchers, shown.place, delivered, grating)
    pressed = presses(live.watchers, live.seeds, index, p, accept.accept_until_s, rig.times)
    verdict = verdicts(pressed, accept)
    open_s = windows_s(pressed, accept, settings.stimulus.duration_s)
    quiet = settings.foreperiod
    gap_s = bounded_exponential(
        live.seeds, index, Stream.GAP, quiet.min_s, quiet.max_s, quiet.decay_s
    )
    told = _told(rig, live, shown, verdict)
    return replace(told, now_s=live.now_s + open_s + gap_s), shown, verdict, live.now_s


def _chosen(rig: Rig[S], live: Live[S], needs: Needs, index: int) -> Shown:
    u_kind = uniform(live.seeds, index, Stream.TRIAL_KIND)
    u_catch = uniform(live.seeds, index, Stream.CATCH_KIND)
    u_place = uniform(live.seeds, index, Stream.PLACE)
    role = next_roles(needs, rig.settings.catch_trials.none_in_first, u_kind, u_catch)
    place, level_db = rig.procedure.propose(live.procedure, u_place, live.last_place)
    blank, full = role == BLANK, role == FULL_CONTRAST
    everywhere = np.ones((int(blank.sum()), live.weaker_seen.shape[1]), np.bool_)
    place = np.where(role == PLACE, place, NOBODY)
    place[blank] = pick(u_place[blank], everywhere)
    place[full] = pick(u_place[full], _elsewhere(live, full))
    level_db = np.where(role == PLACE, level_db, 0.0)
    contrast = np.where(blank, 0.0, contrast_from_db(level_db))
    return Shown(role, place, np.where(blank, np.nan, level_db), contrast)


def _elsewhere(live: Live[S], rows: Bools) -> Bools:
    """Places seen at a weaker contrast, without the one shown last if there are others."""
    weaker, last = live.weaker_seen[rows], live.last_place[rows]
    others = weaker & (np.arange(weaker.shape[1]) != last[:, None])
    return np.where(others.any(axis=-1, keepdims=True), others, weaker)


def _told(rig: Rig[S], live: Live[S], shown: Shown, verdict: Ints) -> Live[S]:
    """State after the answers; anticipated ones tell nothing, ended exams take none."""
    row, seen = np.arange(len(verdict)), verdict == SEEN
    counts = live.going & (verdict != ANTICIPATION)
    at_place, at_catch = counts & (shown.role == PLACE), counts & (shown.role != PLACE)
    place = np.where(at_place, shown.place, NOBODY)
    level_db = np.where(at_place, shown.level_db, 0.0)
    state = rig.procedure.update(live.procedure, place, level_db, seen)
    state = rig.procedure.heed(state, np.where(at_catch, shown.role, PLACE), seen)
    weaker, kind = live.weaker_seen.copy(), shown.role - 1
    weaker[row, place] |= at_place & seen & (level_db > 0)
    catch_shown, catch_wrong = live.catch_shown.copy(), live.catch_wrong.copy()
    catch_shown[row, kind] += at_catch
    catch_wrong[row, kind] += at_catch & (seen != (shown.role == FULL_CONTRAST))
    return replace(
        live,
        procedure=state,
        weaker_seen=weaker,
        catch_shown=catch_shown,
        catch_wrong=catch_wrong,
        last_role=shown.role,
        last_place=shown.place,
    )


def _record(
    outcome: Outcome, live: Live[S], index: int, shown: Shown, verdict: Ints, onset_s: Floats
) -> None:
    going, history = live.going, outcome.history
    number = live.number[going]
    history.role[number, index] = shown.role[going]
    history.place[number, index] = shown.place[going]
    history.level_db[number, index] = shown.level_db[going]
    history.verdict[number, index] = verdict[going]
    history.onset_s[number, index] = onset_s[going]
    outcome.presentations[number] += 1


def _settle(rig: Rig[S], outcome: Outcome, ended: Live[S]) -> None:
    """Write down what ended exams came to."""
    number = ended.number
    estimate = rig.procedure.estimate(ended.procedure)
    low_db, high_db = rig.procedure.interval_db(ended.procedure)
    outcome.mean_db[number], outcome.sd_db[number] = estimate.mean_db, estimate.sd_db
    outcome.low_db[number], outcome.high_db[number] = low_db, high_db
    outcome.finished[number] = estimate.finished
    belief = rig.procedure.field_belief(ended.procedure)
    if belief is not None:
        outcome.belief[1][number] = belief[1]
    outcome.catch_shown[number] = ended.catch_shown
    outcome.catch_wrong[number] = ended.catch_wrong
    last = outcome.history.onset_s[number, outcome.presentations[number] - 1]
    outcome.seconds[number] = last + rig.settings.answering.accept_until_s


def _finished(outcome: Outcome, most: int) -> Outcome:
    history, used = outcome.history, int(outcome.presentations.max())
    outcome.stopped[:] = outcome.presentations >= most
    exam, step = np.nonzero(history.role == PLACE)
    cell = exam * outcome.mean_db.shape[1] + history.place[exam, step]
    counts = np.bincount(cell, minlength=outcome.mean_db.size)
    outcome.place_presentations[:] = counts.reshape(outcome.mean_db.shape)
    kept = {name: getattr(history, name)[:, :used] for name in history.__dataclass_fields__}
    return replace(outcome, history=replace(history, **kept))
