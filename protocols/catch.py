"""The catch-trial schedule: which kind of presentation comes next.

Three kinds check the answers: a small target on the blind spot (seen means that fixation was
lost), a blank of 0 % contrast (seen is a false positive), and full contrast at a place where a
weaker target was seen (unseen is a false negative). The schedule is random and constrained: every
kind at least as often as the protocol asks, never two of a kind in a row, none among the first
few, the last of them not before the places are done only where there is no other way. A protocol
may ask for some of the blind-spot checks early, so that a wandering gaze is noticed in time: until
they are shown, most presentations that may be one are one.

Works on arrays with the exam as the leading axis.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from protocols.field import Floats
from protocols.presentation import Role
from protocols.procedures.interface import Bools, Ints

ROLES: tuple[Role, ...] = ("place", "blind_spot", "blank", "full_contrast")
PLACE, BLIND_SPOT, BLANK, FULL_CONTRAST = range(4)
_CATCH_KINDS = np.array([BLIND_SPOT, BLANK, FULL_CONTRAST])
EARLY_SHARE = 0.95
"""Share of the presentations that may be a due early check that are one: no rhythm to learn."""


@dataclass(frozen=True)
class Needs:
    """What is left to show: still_needed (exams, 3) in the order of the catch kinds;

    places_left (exams,), the least number of presentations at places; full_possible (exams,),
    whether some place was seen at a weaker contrast; count (exams,), presentations so far;
    last_role (exams,), -1 for none; early (exams,), blind-spot checks that are due early, if any.
    """

    still_needed: Ints
    places_left: Ints
    full_possible: Bools
    count: Ints
    last_role: Ints
    early: Ints | None = None


def eye_done(needs: Needs) -> Bools:
    """Whether nothing is left, shape (exams,).

    A full-contrast check needs a place seen at weaker contrast; where there is none, it lapses.
    """
    return np.asarray((needs.places_left == 0) & (_open_needs(needs).sum(axis=-1) == 0))


def next_roles(needs: Needs, none_in_first: int, u_kind: Floats, u_catch: Floats) -> Ints:
    """Role codes (exams,) of the next presentation of exams that are not done."""
    need = _open_needs(needs)
    allowed = _allowed(needs, need, none_in_first)
    total = need.sum(axis=-1)
    share = total / np.maximum(total + needs.places_left, 1)
    wanted = (u_kind < share) | _must_catch(needs, need)
    catch = _weighted_kind(np.where(allowed, need, 0), u_catch)
    some_allowed = allowed.any(axis=-1)
    catch = np.where(some_allowed, catch, _filler(needs))
    use_catch = np.where(needs.places_left == 0, True, wanted & some_allowed)
    role = np.where(use_catch, catch, PLACE)
    if needs.early is not None:
        due = (needs.early > 0) & allowed[:, 0] & (u_kind < EARLY_SHARE)
        role = np.where(due, BLIND_SPOT, role)
    return np.asarray(role, np.int64)


def _open_needs(needs: Needs) -> Ints:
    need = np.maximum(needs.still_needed, 0)
    lapsed = (needs.places_left == 0) & ~needs.full_possible
    return np.asarray(np.where(lapsed[:, None] & (_CATCH_KINDS == FULL_CONTRAST), 0, need))


def _allowed(needs: Needs, need: Ints, none_in_first: int) -> Bools:
    possible = (_CATCH_KINDS != FULL_CONTRAST) | needs.full_possible[:, None]
    late_enough = ((needs.count >= none_in_first) | (needs.places_left == 0))[:, None]
    return np.asarray(
        (need > 0) & (needs.last_role[:, None] != _CATCH_KINDS) & possible & late_enough
    )


def _must_catch(needs: Needs, need: Ints) -> Bools:
    """Whether showing a place now would leave too few others to keep two of a kind apart."""
    most = need.max(axis=-1)
    others = need.sum(axis=-1) - most
    return np.asarray(most > (needs.places_left - 1) + others + 1)


def _weighted_kind(weights: Ints, u: Floats) -> NDArray[np.int64]:
    total = weights.cumsum(axis=-1)
    chosen = np.argmax(total > (u * total[:, -1])[:, None], axis=-1)
    return np.asarray(_CATCH_KINDS[chosen])


def _filler(needs: Needs) -> Ints:
    """A spare catch trial that keeps two of a kind apart at the very end."""
    return np.asarray(np.where(needs.last_role == BLANK, BLIND_SPOT, BLANK))
