"""What goes into the exam machine and what comes out of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from protocols.answers import Verdict
from protocols.presentation import Presentation

AdviceKind = Literal[
    "look_at_mark",
    "press_only_when_seen",
    "stay_attentive",
    "explain_again",
    "practice_not_passed",
    "practice_waits",
    "unusable_gaze",
    "unusable_presses",
    "unusable_attention",
]


@dataclass(frozen=True)
class Begin:
    """The participant is ready for the eye that comes next."""


@dataclass(frozen=True)
class Answered:
    """The answer to the pending presentation; `spoiled` if the display failed it.

    `presses_s` are all presses up to the next onset, seconds after this one, less the known delay;
    None where they are not known.
    """

    index: int
    verdict: Verdict
    spoiled: bool = False
    presses_s: tuple[float, ...] | None = None


@dataclass(frozen=True)
class Hold:
    """Pause; `reason` in words."""

    reason: str


@dataclass(frozen=True)
class Resume:
    """Go on after a hold or a stop."""


@dataclass(frozen=True)
class Stop:
    """End the exam; `reason` in words."""

    reason: str


@dataclass(frozen=True)
class SkipEye:
    """Leave out what is left of the current eye."""


@dataclass(frozen=True)
class RepeatPractice:
    """Practise one more round."""


@dataclass(frozen=True)
class WaivePractice:
    """Go on without a passed practice; `by` are the initials of who decided that."""

    by: str


Message = Begin | Answered | Hold | Resume | Stop | SkipEye | RepeatPractice | WaivePractice


@dataclass(frozen=True)
class Present:
    """Show this and report the answer."""

    presentation: Presentation


@dataclass(frozen=True)
class Wait:
    """Do nothing until a message comes; `seconds` is the least time to wait."""

    what: Literal["begin", "rest", "hold", "practice"]
    seconds: float


@dataclass(frozen=True)
class Done:
    """Nothing more to do; `reason` is "finished" or says why it was stopped."""

    reason: str


Action = Present | Wait | Done


@dataclass(frozen=True)
class Advise:
    """A sentence for the operator to act on now."""

    kind: AdviceKind
    text: str
