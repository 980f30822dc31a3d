"""Matching by eye, without a meter: which solid patch looks as bright as a half-tone of two codes.

A half-tone lights every second line (or square) of one channel at a high code and the others at a
low one, fine enough to melt together from where the eye is. Its mean luminance is half the sum of
both, whatever the display's curve. A solid patch beside it is set to equality by bracketing: the
code moves up while the patch looks darker and down while it looks lighter, and each turn halves
the step. Settings begin from above and below in turn. The first match of a channel halves the
range from black to full, the next ones halve those halves, and so on (recursive bisection).

The machine is pure: `request(state)` says what to show, `answered(state, answer)` is the next
state. The answers alone rebuild a state, so a stopped matching is resumed by `replayed`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from calibration.instruments.interface import Channel
from protocols.errors import InputError, OrderError, require_within

Look = Literal["lighter", "darker", "equal"]
"""How the solid patch looks beside the half-tone."""

LOOKS: tuple[Look, ...] = get_args(Look)
Layout = Literal["lines", "squares"]
EyeChannel = Literal["red", "green", "blue"]

FIRST_STEP_SHARE = 0.08
"""First step of a setting and spread of its start, as a share of the codes between both."""

START_SHARE = (0.15, 0.3)
"""How far from the likely match a setting starts, as a share of the codes between both."""

NARROWEST = 8
"""Fewest codes between low and high that a match can be set in."""


@dataclass(frozen=True)
class MatchPlan:
    """Channels to match, how often to halve (`depth`), settings a match, bits, seed.

    Depth 1 matches one half of the range, depth 2 also the quarters, depth 3 the eighths. Raises
    InputError when out of range; settings are even so that those from above and below balance.
    """

    channels: tuple[EyeChannel, ...] = ("red", "green", "blue")
    depth: int = 2
    settings: int = 4
    bits: int = 8
    seed: int = 0

    def __post_init__(self) -> None:
        require_within("depth", self.depth, 1, 3, "Choose how often to halve the range.")
        require_within("settings", self.settings, 2, 40, "Choose how often to set each match.")
        require_within("bits", self.bits, 6, 12, "Give the bits of a channel.")
        if self.settings % 2:
            raise InputError(
                "settings", self.settings, "an even number", "Half begin above, half below."
            )
        if not self.channels or set(self.channels) - set(get_args(EyeChannel)):
            raise InputError(
                "channels", ", ".join(self.channels), "red, green, blue", "Name one or more."
            )

    @property
    def top_code(self) -> int:
        """The highest code value."""
        return int(2**self.bits - 1)

    @property
    def matches(self) -> int:
        """Matches in all."""
        return len(self.channels) * int(2**self.depth - 1)


@dataclass(frozen=True)
class Request:
    """What to show: a half-tone of `low` and `high` beside a solid patch at `solid`."""

    channel: Channel
    low: int
    high: int
    solid: int


@dataclass(frozen=True)
class Match:
    """Settings of one half-tone in codes; `solid` is their mean rounded to a whole code."""

    channel: EyeChannel
    low: int
    high: int
    settings: tuple[float, ...]

    @property
    def mean_code(self) -> float:
        """Mean of the settings, code values."""
        return float(np.mean(self.settings))

    @property
    def solid(self) -> int:
        """The whole code nearest to the mean."""
        return round(self.mean_code)


@dataclass(frozen=True)
class Setting:
    """One setting under way: the code shown, the step, the last way and the last turns."""

    code: int
    step: int
    way: int = 0
    turns: tuple[float, ...] = ()


@dataclass(frozen=True)
class Matching:
    """Where a matching stands: matches done, settings of this match, the setting under way."""

    plan: MatchPlan
    done: tuple[Match, ...] = ()
    set_codes: tuple[float, ...] = ()
    now: Setting | None = None
    answers: tuple[Look, ...] = ()

    @property
    def finished(self) -> bool:
        """Whether every match is made."""
        return len(self.done) == self.plan.matches


def begin(plan: MatchPlan) -> Matching:
    """A matching at its start."""
    return _with_setting(Matching(plan))


def request(state: Matching) -> Request | None:
    """What to show now; None when all is done."""
    if state.now is None:
        return None
    channel, low, high = _current(state)
    return Request(channel, low, high, state.now.code)


def answered(state: Matching, look: Look) -> Matching:
    """The state after an answer: how the solid patch looks beside the half-tone.

    Raises InputError for another word, or when the patch would have to go beyond the half-tone's
    own codes; OrderError once all is done.
    """
    if state.now is None:
        raise OrderError("All matches are made: take the estimate.")
    if look not in LOOKS:
        raise InputError("answer", look, ", ".join(LOOKS), "Say how the solid patch looks.")
    state = replace(state, answers=(*state.answers, look))
    if look == "equal":
        return _set(state, float(_now(state).code))
    return _moved(state, 1 if look == "darker" else -1)


def replayed(plan: MatchPlan, answers: Iterable[Look]) -> Matching:
    """The state that these answers lead to: how a stopped matching goes on."""
    state = begin(plan)
    for look in answers:
        state = answered(state, look)
    return state


def half_tone(low: int, high: int, shape: tuple[int, int], layout: Layout) -> NDArray[np.int_]:
    """Codes of a half-tone patch, shape (rows, columns), half of them `low` exactly.

    Lines lie across, one pixel high. Squares are one pixel wide; many panels show them wrongly, so
    lines are the usual choice. Raises InputError for an odd number of rows.

    >>> half_tone(0, 9, (2, 3), "lines").tolist()
    [[0, 0, 0], [9, 9, 9]]
    """
    rows, columns = shape
    if rows < 2 or rows % 2:
        raise InputError("rows", rows, "an even number from 2", "Make the patch one row taller.")
    across = np.arange(columns) if layout == "squares" else np.zeros(columns, int)
    lit = (np.arange(rows)[:, None] + across[None, :]) % 2
    return np.where(lit == 1, high, low)


def _now(state: Matching) -> Setting:
    assert state.now is not None
    return state.now


def _moved(state: Matching, way: int) -> Matching:
    now = _now(state)
    turned = now.way not in (0, way)
    if turned and now.step == 1:
        return _set(state, now.code + way / 2)
    step = max(now.step // 2, 1) if turned else now.step
    code = _within(state, now.code, way, step)
    return replace(state, now=Setting(code, step, way))


def _within(state: Matching, code: int, way: int, step: int) -> int:
    """The code a step away, nearer where the half-tone's own codes come first."""
    channel, low, high = _current(state)
    room = (high - 1 - code) if way > 0 else (code - low - 1)
    if room < 1:
        looks = "darker" if way > 0 else "lighter"
        raise InputError(
            "answer",
            f"{looks} at code {code} of {channel}",
            f"a match between the half-tone's codes, {low} and {high}",
            "Sit further away so that the pattern melts together, and begin this matching again.",
        )
    return code + way * min(step, room)


def _set(state: Matching, code: float) -> Matching:
    codes = (*state.set_codes, code)
    if len(codes) < state.plan.settings:
        return _with_setting(replace(state, set_codes=codes, now=None))
    match = Match(*_current(state), codes)
    after = replace(state, done=(*state.done, match), set_codes=(), now=None)
    return after if after.finished else _with_setting(after)


def _with_setting(state: Matching) -> Matching:
    """Begin a setting: above and below the likely match in turn, at a random distance."""
    channel, low, high = _current(state)
    width = high - low
    if width < NARROWEST:
        raise InputError(
            f"half-tone of {channel}",
            f"codes {low} and {high}",
            f"at least {NARROWEST} codes apart",
            "Take one level of depth less.",
        )
    number = len(state.done), len(state.set_codes)
    rng = np.random.default_rng([state.plan.seed, *number])
    above = (number[1] + number[0]) % 2 == 0
    away = float(rng.uniform(*START_SHARE)) * width
    code = round(_likely(low, high) + (away if above else -away))
    step = max(round(FIRST_STEP_SHARE * width), 1)
    return replace(state, now=Setting(min(max(code, low + 1), high - 1), step))


def _likely(low: int, high: int) -> float:
    """Where the match lies on a display of the usual exponent 2.2; only a start."""
    return float(((low**2.2 + high**2.2) / 2) ** (1 / 2.2))


def _current(state: Matching) -> tuple[EyeChannel, int, int]:
    """Channel, low and high code of the match under way."""
    each = 2**state.plan.depth - 1
    channel = state.plan.channels[len(state.done) // each]
    own = [match for match in state.done if match.channel == channel]
    low, high = _bounds(own, state.plan.top_code)[len(own)]
    return channel, low, high


def _bounds(matches: Sequence[Match], top_code: int) -> list[tuple[int, int]]:
    """Codes of the half-tones in the order they are matched, as far as they are known."""
    known = [0, top_code]
    bounds: list[tuple[int, int]] = []
    left = list(matches)
    while True:
        level = list(pairwise(known))
        bounds += level
        if len(left) < len(level):
            return bounds
        now, left = left[: len(level)], left[len(level) :]
        known = sorted([*known, *(match.solid for match in now)])
