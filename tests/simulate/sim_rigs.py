"""Random exams for the array engine, and the same exams through the machine of one exam."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from protocols.conduct import conduct
from protocols.events import AnsweredLine, Event, Presented
from protocols.exam import ExamState, open_exam
from protocols.library import Protocol, parse_protocol
from protocols.light import Light
from protocols.observer import (
    DiscLoss,
    EyeModel,
    Observer,
    ObserverFile,
    Pressing,
    Seeing,
    sensitivity_db,
)
from protocols.plan import ExamPlan
from protocols.simulate.watchers import Watchers
from protocols.virtual import VirtualStage

DELIVERY = 0.827
LIGHT = Light(60.0, DELIVERY)
HEAD = 'format = 1\nname = "mine"\nabout = "For a test."\npattern = "mine.toml"\n'
PLACES = [
    [0.0, 0.0], [8.23, 4.75], [0.0, 9.5], [-8.23, 4.75], [-8.23, -4.75], [0.0, -9.5],
    [18.8, 6.84], [13.9, 14.39], [-6.18, 19.02], [-18.8, -6.84],
]  # fmt: skip

PROCEDURES = {
    "rising": 'kind = "rising"\n',
    "staircase 4-2": 'kind = "staircase"\n',
    "staircase 2-down": 'kind = "staircase"\nseen_in_a_row = 2\nsteps_db = [3.0, 1.5]\n'
    "reversals = 4\naveraged = 2\nmost = 20\n",
    "staircase weighted": 'kind = "staircase"\nfainter_ratio = 0.3333\nreversals = 3\n',
    "bayes mean": 'kind = "bayes"\nplacement = "mean"\n',
    "bayes mode": 'kind = "bayes"\nplacement = "mode"\nend_sd_db = 1.5\n',
    "bayes entropy": 'kind = "bayes"\nplacement = "entropy"\n',
    "bayes variance": 'kind = "bayes"\nplacement = "variance"\ngrid_step_db = 0.5\n',
    "quest-plus slope": 'kind = "quest-plus"\nsecond_values = [1.0, 2.0, 4.0]\nmost = 8\n',
    "quest-plus lapse": 'kind = "quest-plus"\nsecond = "lapse"\nmost = 8\n'
    'second_values = [0.01, 0.1, 0.3]\ncurve = "weibull"\nslope = 3.5\n',
    "decision": 'kind = "decision"\n',
    "joint": 'kind = "joint"\n',
}


def protocol_with(procedure: str, places: int = 10, tables: str = "") -> Protocol:
    """A protocol with the first few places and a procedure's table, as TOML."""
    pattern = f'format = 1\nname = "mine"\nplaces_deg = {PLACES[:places]}\n'
    text = f"{HEAD}[procedure]\n{procedure}{tables}"
    return parse_protocol(text, "mine.toml", Path(), pattern)


@dataclass(frozen=True)
class Case:
    """One exam of one eye: nominal limits, who sits, and the seed of both."""

    limits_db: tuple[float, ...]
    model: ObserverFile
    seed: int


def random_protocol(dice: np.random.Generator, procedure: str) -> Protocol:
    """Random numbers of places and catch trials, sometimes a stop rule that strikes."""
    catch = dice.integers(0, 5, 3)
    most = int(dice.choice([30, 400]))
    tables = (
        f"[catch_trials]\nblind_spot = {catch[0]}\nblind_spot_early = {catch[0] // 2}\n"
        f"blank = {catch[1]}\nfull_contrast = {catch[2]}\n"
        f"none_in_first = {dice.integers(1, 6)}\n[stop]\npresentations_per_eye = {most}\n"
    )
    return protocol_with(procedure, int(dice.integers(2, len(PLACES) + 1)), tables)


def random_case(dice: np.random.Generator, places: int) -> Case:
    """A random participant: hill, a loss, slope, lapses and false presses, some of them many."""
    loss = DiscLoss(*dice.uniform(-20, 20, 2), radius_deg=12.0, depth_db=float(dice.uniform(0, 40)))
    model = ObserverFile(
        format=1,
        about="invented",
        right=EyeModel(float(dice.uniform(15, 30)), float(dice.uniform(0, 0.4)), [loss]),
        seeing=Seeing(float(dice.uniform(0.5, 4)), float(dice.uniform(0, 0.2))),
        pressing=Pressing(float(dice.choice([0.0, 0.02, 0.3]))),
    )
    limits = tuple(float(level) for level in dice.uniform(10, 25, places).round(3))
    return Case(limits, model, int(dice.integers(2**53)))


class Memory:
    """A record that keeps events in a list."""

    def __init__(self) -> None:
        self.events: list[Event] = []

    def append(self, event: Event) -> None:
        self.events.append(event)

    def sync(self) -> None:
        """Nothing to make safe."""


@dataclass(frozen=True)
class Conducted:
    """A whole exam through the one-exam machine on the virtual stage."""

    plan: ExamPlan
    state: ExamState
    shown: list[Presented]
    answers: list[AnsweredLine]


def conducted(protocol: Protocol, case: Case) -> Conducted:
    """Conduct a case on the virtual stage."""
    plan = ExamPlan(protocol, ("right",), {"right": case.limits_db}, case.seed, skip_practice=True)
    record = Memory()
    stage = VirtualStage(plan, Observer(case.model, case.seed), LIGHT)
    state = conduct(plan, open_exam(plan), stage, record)
    shown = [event for event in record.events if isinstance(event, Presented)]
    answers = [event for event in record.events if isinstance(event, AnsweredLine)]
    return Conducted(plan, state, shown, answers)


def watchers_of(protocol: Protocol, cases: list[Case]) -> Watchers:
    """The cases' participants as arrays."""
    places = protocol.pattern.places
    shape = (len(cases), len(places))
    at_places = [[sensitivity_db(c.model, "right", place) for place in places] for c in cases]
    slopes = [[c.model.seeing.slope_db] * shape[1] for c in cases]
    lapses = [[c.model.seeing.lapse_rate] * shape[1] for c in cases]
    return Watchers(
        np.array(at_places),
        np.array(slopes),
        np.array(lapses),
        np.array([c.model.pressing.false_press_rate for c in cases]),
    )


def arrays_of(protocol: Protocol, cases: list[Case]) -> tuple[np.ndarray, Watchers, np.ndarray]:
    """Limits, watchers and seeds of cases, as the engine takes them."""
    limits = np.array([case.limits_db for case in cases])
    return limits, watchers_of(protocol, cases), np.array([case.seed for case in cases])
