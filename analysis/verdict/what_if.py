"""How far slips could have changed the grades: the estimate again, over the plausible rates.

Each kind of slip by itself, at both ends of its interval and at its estimate. A flagged place
(graded below the limit) stays where it is still more likely below the limit than not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.indices.likelihood import RELATIVE_DB, Slips
from analysis.indices.summary import Answers
from analysis.posterior import BELOW_FLOOR_DB, FALSE_PRESS_RATE, LAPSE_RATE, TOP_DB
from analysis.verdict.facts import RateEstimate, WhatIf
from protocols.field import Floats
from protocols.procedures.interface import Bools

MOST = 0.6
"""Rates beyond this leave nothing to estimate; the highest that is tried."""


@dataclass(frozen=True)
class Graded:
    """Places with a grade: flagged below the limit or not, and limits in dB, each (places,)."""

    flagged: Bools
    within: Bools
    limits_db: Floats


@dataclass(frozen=True)
class Slip:
    """A kind of slip: its name, a sentence's beginning, its rates."""

    name: str
    words: str
    found: RateEstimate

    def at(self, rate: float) -> Slips:
        """The seeing curve with this kind at a rate and the others as assumed."""
        if self.name == "false presses":
            return Slips(LAPSE_RATE, rate, 0.0)
        if self.name == "misses":
            return Slips(rate, FALSE_PRESS_RATE, 0.0)
        return Slips(LAPSE_RATE, FALSE_PRESS_RATE, rate)


def what_ifs(answers: Answers, graded: Graded, slips: Sequence[Slip]) -> list[WhatIf]:
    """The grades again for each kind of slip and rate."""
    tried = [(slip, rate) for slip in slips for rate in _rates(slip.found)]
    below = _below_limit(answers, graded.limits_db, [slip.at(rate) for slip, rate in tried])
    return [
        _what_if(graded, slip, rate, one)
        for (slip, rate), one in zip(tried, below, strict=True)
    ]


def _rates(found: RateEstimate) -> list[float]:
    wanted = (found.interval[0], found.rate, found.interval[1])
    return sorted({round(min(rate, MOST), 2) for rate in wanted})


def _what_if(graded: Graded, slip: Slip, rate: float, below: Floats) -> WhatIf:
    flagged, within = int(graded.flagged.sum()), int(graded.within.sum())
    stay = int((graded.flagged & (below >= 0.5)).sum())
    doubtful = int((graded.within & (below > 0.5)).sum())
    begin = slip.words.format(f"{100 * rate:.0f} %")
    words = f"{begin}, {_flagged_words(stay, flagged)}{_within_words(doubtful, within)}."
    return WhatIf(slip.name, rate, flagged, stay, within, doubtful, words)


def _flagged_words(stay: int, flagged: int) -> str:
    if flagged == 0:
        return "no place was flagged"
    return f"{stay} of {flagged} flagged places stay" if flagged > 1 else (
        "the flagged place stays" if stay else "the flagged place does not stay"
    )


def _within_words(doubtful: int, within: int) -> str:
    return f" and {doubtful} of {within} within the limit would be in doubt" if doubtful else ""


def below_limit(answers: Answers, limits_db: Floats, slips: Slips) -> Floats:
    """Probability that each place lies below its limit, (places,)."""
    return _below_limit(answers, limits_db, [slips])[0]


def _below_limit(answers: Answers, limits_db: Floats, tried: Sequence[Slips]) -> list[Floats]:
    """The same under each kind of slips."""
    sensitivity = answers.means_db[:, None] + RELATIVE_DB
    bottom = answers.floor_db - BELOW_FLOOR_DB
    possible = (sensitivity >= bottom) & (sensitivity <= TOP_DB)
    bell = np.exp(-0.5 * (RELATIVE_DB / answers.spread_db) ** 2) * possible
    even = possible / possible.sum(axis=1, keepdims=True)
    prior = 0.5 * bell / bell.sum(axis=1, keepdims=True) + 0.5 * even
    low = sensitivity < limits_db[:, None]
    masses = [answers.likelihoods(slips) * prior for slips in tried]
    return [np.where(low, mass, 0.0).sum(axis=1) / mass.sum(axis=1) for mass in masses]


def spread_words(found: Sequence[WhatIf], usable: bool) -> str:
    """One sentence on the worst that plausible rates could have done; none without grades.

    `usable` says whether the answers are, by the live verdict.
    """
    if not any(one.flagged or one.within for one in found):
        return ""
    worst = max(found, key=lambda one: (one.flagged - one.stay + one.doubtful, one.rate))
    if worst.stay == worst.flagged and not worst.doubtful:
        if not usable:
            return "Rates of slips alone turn no grade, yet answers like these cannot carry one."
        return "At every plausible rate of slips the grades stay within or below the limit."
    alike = sorted((one for one in found if one.slip == worst.slip), key=lambda one: one.rate)
    middle = alike[len(alike) // 2]
    if middle.rate == worst.rate or not worst.flagged:
        return worst.words
    likely = f"at the likelier {100 * middle.rate:.0f} % {middle.stay} of {middle.flagged}"
    return f"{worst.words.rstrip('.')}; {likely}."
