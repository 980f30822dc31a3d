"""How often the time left that the station states holds the true one, and how wide it is.

`python tests/bench/time_left.py [PEOPLE]`: simulated people of three kinds (nothing lost, a region
lost, places lost here and there), both eyes, on the bundled screening and staircase. At several
points of each exam the forecast is made from the answers so far; the truth is the exam's own clock.
The range states nine of ten. Seeds are printed with what they gave.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, field

import numpy as np

from analysis.reference import load_reference
from protocols.answers import judge
from protocols.exam import ExamState, open_exam, take
from protocols.files import decode_toml
from protocols.library import load_protocol
from protocols.light import Light, presented_line
from protocols.messages import Answered, Begin, Done, Present, Wait, WaivePractice
from protocols.observer import Observer, ObserverFile, press_times_s
from protocols.plan import ExamPlan
from protocols.virtual import window_s
from stimulus.opening import Sitting, make_plan
from stimulus.station.follow import PACE_OF_LAST
from stimulus.station.forecast import pace_s, presentations_left
from stimulus.virtual_exam import virtual_display

KINDS = ("healthy", "a region lost", "here and there")
POINTS = (0.1, 0.3, 0.5, 0.7, 0.9)
PATIENCE_S = 600.0


def person(kind: str, seed: int) -> ObserverFile:
    """An invented participant of a kind."""
    random = np.random.default_rng((seed, KINDS.index(kind)))
    lines = ["format = 1", f'about = "Invented: {kind}."', f"age_years = {random.integers(25, 80)}"]
    for eye in ("right", "left"):
        lines += _losses(kind, eye, random)
    return decode_toml(ObserverFile, "\n".join(lines) + "\n", "person.toml", "observer")


def _losses(kind: str, eye: str, random: np.random.Generator) -> list[str]:
    if kind == "healthy":
        return []
    region = kind == "a region lost"
    if region and random.random() < 0.3:
        return []  # one eye only
    lines = []
    for _ in range(1 if region else random.integers(2, 5)):
        turn, out = random.uniform(0, 2 * np.pi), random.uniform(5, 20)
        radius = random.uniform(6, 14) if region else 3.0
        lines += [f"[[{eye}.losses]]", 'shape = "disc"', f"x_deg = {out * np.cos(turn):.2f}",
                  f"y_deg = {out * np.sin(turn):.2f}", f"radius_deg = {radius:.2f}",
                  f"depth_db = {random.uniform(6, 30):.2f}"]  # fmt: skip
    return lines


@dataclass
class Played:
    """An exam played once on its own clock: states, onsets and steps before each presentation."""

    plan: ExamPlan
    states: list[ExamState] = field(default_factory=list)
    at_s: list[float] = field(default_factory=list)
    steps_s: list[list[float]] = field(default_factory=list)
    end_s: float = 0.0


def play(protocol_name: str, model: ObserverFile, seed: int) -> Played:
    """Play both eyes to the end, practice included."""
    protocol = load_protocol(protocol_name)
    display = virtual_display(protocol)
    light = Light(display.refresh_hz, display.delivery)
    seat = Sitting(
        "P-1", model.age_years, ("right", "left"), seed, False, "now", True, "bench", "nobody"
    )
    played = Played(make_plan(protocol, load_reference(), seat, light.delivery))
    observer, state = Observer(model, seed), open_exam(played.plan)
    now_s, steps_s, last_s = 0.0, [], None
    while not isinstance(state.action, Done):
        if isinstance(state.action, Wait):
            now_s, last_s = now_s + state.action.seconds, None
            waits = state.action.what == "practice"
            state = take(played.plan, state, WaivePractice("nobody") if waits else Begin())
            continue
        if last_s is not None:
            steps_s = [*steps_s, now_s - last_s][-PACE_OF_LAST:]
        played.states.append(state)
        played.at_s.append(now_s)
        played.steps_s.append(steps_s)
        last_s = now_s
        answer, took_s = answered(played.plan, observer, light, state.action, now_s)
        now_s += took_s
        state = take(played.plan, state, answer)
    played.end_s = now_s
    return played


def answered(
    plan: ExamPlan, observer: Observer, light: Light, action: Present, now_s: float
) -> tuple[Answered, float]:
    """The observer's answer, and how long the presentation took, seconds."""
    shown, window = action.presentation, plan.protocol.settings.answering
    line = presented_line(plan, shown, light, now_s, (36, 36, 0))
    times = press_times_s(
        observer, shown, line.contrast_delivered, now_s, window.accept_until_s
    )
    verdict = judge(list(times), window.accept_from_s, window.accept_until_s).verdict
    return Answered(shown.index, verdict, False, tuple(times)), window_s(plan, times) + shown.gap_s


def inside(played: Played, point: float, seed: int) -> tuple[bool, float, float]:
    """Whether the range at a share of the presentations holds the truth; the truth; its width."""
    at = min(len(played.states) - 1, int(point * len(played.states)))
    left = presentations_left(played.plan, played.states[at], seed, PATIENCE_S)
    assert left is not None
    low, _, high = left.seconds(pace_s(played.plan, played.steps_s[at]))
    truth = played.end_s - played.at_s[at]
    return low <= truth <= high, truth, high - low


def coverage(protocol: str, kind: str, seeds: range) -> tuple[float, float, dict[float, float]]:
    """Share of ranges that hold the truth, their middle width in seconds, and shares by point."""
    found = [
        (point, *inside(play(protocol, person(kind, seed), seed), point, seed))
        for seed in seeds
        for point in POINTS
    ]
    by_point = {
        point: float(np.mean([held for at, held, _, _ in found if at == point]))
        for point in POINTS
    }
    share = float(np.mean([held for _, held, _, _ in found]))
    return share, float(np.median([width for *_, width in found])), by_point


def main(people: int) -> None:
    print(f"time left: share of stated ranges that hold the truth, seeds 0 to {people - 1}")
    for protocol in ("screen-19", "staircase-19"):
        for kind in KINDS:
            share, width_s, by_point = coverage(protocol, kind, range(people))
            points = ", ".join(f"{100 * at:.0f} %: {held:.2f}" for at, held in by_point.items())
            print(f"{protocol}, {kind}: {share:.2f}; middle width {width_s:.0f} s; {points}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
