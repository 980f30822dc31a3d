"""How far the answers can be trusted: catch trials as counts with Wilson intervals."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from scipy.stats import binomtest

from analysis.load import Trial
from analysis.result import Rate, Reliability
from protocols.presentation import Role


@lru_cache(maxsize=4096)
def rate(wrong: int, shown: int) -> Rate:
    """A share with its 95 % Wilson interval (Newcombe 1998); without trials nothing is known.

    >>> [round(v, 4) for v in rate(15, 148).interval]
    [0.0624, 0.1605]
    """
    if shown == 0:
        return Rate(0, 0, None, (0.0, 1.0))
    low, high = binomtest(wrong, shown).proportion_ci(0.95, method="wilson")
    return Rate(shown, wrong, wrong / shown, (float(low), float(high)))


def reliability(trials: Sequence[Trial]) -> Reliability:
    """The three rates of one eye, with the presses that nothing on the screen can have caused."""
    tested = [trial for trial in trials if not trial.shown.practice]
    return Reliability(
        fixation=_of(tested, "blind_spot", wrong_if_seen=True),
        false_positive=_of(tested, "blank", wrong_if_seen=True),
        false_negative=_of(tested, "full_contrast", wrong_if_seen=False),
        anticipations=sum(_verdict(trial) == "anticipation" for trial in tested),
        late_answers=sum(_verdict(trial) == "late" for trial in tested),
        extra_presses=sum(_extra(trial) for trial in tested),
    )


def _of(trials: Sequence[Trial], role: Role, wrong_if_seen: bool) -> Rate:
    shown = [trial for trial in trials if trial.shown.role == role and trial.counts]
    return rate(sum(trial.seen == wrong_if_seen for trial in shown), len(shown))


def _verdict(trial: Trial) -> str:
    return "" if trial.answer is None else trial.answer.verdict


def _extra(trial: Trial) -> int:
    """Presses beyond the one that decided the answer."""
    if trial.answer is None:
        return 0
    decided = trial.answer.response_time_s is not None
    return max(0, len(trial.answer.presses_s) - int(decided))
