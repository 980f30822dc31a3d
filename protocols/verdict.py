"""The live verdict: is this sitting fine so far, is a word due, or will its result be unusable?

Three sequential tests run side by side in an eye, each on one way of answering badly: looking away
from the mark, pressing at nothing, missing what must have been seen. Each adds up the log
likelihood ratio of "answers badly" (rates in `BADLY`) against "careful" (rates in `CAREFUL`) and is
decided at Wald's upper bound (Wald 1945, Ann Math Stat 16:117), a higher one late in an eye. A
test begins anew as soon as its evidence speaks for care (Page 1954, Biometrika 41:100), since a
person may tire late. The first decision calls for a word; one more after it, at a stricter bound,
says that the result will not be usable. `tests/bench/verdict_rates.py` measures how often each is
right and wrong.

Presses tell more than verdicts: a second press to one target, a press too early, a press in the
quiet gap or on a blank are all presses that nothing caused, and one model takes them together.
Pure: the same answers give the same verdict in a window, in simulation and from a journal.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log, pi, sqrt
from typing import Literal, NamedTuple

from protocols.presentation import Role

Concern = Literal["gaze", "presses", "attention"]
Standing = Literal["fine so far", "re-instruct now", "result will not be usable"]
FINE: Standing = "fine so far"
WARNED: Standing = "re-instruct now"
UNUSABLE: Standing = "result will not be usable"
CONCERNS: tuple[Concern, ...] = ("gaze", "presses", "attention")

ALPHA = BETA = 0.05
FINAL_ALPHA = 0.01
LATE_ALPHA, LATE_FROM = 0.003, 35
"""Bound of the first word once so many presentations of an eye went by without one: the longer a

test runs, the more often chance alone takes it over a bound. Chosen by simulation.
"""


class Rates(NamedTuple):
    """Share of presentations with the gaze off the mark (seen on the blind spot), with a press

    that nothing caused, and of strong targets that are missed.
    """

    gaze: float
    presses: float
    attention: float


CAREFUL = Rates(0.004, 0.014, 0.02)
BADLY = Rates(0.25, 0.2, 0.2)
"""What the tests tell apart; assumptions, bounded by simulation."""

SEEN_AT_PLACE = 0.8
"""Share of targets at places taken to be seen where only a press's time can tell; an assumption."""
WANDERS_BEFORE = 0.05
"""Share of people taken to look away much, before anything is known of them; an assumption."""
MIDDLE_S, SPREAD_WITHIN, SPREAD_BETWEEN = 0.42, 0.19, 0.2
"""Response times are taken as lognormal: median in seconds, SD of the logarithm within a person

and between people; an assumption, slower and wider than simple reactions (Woods 2015, Front Hum
Neurosci 9:131). A person's own median is learnt as answers come.
"""
SPAN_S = 1.0
"""A press that nothing caused is as likely at any time of this span after onset."""
SAME_PRESS_S = 0.08
"""A press this soon after another is the same one: a bouncing button."""
FALSE_BEFORE, SHOWN_BEFORE = 1.0, 60.0
"""What is believed of uncaused presses before the first answer: so many in so many."""


def upper_bound(alpha: float = ALPHA, beta: float = BETA) -> float:
    """Wald's ln A = ln((1 - beta) / alpha).

    >>> round(upper_bound(), 6)
    2.944439
    """
    return log((1 - beta) / alpha)


class Pace(NamedTuple):
    """Response times of a person: mean and SD of their logarithm over `MIDDLE_S`."""

    mean: float
    sd: float

    def density(self, time_s: float) -> float:
        """Density of a response time, a second."""
        if time_s <= 0:
            return 0.0
        z = (log(time_s / MIDDLE_S) - self.mean) / self.sd
        return exp(-0.5 * z * z) / (time_s * self.sd * sqrt(2 * pi))


def standing_of(times: int) -> Standing:
    """The verdict after so many words on one concern."""
    return (FINE, WARNED, UNUSABLE)[min(times, 2)]


@dataclass(frozen=True)
class Evidence:
    """Where the three tests of an eye stand: log likelihood ratios, in the order of `CONCERNS`,

    how often each was decided, presses that nothing caused among presentations so far, and the
    sum and number of logarithms of response times over `MIDDLE_S`.
    """

    ratios: tuple[float, float, float] = (0.0, 0.0, 0.0)
    decided: tuple[int, int, int] = (0, 0, 0)
    uncaused: int = 0
    shown: int = 0
    slowness: float = 0.0
    timed: int = 0

    @property
    def uncaused_rate(self) -> float:
        """Share of presentations with a press that nothing caused, as far as is known."""
        return (FALSE_BEFORE + self.uncaused) / (SHOWN_BEFORE + self.shown)

    @property
    def pace(self) -> Pace:
        """What is known of this person's response times: between people, then from answers."""
        within, between = SPREAD_WITHIN**2, SPREAD_BETWEEN**2
        left = 1 / (1 / between + self.timed / within)
        return Pace(left / within * self.slowness, sqrt(within + left))

    @property
    def on_blind_spot(self) -> float:
        """Chance that the target on the blind spot is seen, by what is known of the gaze."""
        if self.decided[0]:
            return BADLY.gaze
        odds = WANDERS_BEFORE / (1 - WANDERS_BEFORE) * exp(self.ratios[0])
        return CAREFUL.gaze + (BADLY.gaze - CAREFUL.gaze) * odds / (1 + odds)

    @property
    def standing(self) -> Standing:
        """The verdict on the eye so far."""
        return standing_of(max(self.decided))


@dataclass(frozen=True)
class Heard:
    """One answer: role, whether seen, whether the first press came too early for anybody, and

    presses in seconds after onset, None where only `seen` is known.
    """

    role: Role
    seen: bool
    early: bool
    presses_s: tuple[float, ...] | None

    @property
    def stray(self) -> bool:
        """Whether a press came that nothing can have caused."""
        pressed = self.presses_s
        on_blank = self.role == "blank" and bool(self.seen if pressed is None else pressed)
        return self.early or on_blank or (pressed is not None and len(pressed) > 1)

    @property
    def pressed(self) -> bool:
        """Whether there was any press."""
        return self.seen if self.presses_s is None else bool(self.presses_s)

    @property
    def time_s(self) -> float | None:
        """When the first press came, if that is known."""
        return self.presses_s[0] if self.presses_s else None


def weigh(
    evidence: Evidence, role: Role, seen: bool, early: bool, presses_s: tuple[float, ...] | None
) -> Evidence:
    """Evidence after one answer; presses in seconds after onset, None where only `seen` is known.

    `early` says that the first press came before anybody can react.
    """
    return weigh_heard(evidence, heard_of(role, seen, early, presses_s))


def heard_of(
    role: Role, seen: bool, early: bool, presses_s: tuple[float, ...] | None
) -> Heard:
    """An answer as the tests hear it; arguments as in `weigh`."""
    return Heard(role, seen, early, None if presses_s is None else _separate(presses_s))


def weigh_heard(evidence: Evidence, heard: Heard) -> Evidence:
    """Evidence after one answer."""
    steps = (_gaze_step(evidence, heard), _press_step(evidence, heard), _attention_step(heard))
    grown = [max(0.0, r + step) for r, step in zip(evidence.ratios, steps, strict=True)]
    crossed = [_crosses(evidence, *pair) for pair in zip(grown, evidence.decided, strict=True)]
    gaze, presses, attention = (0.0 if hit else r for hit, r in zip(crossed, grown, strict=True))
    first, second, third = (n + hit for n, hit in zip(evidence.decided, crossed, strict=True))
    slow = _slowness(heard)
    return Evidence(
        ratios=(gaze, presses, attention),
        decided=(first, second, third),
        uncaused=evidence.uncaused + heard.stray,
        shown=evidence.shown + 1,
        slowness=evidence.slowness + (slow or 0.0),
        timed=evidence.timed + (slow is not None),
    )


def _crosses(evidence: Evidence, ratio: float, decided: int) -> bool:
    first = ALPHA if evidence.shown < LATE_FROM else LATE_ALPHA
    return ratio >= upper_bound(FINAL_ALPHA if decided else first)


def _separate(presses_s: tuple[float, ...]) -> tuple[float, ...]:
    """Presses without those of a bouncing button."""
    kept: list[float] = []
    for press in sorted(presses_s):
        if not kept or press - kept[-1] > SAME_PRESS_S:
            kept.append(press)
    return tuple(kept)


def _slowness(heard: Heard) -> float | None:
    """What a single press to a target that could be seen tells of the person's pace, if one."""
    time_s = heard.time_s
    if heard.stray or not heard.seen or time_s is None or heard.role == "blind_spot":
        return None
    return log(time_s / MIDDLE_S)


def _press_step(evidence: Evidence, heard: Heard) -> float:
    """Log likelihood ratio of one record of presses.

    Whatever the chance of seeing, no press at all has the ratio of the chances of no uncaused
    press, and a press that nothing can have caused that of the chances of one.
    """
    bad, good = BADLY.presses, CAREFUL.presses
    if heard.stray:
        return log(bad / good)
    if not heard.pressed:
        return log((1 - bad) / (1 - good))
    likely = evidence.on_blind_spot if heard.role == "blind_spot" else SEEN_AT_PLACE
    density = _density(evidence, heard)
    return log(_one_press(likely, bad, density) / _one_press(likely, good, density))


def _gaze_step(evidence: Evidence, heard: Heard) -> float:
    """Log likelihood ratio of an answer to the target on the blind spot."""
    if heard.role != "blind_spot" or heard.early:
        return 0.0
    bad, good, false = BADLY.gaze, CAREFUL.gaze, evidence.uncaused_rate
    if not heard.seen:
        return log((1 - bad) / (1 - good))
    density = _density(evidence, heard)
    return log(_one_press(bad, false, density) / _one_press(good, false, density))


def _attention_step(heard: Heard) -> float:
    """Log likelihood ratio of an answer to full contrast where a weaker target was seen."""
    if heard.role != "full_contrast" or heard.early:
        return 0.0
    bad, good = BADLY.attention, CAREFUL.attention
    return log((1 - bad) / (1 - good)) if heard.seen else log(bad / good)


def _density(evidence: Evidence, heard: Heard) -> float:
    """How much likelier a caused press at this time is than one at any time of the span."""
    time_s = heard.time_s
    return 1.0 if time_s is None else SPAN_S * evidence.pace.density(time_s)


def _one_press(seen: float, false: float, density: float) -> float:
    """Likelihood of a single press given the chances of seeing and of an uncaused press."""
    return seen * (1 - false) * density + (1 - seen) * false
