"""Practice before the first eye tested: it is passed, or somebody waives it in the open.

A round is a few presentations at full contrast, of which enough must be seen. After the protocol's
rounds nothing goes on by itself: the operator explains and repeats, or waives.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from protocols.plan import ExamPlan
from protocols.protocol import Practice

NOBODY = "nobody: no person takes part"
"""Who waives the practice of a simulated participant who does not pass."""


@dataclass(frozen=True)
class PracticeProgress:
    """Presentations and seen ones in this round, rounds begun, the last round's outcome, who

    waived the rest (None if nobody did).
    """

    shown: int = 0
    seen: int = 0
    round: int = 1
    passed: bool | None = None
    waived_by: str | None = None

    @property
    def settled(self) -> bool:
        """Whether it was passed or waived."""
        return self.passed is True or self.waived_by is not None


NOT_PRACTISED = PracticeProgress()


def still_due(plan: ExamPlan, done: PracticeProgress, first_begin: bool) -> bool:
    """Whether the eye that begins now is practised first.

    Records of before practice had to be passed only practised at the very first begin.
    """
    if plan.skip_practice:
        return False
    return not done.settled if plan.practice_required else first_begin


def with_answer(rules: Practice, done: PracticeProgress, seen: bool) -> PracticeProgress:
    """Progress after an answer; `passed` is set by a round's last one.

    >>> with_answer(Practice(presentations=1, needed=1), PracticeProgress(), True).passed
    True
    """
    done = replace(done, shown=done.shown + 1, seen=done.seen + seen)
    if done.shown < rules.presentations:
        return done
    return replace(done, passed=done.seen >= rules.needed)


def next_round(done: PracticeProgress) -> PracticeProgress:
    """A new round."""
    return PracticeProgress(round=done.round + 1)
